"""Guard against the program's own faults, which must not end a roast: each is noted in a file and on the screen."""

from __future__ import annotations

import contextlib
import traceback
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from coach.roast.errors import CoachError
from coach.session.folders import home

MOST: Final = 20
"""Number of faults that are written down in one run."""


class Guard:
    """Runs actions whose faults must not end the roast.  While not ``on`` (in tests) a fault passes through."""

    def __init__(self) -> None:
        self.on = False
        self.word = ""
        """Remark for the person; '' while there was no fault."""
        self._count = 0

    def run(self, action: Callable[[], object]) -> bool:
        """Do an action; return True if it had no fault."""
        if not self.on:
            action()
            return True
        try:
            action()
        except CoachError as error:
            self.word = str(error)
        except Exception as error:  # a fault of ours, of whatever kind
            self._note(error)
        else:
            return True
        return False

    def _note(self, error: Exception) -> None:
        self.word = (
            f"FAULT in the coach ({type(error).__name__}): the journal is written on; forecast and cues may be wrong"
        )
        self._count += 1
        if self._count > MOST:
            return
        with contextlib.suppress(OSError):
            folder = home()
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            with file(folder).open("a", encoding="utf-8", errors="replace") as out:
                out.write(f"{datetime.now(UTC).isoformat()}\n{''.join(traceback.format_exception(error))}\n")


def file(folder: Path) -> Path:
    """The file in which faults are noted."""
    return folder / "faults.txt"
