"""The terminal around the screen: its check, and its loss."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Final, TypeVar

from coach.app.screens.unsaved import kept_elsewhere, unsaved
from coach.roast.errors import CoachError

if TYPE_CHECKING:
    from types import FrameType

    from textual.app import App

    from coach.app.live import LiveRoast
    from coach.app.screens.app import RoastApp

Answer = TypeVar("Answer")
Modes = list[int | list[bytes | int]]
"""Modes of a terminal (termios)."""
LEAVE: Final = (
    b"\x1b[<u\x1b[?2048l\x1b[?2004l\x1b[?1004l\x1b[?1003l\x1b[?1006l\x1b[?1015l\x1b[?1000l\x1b[?1049l\x1b[?25h\x1b[0m"
)
"""Control sequences to leave a screen: keys, paste, focus and mouse as usual, back from the alternate screen, the
cursor shown, no style (xterm's control sequences, and the kitty keyboard protocol's pop)."""


def on_a_terminal() -> bool:
    """True if a screen can be shown."""
    return sys.stdin.isatty() and sys.stdout.isatty() and _drawn_on() and not _dumb()


def _drawn_on() -> bool:
    """True if what Textual draws on is the terminal: standard error, but on Windows standard output."""
    return sys.platform == "win32" or sys.stderr.isatty()


def _dumb() -> bool:
    """True if the terminal can't place text on a screen; Windows doesn't say, and its consoles can."""
    term = os.environ.get("TERM", "")
    return term == "dumb" or (term == "" and sys.platform != "win32")


def check_terminal(command: str, instead: str = "") -> None:
    """Check that a screen can be shown.  Raises CoachError where none can."""
    if not sys.stdin.isatty() or not sys.stdout.isatty():
        raise CoachError(f"coach {command} needs a terminal.", instead)
    if not _drawn_on():
        raise CoachError(f"coach {command} draws its screen where errors go.", f"Leave 2> out. {instead}".strip())
    if _dumb():
        raise CoachError(
            "This terminal can't place text on a screen (TERM is 'dumb' or not set).",
            f"Use another terminal. {instead}".strip(),
        )


def show(app: RoastApp) -> int:
    """Run the screen of a roast to its end, and print the journal's path; return the exit code (see ``on_screen``).

    At any end, entries that are not yet on disk are written first, and the roast is offered again at the next start.
    Where the disk takes nothing, see ``unsaved``.
    """
    app.turns.guard.on = True
    code = on_screen(app, lambda: _put_away(app))
    live = _live(app)
    if live is not None:
        live.close()
        if live.pending:
            left = unsaved(live, asks=code == 0)
            return code or left
        print(f"journal: {live.path}")
    return code


def _live(app: RoastApp) -> LiveRoast | None:
    """The live roast that was opened, if one was.  The first paint comes before the libraries for one are loaded."""
    if app.opened is None:
        return None
    from coach.app.live import LiveRoast

    return app.opened.live if isinstance(app.opened.live, LiveRoast) else None


def _put_away(app: RoastApp) -> None:
    live = _live(app)
    if live is not None:
        live.close()
        if live.pending:
            kept_elsewhere(live)


def on_screen(app: App[Answer], put_away: Callable[[], None] = lambda: None) -> int:
    """Run any screen to its end; return 0, or 128 plus the number of the signal that ended it.

    On SIGTERM it leaves as by key.  When the terminal goes away (SIGHUP) there may be none to leave:
    ``put_away`` is called, the terminal is put in order as far as there is one, and the program ends at once.
    """
    modes = _modes()

    def leave(number: int, frame: FrameType | None) -> None:
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:  # the loop has not begun, or is over
            raise SystemExit(128 + number) from None
        loop.call_soon_threadsafe(lambda: app.exit(return_code=128 + number))  # wakes a screen on which nothing goes on

    def gone(number: int, frame: FrameType | None) -> None:
        try:
            put_away()
        finally:
            _in_order(modes)
            os._exit(128 + number)

    handlers = {signal.SIGTERM: leave, **({signal.SIGHUP: gone} if hasattr(signal, "SIGHUP") else {})}
    before = {number: signal.signal(number, handler) for number, handler in handlers.items()}
    try:
        app.run(mouse=bool(getattr(getattr(app, "settings", None), "mouse", True)))
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    return app.return_code or 0


def _modes() -> Modes | None:
    """Modes of the terminal before it is drawn on; None where they can't be read."""
    try:
        import termios
    except ImportError:
        return None
    try:
        return termios.tcgetattr(sys.__stdin__.fileno())  # type: ignore[union-attr]
    except (OSError, ValueError, AttributeError, termios.error):
        return None


def _in_order(modes: Modes | None) -> None:
    """Restore the terminal's modes and screen, without waiting for one that takes no output any more."""
    if modes is None:
        return
    import termios

    signal.signal(signal.SIGTTOU, signal.SIG_IGN)  # it may be another program's by now
    with contextlib.suppress(OSError, termios.error):
        termios.tcsetattr(sys.__stdin__.fileno(), termios.TCSANOW, modes)  # type: ignore[union-attr]
    with contextlib.suppress(OSError):
        out = sys.__stderr__.fileno()  # type: ignore[union-attr]  # where the screen is drawn
        os.set_blocking(out, False)
        os.write(out, LEAVE)
        os.set_blocking(out, True)
