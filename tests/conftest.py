"""The tests keep what is computed from journals, and what the program remembers, in folders of their own."""

from __future__ import annotations

import os
from collections.abc import Iterator

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the program has it; read as numpy loads

import pytest
from hypothesis import settings

settings.register_profile("any machine", deadline=None)  # a busy one is late with a drawn input now and then
settings.load_profile("any machine")


@pytest.fixture(autouse=True, scope="session")
def _own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    patch = pytest.MonkeyPatch()
    patch.setenv("COACH_CACHE", str(tmp_path_factory.mktemp("cache")))
    patch.setenv("COACH_HOME", str(tmp_path_factory.mktemp("home")))
    yield
    patch.undo()


@pytest.fixture(autouse=True, scope="session")
def _short_naps() -> Iterator[None]:
    """Let a pressed key of a test cost 8 ms of sleep instead of 40: the screen library's test pilot asks after each
    whether the program is idle, in naps of a fixed length.  Nap and what counts as idle in it shrink alike."""
    patch = pytest.MonkeyPatch()
    patch.setattr("textual._wait.SLEEP_GRANULARITY", 1 / 250, raising=False)
    patch.setattr("textual._wait.SLEEP_IDLE", 1 / 5000, raising=False)
    yield
    patch.undo()
