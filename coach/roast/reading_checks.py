"""Checks for readings of a roast that can't be true.  Pure, and quick to import."""

from __future__ import annotations

from typing import Final

from coach.roast.roast import Probe

TURNED: Final = 120.0
"""Roast time before which the probe falls and turns, s: more is possible, and no line fits."""


def plausible(readings: tuple[Probe, ...]) -> list[Probe]:
    """The readings without single ones that jump away from both neighbours and back, and without a last one that
    leaves a line on which those before it lie."""
    kept = [r for r in readings if -20 <= r.celsius <= 320 and r.t >= 0]
    changed = True
    while changed and len(kept) > 4:
        changed = False
        if kept[-3].t >= TURNED and _follows(*kept[-4:-1]) and not _follows(*kept[-3:]):
            del kept[-1]
            changed = True
            continue
        worst, at = 0.0, -1
        for i in range(1, len(kept) - 1):
            a, b, c = kept[i - 1], kept[i], kept[i + 1]
            if c.t <= a.t:
                continue
            line = a.celsius + (c.celsius - a.celsius) * (b.t - a.t) / (c.t - a.t)
            allowed = 9.0 + 0.15 * (c.t - a.t) + (40.0 if b.t < TURNED else 0.0)
            excess = abs(b.celsius - line) / allowed
            if excess > max(worst, 1.0):
                worst, at = excess, i
        if at > 0:
            del kept[at]
            changed = True
    return kept


def _follows(a: Probe, b: Probe, c: Probe) -> bool:
    """True if a reading lies about on the line through the two before it."""
    if b.t <= a.t:
        return True
    line = b.celsius + (b.celsius - a.celsius) / (b.t - a.t) * (c.t - b.t)
    return abs(c.celsius - line) <= 12.0 + 0.15 * (c.t - a.t)
