"""Forecasts as they were issued while a roast went on, in each second, to be held against what happened later.  Pure.

They lie outside the fold, like what was heard: an entry corrected afterwards changes what would be said now, not what
was issued then.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import Final

import numpy as np

from coach.forecast.distribution import Distribution
from coach.forecast.values import Estimate, Forecast

LEVELS: Final = np.array([0.0, 0.01, 0.02, *np.arange(1, 20) / 20, 0.98, 0.99, 0.995, 1.0])
"""The shares at which a distribution's quantiles are kept."""
LATE: Final = 2.0
"""A forecast still stood so long after it was last seen standing, as it is looked at each second, s."""

_SINCE: Final = attrgetter("since")


@dataclass(frozen=True)
class IssuedForecast:
    """A forecast as it was issued, in force from ``since`` to ``until`` (s): when first crack and drop come (s, on the
    same axis), how hot the drop is (°C); None: nothing was said, and ``why``.  ``doubtful``: the lines of the readings
    that were kept out by then."""

    since: float = 0.0
    until: float = 0.0
    crack: Distribution | None = None
    drop: Distribution | None = None
    heat: Distribution | None = None
    doubtful: Collection[int] = ()
    why: str = ""

    @classmethod
    def of(cls, t: float, estimate: Estimate | None, forecast: Forecast) -> IssuedForecast:
        """What an estimate and a forecast say at roast time ``t`` (s)."""
        crack, drop = forecast.first_crack, forecast.drop
        return cls(
            t, t,
            None if crack is None else crack.time,
            None if drop is None else drop.time,
            None if drop is None else drop.temperature,
            frozenset(estimate.doubtful) if estimate is not None else (),
            "; ".join(forecast.reasons),
        )  # fmt: skip

    def later(self, by: float) -> IssuedForecast:
        """The same on an axis that counts from ``by`` seconds earlier, its distributions by their quantiles at
        ``LEVELS``."""

        def moved(d: Distribution | None, by: float) -> Distribution | None:
            return None if d is None else Distribution(np.interp(LEVELS, d.p, d.x) + by, LEVELS)

        return replace(
            self, since=self.since + by, until=self.until + by, crack=moved(self.crack, by),
            drop=moved(self.drop, by), heat=moved(self.heat, 0.0),
        )  # fmt: skip


class IssuedForecasts:
    """Collects them, times on the ``at`` axis.  Tell it what is shown when time has passed or an entry was taken."""

    def __init__(self) -> None:
        self._all: list[IssuedForecast] = []
        self._last: Forecast | None = None
        self.whole = True
        """Whether all that was issued is here: not where a roast was read back from its journal."""

    def note(self, at: float, charge_at: float | None, estimate: Estimate | None, forecast: Forecast) -> None:
        """What is shown at ``at``; the forecast's times count from ``charge_at`` (both s; None: nothing to say yet)."""
        if self._all and forecast is self._last:
            self._all[-1] = replace(self._all[-1], until=max(at, self._all[-1].until))
            return
        if charge_at is None or (self._all and at < self._all[-1].since):
            return
        self._last = forecast
        self._all.append(IssuedForecast.of(at - charge_at, estimate, forecast).later(charge_at))

    def at(self, at: float) -> IssuedForecast | None:
        """What was in force at ``at`` (s); None where nothing was shown then."""
        i = bisect_right(self._all, at, key=_SINCE)
        if not i or at > self._all[i - 1].until + LATE:
            return None
        return self._all[i - 1]
