"""Remarks beside the answer: journals that were skipped, roasts that were left out.

A reader of many files skips the bad ones with a remark on each; the edge (a command, the screen) collects the
remarks and shows them, so that nothing between has to pass them on.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from coach.roast.errors import CoachError, printable

GATHERED: Final[list[list[str]]] = []
"""The remarks made so far, for each edge that collects them just now."""
LONGEST: Final = 300
"""Longest remark, characters; a remark is one line."""


def remark(text: str) -> None:
    """Issue a remark beside the answer, in one line."""
    text = printable(" ".join(text.split()))[:LONGEST]
    for texts in GATHERED:
        if text not in texts:
            texts.append(text)


def left_out(name: str, error: Exception) -> None:
    """Remark that one roast is left out of what is computed from many, and why."""
    why = error.message if isinstance(error, CoachError) else f"a fault in the coach: {type(error).__name__}: {error}"
    remark(f"{name}: left out ({why})")


@contextmanager
def collected() -> Iterator[list[str]]:
    """Gather the remarks made meanwhile, each once, in the order in which they came."""
    texts: list[str] = []
    GATHERED.append(texts)
    try:
        yield texts
    finally:
        GATHERED[:] = [other for other in GATHERED if other is not texts]
