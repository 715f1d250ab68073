"""The number to which the dial turns next, offered ahead so that one key logs it as it turns.  Pure.

- A number is offered when a reading is wanted soon: the first one whose turn is expected late enough to be waited for.
- Once offered it stays, whatever the estimate does, until it is used or has passed: it never changes under the finger.
- It has passed when the dial has surely left it behind; a press comes too late then, and logs nothing.  So does one
  right after another number took its place: it was meant for the one before.
- The less certain the dial's temperature, the further ahead lies the number: it must not have turned to it yet.
- Where the dial is about still (the turning point) nothing is offered: it may turn either way.  While it falls the
  next lower number is offered.
- Digits turn half a step before the number's middle, whatever the step: whole degrees, half degrees, °F.  Of a dial
  that shows tenths, whole degrees are offered as they come up.  A needle is logged as it passes a mark.
- A display that skips a number turned to both at that moment: the offered one may be logged, or the one it shows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from coach.forecast.forecast_values import READ_BEFORE, Estimate
from coach.roast.entries import Header
from coach.roast.roast import STEPS
from coach.roast.units import TemperatureUnit, from_celsius, from_kelvins, number

AHEAD: Final = 10.0
"""Time before a wanted reading from which a number is offered, s."""
LEAST: Final = 3.0
"""Least notice of a turn, s: eyes go to the dial and a finger to the key."""
EARLY: Final = 4.0
"""Most by which a turn may come before the reading is wanted, s."""
SLOWEST: Final = 0.03
"""Slowest dial that is sure not to turn either way, K/s."""
SURELY: Final = 1.5
"""Standard deviations by which a number lies ahead of the dial's estimated temperature."""
LONGEST_WAIT: Final = 20.0
"""Longest wait for a turn that is offered, s: later ones are typed as shown."""
SETTLES: Final = 1.5
"""Time after a number's first offer before which a key was meant for another one, s."""
GRACE: Final = 3.0
"""Time after its expected one at which a turn has passed, beside twice the standard deviation of that, s."""
LONGEST_GRACE: Final = 20.0
EXACT: Final = 2.0
"""Largest standard deviation at which the time of a turn is shown, s."""
MARKS: Final = 5.0
"""Degrees between the marks of a needle's dial that are offered."""


@dataclass(frozen=True)
class Face:
    """The dial's face, degrees: numbers ``every`` so many are offered; its digits turn ``half`` a step before the
    middle of a number (0: a needle)."""

    every: float
    half: float

    @classmethod
    def of(cls, header: Header, step: float) -> Face:
        """The face by the header's dial; without one, by the ``step`` in which readings were typed so far (K)."""
        if header.dial == "needle":
            return cls(MARKS, 0.0)
        shown = STEPS[header.dial] if header.dial else from_kelvins(step, header.unit)
        return cls(1.0 if shown < 0.3 else shown, shown / 2)


@dataclass(frozen=True)
class Turn:
    """The offered number, in the roast's unit; when the dial is expected to turn to it (roast time, s), how exactly
    that is known (s), whether it rises to it, and since when it is offered (roast time, s)."""

    shown: float
    due: float
    sd: float
    rising: bool = True
    needle: bool = False
    since: float = -math.inf

    def settled(self, t: float) -> bool:
        """True if a key pressed at roast time ``t`` (s) can have been meant for it."""
        return t - self.since >= SETTLES

    def words(self, t: float) -> str:
        """Text for the screen at roast time ``t`` (s): '183 as it turns, in 4 s'."""
        how = "as the needle passes" if self.needle else "as it turns"
        left = round(self.due - t)
        when = f", in {left} s" if self.sd <= EXACT and left >= 1 else ""
        return f"{number(self.shown)} {how}{when}"


def next_turn(estimate: Estimate, unit: TemperatureUnit, face: Face, wanted: float, t: float) -> Turn | None:
    """The turn to be offered at roast time ``t`` (s) where a reading is ``wanted`` at a roast time (s); None while that
    is far off, the dial is still, or its temperature unknown."""
    if wanted - t > AHEAD or abs(estimate.rate) < SLOWEST:
        return None
    rate, dial, rising = from_kelvins(estimate.rate, unit), _dial(estimate, unit), estimate.rate > 0
    sd = from_kelvins(estimate.temperature_sd, unit) / abs(rate)
    then = dial + rate * max(LEAST, SURELY * sd, wanted - EARLY - t)
    if rising:
        shown = math.ceil((then + face.half) / face.every - 1e-9) * face.every
    else:
        shown = math.floor((then - face.half) / face.every + 1e-9) * face.every
    due = t + (_turns_at(shown, face, rising) - dial) / rate
    if due - max(t, wanted - EARLY) > LONGEST_WAIT:
        return None
    return Turn(round(shown, 1), due, sd, rising, face.half == 0.0, t)


def renewed(
    armed: Turn | None, estimate: Estimate | None, unit: TemperatureUnit, face: Face, wanted: float, t: float
) -> Turn | None:
    """The turn offered at roast time ``t`` (s): the one that was, with the time at which it is expected now, until it
    has passed; then the next."""
    if estimate is None:
        return None
    if armed is not None:
        rate = from_kelvins(estimate.rate, unit)
        if abs(estimate.rate) < SLOWEST or (rate > 0) != armed.rising:
            late, due, sd = t - armed.due, armed.due, armed.sd
        else:
            due = t + (_turns_at(armed.shown, face, armed.rising) - _dial(estimate, unit)) / rate
            late, sd = t - due, from_kelvins(estimate.temperature_sd, unit) / abs(rate)
        if late <= min(GRACE + 2 * sd, LONGEST_GRACE):
            return replace(armed, due=due, sd=sd)
    return next_turn(estimate, unit, face, wanted, t)


def _dial(estimate: Estimate, unit: TemperatureUnit) -> float:
    """Temperature on the dial now, degrees: a number is typed some time after it was seen."""
    return from_celsius(estimate.temperature + estimate.rate * READ_BEFORE, unit)


def _turns_at(shown: float, face: Face, rising: bool) -> float:
    return shown - face.half if rising else shown + face.half
