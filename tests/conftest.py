"""The tests keep what is computed from journals, and what the program remembers, in folders of their own."""

from __future__ import annotations

from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True, scope="session")
def _own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    patch = pytest.MonkeyPatch()
    patch.setenv("COACH_CACHE", str(tmp_path_factory.mktemp("cache")))
    patch.setenv("COACH_HOME", str(tmp_path_factory.mktemp("home")))
    yield
    patch.undo()
