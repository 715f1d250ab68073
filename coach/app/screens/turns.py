"""Work that no key began: in parts, with a paint and the waiting keys between them, and in threads."""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import Callable
from typing import Final

from textual.app import App
from textual.worker import Worker

from coach.app.screens.faults import Guard
from coach.app.screens.program import hand_over

BETWEEN: Final = 0.002
"""Time for keys between two parts, s."""
UNPAINTED: Final = 0.25
"""Time after which a part no longer waits for a paint, s."""


class Turns:
    """Gives each part of a long work its turn; ``changed`` is called after each.  ``monotonic``: a clock that always
    runs, s."""

    def __init__(self, app: App[None], guard: Guard, changed: Callable[[], object]) -> None:
        self.monotonic: Callable[[], float] = time.monotonic
        self._app = app
        self.guard = guard
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
