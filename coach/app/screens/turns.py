"""Work of the screen: guarded against the program's own faults; in parts, with a paint and the waiting keys between
them; and in threads."""

from __future__ import annotations

import asyncio
import contextlib
import time
import traceback
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from textual.app import App
from textual.worker import Worker

from coach.app.screens.program import hand_over
from coach.roast.errors import CoachError
from coach.session.folders import home

BETWEEN: Final = 0.002
"""Time for keys between two parts, s."""
UNPAINTED: Final = 0.25
"""Time after which a part no longer waits for a paint, s."""
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


class Turns:
    """Gives each part of a long work its turn; ``changed`` is called after each.  ``monotonic``: a clock that always
    runs, s."""

    def __init__(self, app: App[None], changed: Callable[[], object]) -> None:
        self.monotonic: Callable[[], float] = time.monotonic
        self._app = app
        self.guard = Guard()
        self._changed = changed
        self.busy = False
        """True while a part is due."""

    def do(self, action: Callable[[], object]) -> None:
        """Do an action whose faults must not end the roast, and show what came of it."""
        self.guard.run(action)
        self.guard.run(self._changed)

    def in_thread(self, work: Callable[[], object], name: str) -> None:
        """Do a work in a thread, guarded too, and show what came of it."""

        def whole() -> None:
            self.guard.run(work)
            hand_over(self._app, lambda: self.guard.run(self._changed))

        _: Worker[None] = self._app.run_worker(whole, thread=True, name=name)

    def tell(self, taken: Callable[[], object]) -> None:
        """Give a thread's results to the screen: ``taken`` is done there."""
        hand_over(self._app, lambda: self.do(taken))

    def later(self, part: Callable[[], object]) -> None:
        """Do a part when the screen has been painted and keys have been taken; does nothing where one is due already.

        The library's timers won't do: one as short as this never fires where its moment is past before it is checked.
        """
        if self.busy:
            return
        self.busy = True
        painted = asyncio.Event()
        self._app.call_after_refresh(painted.set)

        async def soon() -> None:
            with contextlib.suppress(TimeoutError):  # no part is lost with a screen that is left unpainted
                await asyncio.wait_for(painted.wait(), UNPAINTED)
            await asyncio.sleep(BETWEEN)
            self.busy = False
            if self._app.is_running:
                self.do(part)

        _: Worker[None] = self._app.run_worker(soon)
