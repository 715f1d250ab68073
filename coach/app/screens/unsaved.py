"""Leaving a roast that the disk does not take: ask for another place, and print the journal where there is none."""

from __future__ import annotations

import contextlib
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Final

from coach.app.printing import ask
from coach.roast.errors import printable, reason_of
from coach.session.folders import own_path

if TYPE_CHECKING:
    from coach.app.live import LiveRoast

NOT_SAVED: Final = 1
"""Exit code where the journal is not in its place."""


def unsaved(live: LiveRoast, *, asks: bool) -> int:
    """Save, after the screen, the entries that are not on disk; return the exit code, 0 only if all are in their place.

    The person is asked until the journal is written somewhere or is to be printed; where nobody can be asked (ended by
    a signal, no terminal) it is written to the folder for temporary files, and printed if that fails, too.
    """
    asks = asks and sys.stdin.isatty() and sys.stdout.isatty()
    while live.pending:
        place = _answer(live) if asks else None
        if place is None:
            found = None if asks else kept_elsewhere(live)
            if found is None:
                _print_all(live)
                return NOT_SAVED
            return _written(found, live)
        if place == "":
            if live.scribe.try_again():
                break
            continue
        try:
            found = live.scribe.write_elsewhere(own_path(place))
        except (OSError, ValueError, RuntimeError) as error:
            print(f"Can't be written there ({reason_of(error)}).")
        else:
            return _written(found, live)
    print(f"journal: {printable(str(live.path))}")
    return 0


def kept_elsewhere(live: LiveRoast) -> Path | None:
    """Write the journal as a new file in a new folder among the temporary ones; None where that fails, too."""
    with contextlib.suppress(OSError, ValueError):
        return live.scribe.write_elsewhere(Path(tempfile.mkdtemp(prefix="coach-")))
    return None


def _answer(live: LiveRoast) -> str | None:
    """The person's answer: a folder, '' to try again, None to print."""
    count = live.pending
    left = "1 line is" if count == 1 else f"{count} lines are"
    print(f"{live.trouble}.\nLeave now, and {left} lost from {printable(str(live.path))}.")
    print("Enter tries again. Type another folder to write the whole roast there, or p to print it here and leave.")
    try:
        said = ask(">").strip()
    except (EOFError, KeyboardInterrupt, UnicodeDecodeError):
        return None
    return None if said == "p" else said


def _written(path: Path, live: LiveRoast) -> int:
    print(f"The whole roast is in {printable(str(path))}, and not complete in your logbook.")
    print(f"Move it to {printable(str(live.path.parent))} when that disk is well.")
    return NOT_SAVED


def _print_all(live: LiveRoast) -> None:
    print(f"NOT ON DISK. This is the whole journal: put these lines into a file {printable(live.path.name)}")
    print(live.scribe.text, end="", flush=True)
