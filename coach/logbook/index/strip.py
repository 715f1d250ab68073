"""Strips of roasts, each one line on a common scale of time: the phases as textures, so that they are read without
colour, and in plain characters where a terminal has no others.  Pure."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import Final

from coach.logbook.index.summary import Summary
from coach.roast.units import clock

SIGNS: Final = ("·", "─", "━", "┃")
PLAIN: Final = (".", "-", "=", "|")
"""Plain characters of the phases: to yellow, to first crack, development, and the drop."""
STEP: Final = 60.0
"""Step of the scale's end, s."""


def scale(rows: Sequence[Summary]) -> float:
    """The end of the common scale, s: the first whole minute by which all have been dropped; 0 where none was."""
    last = max((t for r in rows for t in (r.drop_time, r.crack_time) if t is not None), default=0.0)
    return ceil(last / STEP - 1e-9) * STEP


def strip(r: Summary, cells: int, end: float, plain: bool = False) -> str:
    """One roast in ``cells`` cells from charge to ``end`` (s); '' where neither crack nor drop is known.

    Without yellow, all before the crack is drawn like the phase after yellow; a roast that was not dropped has no end.
    """
    if end <= 0 or cells < 4 or (r.drop_time is None and r.crack_time is None):
        return ""
    early, middle, late, stop = PLAIN if plain else SIGNS

    def cell(t: float) -> int:
        return min(max(round(t / end * (cells - 1)), 0), cells - 1)

    last = cell(r.drop_time if r.drop_time is not None else r.crack_time or 0.0)
    yellow = 0 if r.yellow_time is None else min(cell(r.yellow_time), last)
    crack = last if r.crack_time is None else min(max(cell(r.crack_time), yellow), last)
    out = early * yellow + middle * (crack - yellow) + late * (last - crack)
    return out + (stop if r.drop_time is not None else late)


def key(end: float, plain: bool = False) -> str:
    """Legend of the strips, in words; ``end`` of the scale in s."""
    early, middle, late, stop = PLAIN if plain else SIGNS
    return f"{early} to yellow  {middle} to first crack  {late} development  {stop} drop, from 0:00 to {clock(end)}"
