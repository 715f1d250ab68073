"""Which readings of a roast can be true.  Pure, and quick to import."""

from __future__ import annotations

from coach.roast import Probe


def plausible(readings: tuple[Probe, ...]) -> list[Probe]:
    """The readings without single ones that jump away from both neighbours and back, and without a last one that
    leaves the line through the two before it."""
    kept = [r for r in readings if -20 <= r.celsius <= 320 and r.t >= 0]
    changed = True
    while changed and len(kept) > 4:
        changed = False
        worst, at = 0.0, -1
        for i in range(1, len(kept) - 1):
            a, b, c = kept[i - 1], kept[i], kept[i + 1]
            if c.t <= a.t:
                continue
            line = a.celsius + (c.celsius - a.celsius) * (b.t - a.t) / (c.t - a.t)
            allowed = 9.0 + 0.15 * (c.t - a.t) + (40.0 if b.t < 120 else 0.0)
            excess = abs(b.celsius - line) / allowed
            if excess > max(worst, 1.0):
                worst, at = excess, i
        a, b, c = kept[-3:]
        if a.t < b.t and b.t >= 120:
            line = b.celsius + (b.celsius - a.celsius) / (b.t - a.t) * (c.t - b.t)
            excess = abs(c.celsius - line) / (12.0 + 0.15 * (c.t - a.t))
            if excess > max(worst, 1.0):
                at = len(kept) - 1
        if at > 0:
            del kept[at]
            changed = True
    return kept
