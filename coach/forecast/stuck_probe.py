"""A stuck probe: still while the roast must be moving; or the roast has stalled.  Pure.

Either way a forecast from its readings is not to be trusted.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from coach.roast.profile import Profile
from coach.roast.roast import Roast, until
from coach.roast.units import clock, from_celsius, number

MOVED: Final = 4.0
"""Least move of the reference while three readings or more were the same, K."""
MOVED_BY_TWO: Final = 8.0
"""The same for two readings, K: one of them may be a slip."""
UNTIL_TURN: Final = 30.0
"""Time after the reference's turning point until which a probe may well be still, s."""


@dataclass(frozen=True)
class Still:
    """A still probe: it has shown the same (°C) since a roast time (s), while the reference moved so far (K)."""

    celsius: float
    since: float
    last: float
    moved: float

    def words(self, profile: Profile) -> str:
        """Text for the screen."""
        unit = profile.unit
        shown = f"{number(from_celsius(self.celsius, unit), 0)} °{unit}"
        return f"the probe shows {shown} since {clock(self.since)}: stuck, or the roast stands still"


def still(profile: Profile, roast: Roast, t: float) -> Still | None:
    """The still probe, if the last readings up to ``t`` (s) were all the same while the reference moved; else None."""
    readings = roast.readings[: until(roast.readings, t)]
    if len(readings) < 2:
        return None
    last, count, since = readings[-1], 0, 0.0
    for r in reversed(readings):
        if r.celsius != last.celsius or r.t < profile.curve.turning_point[0] + UNTIL_TURN:
            break
        count, since = count + 1, r.t
    if count < 2:
        return None
    moved = abs(profile.curve.value(last.t) - profile.curve.value(since))
    if moved < (MOVED if count > 2 else MOVED_BY_TWO):
        return None
    return Still(last.celsius, since, last.t, moved)
