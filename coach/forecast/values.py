"""What the estimate and the forecast say: values only, no calculation."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.forecast.distribution import Distribution

Array = NDArray[np.float64]
AT_DROP: Final = 0.45
"""How much else the dial at drop differs from the probe's way: display, flicker, the moment of the door, K."""
EVERY: Final = 5
"""Between entries the forecast of a running roast is renewed every so many seconds."""
READ_BEFORE: Final = 2.0
"""A reading is typed about this long after it was read, s: what the dial shows runs ahead of what is typed.  Keying
three digits and Enter takes 1.1 s, thinking before it 1.35 s (operator times of Card, Moran and Newell 1980)."""


@dataclass(frozen=True)
class Estimate:
    """The filtered probe at roast time ``t`` (s): °C, K/s, and their standard deviations.

    ``reading_t`` is when the last used reading was taken (s), None before the first one.
    ``doubtful`` holds the journal lines of readings that were kept out, each with the reason.
    """

    t: float
    temperature: float
    temperature_sd: float
    rate: float
    rate_sd: float
    reading_t: float | None
    doubtful: dict[int, str] = field(default_factory=dict)

    @property
    def age(self) -> float | None:
        """Seconds since the last used reading."""
        return None if self.reading_t is None else self.t - self.reading_t


@dataclass(frozen=True)
class EventForecast:
    """When an event comes (roast time, s), how hot the probe is then (°C), and how likely it is early or late.

    ``p_early`` and ``p_late`` are the probabilities of falling outside the plan's window; None without a plan for it.
    """

    time: Distribution
    temperature: float
    p_early: float | None
    p_late: float | None
    level: float = math.nan
    """The temperature that it is learnt to come at, at the climb foretold for its median, °C."""


@dataclass(frozen=True)
class DropForecast:
    """Drop: when the plan's rule is met (s), and the probe temperature then (°C).

    ``development`` (s) is the projected development time at drop; None where the profile has no first crack.
    """

    time: Distribution
    temperature: Distribution
    development: Distribution | None


@dataclass(frozen=True)
class Path:
    """The probe's way from now on: ``t`` (n,) roast time s, ``mean`` (n,) °C, ``sd`` (n,) K, ``rate`` (n,) K/s."""

    t: Array
    mean: Array
    sd: Array
    rate: Array


@dataclass(frozen=True)
class Forecast:
    """Where the roast leads, if the planned moves are made.

    A part is None when it can't be said; ``reasons`` then says why ("no reading for 2:10").
    ``effects`` are named contributions to the shift of first crack against the plan, s (negative: earlier).
    ``odd`` names inputs outside the learnt range.  ``lag`` is how many seconds today is behind (+) or ahead (-) of the
    reference; ``deviation`` the degrees above (+) or below (-) it, K.
    """

    path: Path | None = None
    yellow: EventForecast | None = None
    first_crack: EventForecast | None = None
    drop: DropForecast | None = None
    deviation: float | None = None
    deviation_sd: float | None = None
    lag: float | None = None
    stall: float | None = None
    """Probability that the rate of rise falls under the floor between crack and drop."""
    racing: float | None = None
    """Probability that the rate of rise stays above the ceiling between crack and drop."""
    risen_by: int | None = None
    """The journal's line of the newest reading that those two rest on; None where the last ones were all mistyped."""
    reasons: tuple[str, ...] = ()
    effects: dict[str, float] = field(default_factory=dict)
    odd: tuple[str, ...] = ()
    gas_moved: float | None = None
    """Suggested time (s) of a move that seems not to have been logged."""
    next_reading: float | None = None
    """Roast time (s) by which the next reading would matter."""
