"""The same roast read off its dial in another way: whole degrees typed now and then, tenths, or one key pressed as the
dial turns.

A roast's true trajectory of the probe is known to the simulators; readings are drawn from it anew, everything else of
the day stays as it was.  The person who times turns: display renewed every ``REFRESH`` seconds, a reaction drawn from a
gamma distribution of mean 0.3 s and standard deviation 0.1 s (simple reactions to a visible event take 0.2 to 0.3 s:
Luce, Response Times, 1986; the processors' cycles of Card, Moran and Newell, 1983, add up to 0.24 s), a turn in twenty
is missed, one press in fifty stands for a neighbouring degree.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from workshops import Day, day_of

from coach.roast.entries import Entry, Mark, Reading
from coach.roast.units import from_celsius
from coach.simulator.person import mistyped

Array = NDArray[np.float64]
Style = Literal["whole", "turned", "tenths"]
STYLES: Final[tuple[Style, ...]] = ("whole", "turned", "tenths")
REFRESH: Final = 0.5
FLICKER: Final = 0.15
"""Standard deviation of what the display adds to the probe, K, drawn anew each second."""
MISSED: Final = 0.05
WRONG: Final = 0.02
TYPO: Final = 0.01
LATE: Final = (2.0, 1.0)
"""Mean and standard deviation of how late a number is typed, s."""
LONGEST_WAIT: Final = 25.0
"""After so long without a turn the number is typed as it stands, s."""


def reread(day: Day, style: Style, rng: np.random.Generator, every: float = 30.0) -> Day:
    """The day with its readings taken in another way, about ``every`` seconds."""
    charge = day.roast.charge_at or 0.0
    other = [n.entry for n in day.entries if not (isinstance(n.entry, Reading) and n.entry.at >= charge)]
    end = max((e.at - charge for e in other if isinstance(e, Mark) and e.event == "drop"), default=day.times[-1])
    take = turned if style == "turned" else typed
    readings = take(day, end, rng, every, 0.1 if style == "tenths" else 1.0)
    entries: list[Entry] = [*other, *(e.model_copy(update={"at": round(charge + e.at, 2)}) for e in readings)]
    number = int(day.header.id.split("-")[-1])
    return replace(
        day_of(sorted(entries, key=lambda e: e.at), day.header.unit, number, day.times, day.probe, day.onset, day.pops)
    )


def typed(day: Day, end: float, rng: np.random.Generator, every: float, step: float) -> list[Reading]:
    """Numbers typed some time after they were seen."""
    out, t = [], float(rng.uniform(5, 25))
    while t < end:
        seen = float(np.interp(t, day.times, day.probe)) + float(rng.normal(0, FLICKER))
        shown = round(from_celsius(seen, day.header.unit) / step) * step
        if rng.random() < TYPO:
            shown = mistyped(shown, rng)
        out.append(Reading(at=t + max(float(rng.normal(*LATE)), 0.0), temperature=round(shown, 1)))
        t += every + float(rng.normal(0, every / 5))
    return [r for r in out if r.at < end]


class Dial:
    """A dial of digits that is renewed every REFRESH seconds, and a person who presses a key as it turns over."""

    def __init__(self, day: Day, end: float, rng: np.random.Generator, step: float = 1.0) -> None:
        self.rng, self.step = rng, step
        self.times = np.arange(float(rng.uniform(0, REFRESH)), end, REFRESH)
        seconds = np.arange(np.ceil(end) + 2.0)
        flicker = np.interp(self.times, seconds, rng.normal(0, FLICKER, len(seconds)))
        seen = np.interp(self.times, day.times, day.probe) + flicker
        self.shown = np.round(_in(seen, day.header.unit) / step) * step

    def press(self, t: float) -> Reading | None:
        """The reading of somebody who watches from ``t`` (s) on: a turn, else after LONGEST_WAIT the number typed as it
        stands; None after the end."""
        times, shown, rng = self.times, self.shown, self.rng
        i = int(np.searchsorted(times, t))
        if i >= len(times):
            return None
        rising, highest = shown[min(i + 20, len(times) - 1)] >= shown[i], shown[i]
        for j in range(i + 1, min(i + round(LONGEST_WAIT / REFRESH), len(times))):
            if not (shown[j] > highest if rising else shown[j] < highest):
                continue
            highest = shown[j]
            if rng.random() < MISSED:
                continue
            wrong = self.step * float(rng.choice([-1.0, 1.0])) if rng.random() < WRONG else 0.0
            at = float(times[j]) + float(rng.gamma(9.0, 0.3 / 9.0))
            return Reading(at=at, temperature=round(float(shown[j]) + wrong, 1), turned=True)
        return Reading(at=t + max(float(rng.normal(*LATE)), 0.0), temperature=float(shown[i]))


def turned(day: Day, end: float, rng: np.random.Generator, every: float, step: float) -> list[Reading]:
    """Presses as the dial turns over; a number typed as it stands where it does not turn for long."""
    dial, out = Dial(day, end, rng, step), []
    t = float(rng.uniform(5, 25))
    while (reading := dial.press(t)) is not None:
        out.append(reading)
        # as many readings as typed ones: a turn is waited for
        t = (reading.at if reading.turned else t) + every + float(rng.normal(0, every / 5)) - 1.5
    return [r for r in out if r.at < end]


def _in(celsius: Array, unit: str) -> Array:
    return celsius if unit == "C" else celsius * 1.8 + 32.0
