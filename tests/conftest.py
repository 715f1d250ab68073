"""The tests keep what is computed from journals, and what the program remembers, in folders of their own."""

from __future__ import annotations

import asyncio
import gc
import os
import time
from collections.abc import Iterator, Sized

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the program has it; read as numpy loads

import pytest
from hypothesis import settings

NAP = 0.002
"""Length of a nap, s."""
QUIET = 2
"""Number of naps in a row in which nothing happens."""

settings.register_profile("any machine", deadline=None)  # a busy one is late with a drawn input now and then
settings.load_profile("any machine")


def pytest_collection_finish() -> None:
    """Let the garbage collector leave alone what is loaded by now, and look less often: it took a sixth of the time."""
    gc.freeze()
    gc.set_threshold(20_000)


@pytest.fixture(autouse=True, scope="session")
def _own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    patch = pytest.MonkeyPatch()
    patch.setenv("COACH_CACHE", str(tmp_path_factory.mktemp("cache")))
    patch.setenv("COACH_HOME", str(tmp_path_factory.mktemp("home")))
    yield
    patch.undo()


@pytest.fixture(autouse=True, scope="session")
def _idle_by_the_loop() -> Iterator[None]:
    """Let the screen library's test pilot wait until the event loop has nothing left to do, in short naps.

    Its own naps are longer, 40 ms a key, and take a process for idle that had no processor: on a busy machine a test
    then looks before the screen is laid out.
    """
    patch = pytest.MonkeyPatch()
    patch.setattr("textual.pilot.wait_for_idle", _until_idle)
    patch.setattr("textual.app.wait_for_idle", _until_idle)
    yield
    patch.undo()


async def _until_idle(min_sleep: float = 0.0, max_sleep: float = 5.0) -> None:
    ready: Sized = getattr(asyncio.get_running_loop(), "_ready", ())
    end, still = time.monotonic() + max_sleep, 0
    while still < QUIET and time.monotonic() < end:
        used = time.process_time()
        await asyncio.sleep(NAP)
        for _ in range(3):  # what this nap's end woke may wake others in turn
            await asyncio.sleep(0)
            if ready:
                break
        busy = bool(ready) or time.process_time() - used > NAP / 4
        still = 0 if busy else still + 1
