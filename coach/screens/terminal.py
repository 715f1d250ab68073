"""The terminal around the screen: is there one, and what if it goes away."""

from __future__ import annotations

import os
import signal
import sys
from typing import TYPE_CHECKING, Any

from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.screens.app import RoastApp


def check_terminal(command: str, instead: str = "") -> None:
    """Raises CoachError where no screen can be shown."""
    if not sys.stdin.isatty() or not sys.stdout.isatty():
        raise CoachError(f"coach {command} needs a terminal.", instead)
    if os.environ.get("TERM", "") in ("dumb", ""):
        raise CoachError(
            "This terminal can't place text on a screen (TERM is 'dumb' or not set).",
            f"Use another terminal. {instead}".strip(),
        )


def show(app: RoastApp) -> int:
    """Run the screen to its end, and say where the journal is.

    When the program is told to end (SIGTERM) it leaves as by key; when the terminal goes away (SIGHUP) there is none to
    put in order.  Both write first what is not yet on disk: the roast is offered again at the next start.
    """

    def leave(number: int, frame: Any) -> None:
        app.exit(return_code=128 + number)

    def gone(number: int, frame: Any) -> None:
        if app.opened is not None:
            app.opened.close()
        os._exit(128 + number)

    app.guard.on = True
    signal.signal(signal.SIGTERM, leave)
    if hasattr(signal, "SIGHUP"):
        signal.signal(signal.SIGHUP, gone)
    app.run()
    live = app.opened
    if live is not None and not live.read_only:
        live.close()
        print(f"journal: {live.path}" if not live.pending else live.trouble)
    return app.return_code or 0
