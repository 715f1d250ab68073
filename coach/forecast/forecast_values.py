"""Values of the estimate and the forecast: no calculation."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.forecast.distribution import Distribution

Array = NDArray[np.float64]
AT_DROP: Final = 0.45
"""Further difference of the dial at drop from the probe's trajectory: display, flicker, the moment of the door, K."""
EVERY: Final = 5
"""Interval at which the forecast of a running roast is renewed between entries, s."""
READ_BEFORE: Final = 2.0
"""Delay from reading to typing, s: what the dial shows runs ahead of what is typed.  Keying
three digits and Enter takes 1.1 s, thinking before it 1.35 s (operator times of Card, Moran and Newell 1980)."""


@dataclass(frozen=True)
class Estimate:
    """The filtered probe at roast time ``t`` (s): °C, K/s, and their standard deviations.

    ``reading_t`` is the time of the last used reading (s), None before the first one.
    ``doubtful`` holds the journal lines of rejected readings, each with the reason.
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
    """An event's roast time (s), the probe's temperature then (°C), and how likely it is early or late.

    ``p_early`` and ``p_late`` are the probabilities of falling outside the plan's window; None without a plan for it.
    """

    time: Distribution
    temperature: float
    p_early: float | None
    p_late: float | None
    level: float = math.nan
    """The event's threshold at the climb forecast for its median, °C."""


@dataclass(frozen=True)
class DropForecast:
    """Drop: time at which the plan's rule is met (s), and the probe temperature then (°C)."""

    time: Distribution
    temperature: Distribution


@dataclass(frozen=True)
class Path:
    """The probe's trajectory from now: ``t`` (n,) roast time s, ``mean`` (n,) °C, ``sd`` (n,) K, ``rate`` (n,) K/s."""

    t: Array
    mean: Array
    sd: Array
    rate: Array


@dataclass(frozen=True)
class Forecast:
    """The roast's forecast, if the planned moves are made.

    A part is None when it can't be forecast; ``reasons`` then gives why ("no reading for 2:10").
    ``odd`` names inputs outside the history's range.  ``lag`` is by how much today is behind (+) or ahead (-) of the
    reference, s; ``deviation`` by how much above (+) or below (-) it, K.
    """

    path: Path | None = None
    yellow: EventForecast | None = None
    first_crack: EventForecast | None = None
    drop: DropForecast | None = None
    deviation: float | None = None
    lag: float | None = None
    stall: float | None = None
    """Probability that the rate of rise falls under the floor between crack and drop."""
    racing: float | None = None
    """Probability that the rate of rise stays above the ceiling between crack and drop."""
    risen_by: int | None = None
    """The journal's line of the newest reading that those two rest on; None where the last ones were all mistyped."""
    reasons: tuple[str, ...] = ()
    odd: tuple[str, ...] = ()
    gas_moved: float | None = None
    """Suggested time (s) of a move that seems not to have been logged."""
    next_reading: float | None = None
    """Roast time (s) by which the next reading would matter."""
