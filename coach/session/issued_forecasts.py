"""Issued forecasts: those in force in each second of a roast, for verification against what happened.  Pure.

They are kept outside the fold, like the cues heard: an entry corrected afterwards changes the forecast of now, not the
one that was issued then.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import Final

import numpy as np

from coach.forecast.distribution import Distribution
from coach.forecast.forecast_values import Estimate, Forecast

LEVELS: Final = np.array([0.0, 0.01, 0.02, *np.arange(1, 20) / 20, 0.98, 0.99, 0.995, 1.0])
"""Probabilities at which a distribution's quantiles are stored."""
LATE: Final = 2.0
"""Time after its last note for which a forecast is still in force, s: forecasts are noted each second."""

_SINCE: Final = attrgetter("since")


@dataclass(frozen=True)
class IssuedForecast:
    """A forecast as issued, in force from ``since`` to ``until`` (s): times of first crack and drop (s, on the same
    axis) and the ``temperature`` at drop (°C); None: no forecast, for the reason ``why``.  ``doubtful``: lines of the
    readings rejected by then."""

    since: float = 0.0
    until: float = 0.0
    crack: Distribution | None = None
    drop: Distribution | None = None
    temperature: Distribution | None = None
    doubtful: Collection[int] = ()
    why: str = ""

    @classmethod
    def of(cls, t: float, estimate: Estimate | None, forecast: Forecast) -> IssuedForecast:
        """The issued form of an estimate and a forecast at roast time ``t`` (s)."""
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
        """The forecast on an axis that counts from ``by`` s earlier, its distributions by their quantiles at
        ``LEVELS``."""

        def moved(d: Distribution | None, by: float) -> Distribution | None:
            return None if d is None else Distribution(np.interp(LEVELS, d.p, d.x) + by, LEVELS)

        return replace(
            self, since=self.since + by, until=self.until + by, crack=moved(self.crack, by),
            drop=moved(self.drop, by), temperature=moved(self.temperature, 0.0),
        )  # fmt: skip


class IssuedForecasts:
    """The issued forecasts of one roast, times on the ``at`` axis (s).  Call ``note`` whenever time has passed or an
    entry was taken."""

    def __init__(self) -> None:
        self._all: list[IssuedForecast] = []
        self._last: Forecast | None = None
        self.whole = True
        """True if all that was issued is here; False where a roast was read back from its journal."""

    def note(self, at: float, charge_at: float | None, estimate: Estimate | None, forecast: Forecast) -> None:
        """Note the forecast shown at ``at``; its times count from ``charge_at`` (both s; None: no forecast yet)."""
        if self._all and forecast is self._last:
            self._all[-1] = replace(self._all[-1], until=max(at, self._all[-1].until))
            return
        if charge_at is None or (self._all and at < self._all[-1].since):
            return
        self._last = forecast
        self._all.append(IssuedForecast.of(at - charge_at, estimate, forecast).later(charge_at))

    def at(self, at: float) -> IssuedForecast | None:
        """The forecast in force at ``at`` (s); None where none was shown then."""
        i = bisect_right(self._all, at, key=_SINCE)
        if not i or at > self._all[i - 1].until + LATE:
            return None
        return self._all[i - 1]
