"""What was said as a roast went on: the forecasts that stood in each second, kept as they were, to be held against what
happened later.  Pure.

They lie outside the fold, like what was heard: an entry corrected afterwards changes what would be said now, not what
was said then.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.forecast.distribution import Distribution
from coach.forecast.values import Estimate, Forecast

Array = NDArray[np.float64]
LEVELS: Final = np.array([0.0, 0.01, 0.02, *np.arange(1, 20) / 20, 0.98, 0.99, 0.995, 1.0])
"""The shares at which a distribution's quantiles are kept."""
LATE: Final = 2.0
"""A forecast still stood so long after it was last seen standing, as it is looked at each second, s."""

_SINCE: Final = attrgetter("since")


@dataclass(frozen=True)
class Saying:
    """A forecast that stood from ``since`` to ``until`` (``at`` axis, s): quantiles at ``LEVELS`` of first crack and
    drop (``at`` axis, s) and of the drop's temperature (°C); None: nothing was said."""

    since: float
    until: float
    crack: Array | None
    drop: Array | None
    heat: Array | None
    doubtful: frozenset[int]

    def from_charge(self, charge_at: float) -> tuple[Distribution | None, Distribution | None, Distribution | None]:
        """First crack and drop as distributions of the roast time (s), and the drop's temperature (°C)."""

        def distribution(x: Array | None, shift: float) -> Distribution | None:
            return None if x is None else Distribution(x - shift, LEVELS)

        return distribution(self.crack, charge_at), distribution(self.drop, charge_at), distribution(self.heat, 0.0)


class Sayings:
    """Collects them.  Tell it what is shown whenever time has passed or an entry was taken."""

    def __init__(self) -> None:
        self._all: list[Saying] = []
        self._last: Forecast | None = None
        self.whole = True
        """Whether all that was said is here: not where a roast was read back from its journal."""

    def note(self, at: float, charge_at: float | None, estimate: Estimate | None, forecast: Forecast) -> None:
        """What is shown at ``at``; the forecast's times count from ``charge_at`` (both s; None: nothing to say yet)."""
        if self._all and forecast is self._last:
            self._all[-1] = replace(self._all[-1], until=max(at, self._all[-1].until))
            return
        if charge_at is None or (self._all and at < self._all[-1].since):
            return
        self._last = forecast
        crack, drop = forecast.first_crack, forecast.drop
        self._all.append(
            Saying(
                at, at,
                None if crack is None else charge_at + _quantiles(crack.time),
                None if drop is None else charge_at + _quantiles(drop.time),
                None if drop is None else _quantiles(drop.temperature),
                frozenset(estimate.doubtful) if estimate is not None else frozenset(),
            )
        )  # fmt: skip

    def at(self, at: float) -> Saying | None:
        """What stood at ``at`` (s); None where nothing was shown then."""
        i = bisect_right(self._all, at, key=_SINCE)
        if not i or at > self._all[i - 1].until + LATE:
            return None
        return self._all[i - 1]


def _quantiles(d: Distribution) -> Array:
    return np.asarray(np.interp(LEVELS, d.p, d.x))
