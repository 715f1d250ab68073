"""Probe temperature at which an event (yellow, first crack) happens: a Student-t, fitted to few roasts.

A lagging probe reads lower on a steeper rise at the same bean temperature, and a core that lags cracks later, so the
level is

    level = centre + slope * (rate - rate_0)        slope [s], rates [K/s] over the minute and a half before

with ``centre`` and its scatter updated by the normal-inverse-gamma rules (Gelman et al., Bayesian Data Analysis,
3rd ed. 2013, section 3.3): each logged roast is an observation, the reference's own mark one of half their variance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv, ndtr

Array = NDArray[np.float64]

SCATTER: Final = {"yellow": 3.0, "first crack": 0.68, "second crack": 2.0}
"""Prior scatter of the level from roast to roast, K."""
SCATTER_DF: Final = 3.0
"""Weight of the prior scatter, roasts."""
SLOPE_SD: Final = 30.0
"""Prior standard deviation about none of the slope of the level with the rate of rise, s: a probe that lags makes it
negative, beans whose core lags their surface make it positive, and which weighs more is unknown."""
REFERENCE: Final = 2.0
"""Weight of the reference's own mark, roasts: it was picked as one that went as it should."""
NODES: Final = (0.1, 0.3, 0.5, 0.7, 0.9)


@dataclass(frozen=True)
class Threshold:
    """The level as a Student-t: ``centre`` (°C) at ``rate_0`` (K/s), ``scale`` (K), ``df``; ``slope`` (s).

    ``count`` is the number of observed marks, ``mid`` their mean rate (K/s), about which the slope turns, and
    ``slope_sd`` its standard deviation (s).
    """

    centre: float
    scale: float
    df: float
    slope: float
    rate_0: float
    count: int
    mid: float = 0.0
    slope_sd: float = 0.0

    def level(self, rate: Array) -> Array:
        """The level's centre for rates of rise (K/s), °C; the correction is kept within 3 K."""
        return np.asarray(self.centre + np.clip(self.slope * (rate - self.rate_0), -3.0, 3.0))

    def spread(self, rate: Array) -> Array:
        """The level's scale for rates of rise (h,), K/s: that of the centre, and what the slope's doubt adds, K."""
        return np.asarray(np.hypot(self.scale, np.clip(self.slope_sd * (rate - self.mid), -3.0, 3.0)))

    def scales(self, rate: Array) -> Array:
        """Standard deviations (5, h) whose equal mixture of normals approximates the Student-t at ``rate`` (h,), K."""
        factors = 1 / np.sqrt(2.0 * gammaincinv(self.df / 2.0, NODES) / self.df)
        return np.asarray(factors[:, None] * self.spread(rate))


def learn(event: str, levels: Sequence[float], rates: Sequence[float]) -> Threshold:
    """The threshold from observed levels (°C) and rates of rise there (K/s); the reference's own comes first."""
    y, r = np.asarray(levels, dtype=float), np.asarray(rates, dtype=float)
    n, rate_0 = len(y), float(r[0])
    s0 = SCATTER[event]
    slope, slope_sd = _slope(y, r, s0)
    z = y - slope * (r - rate_0)
    centre = float(np.median(z)) if n > 4 else float(z.mean())
    z = np.clip(z, centre - 3 * s0, centre + 3 * s0)  # one forgotten or mistaken call must not move it
    worth = np.ones(n)
    worth[0] = REFERENCE
    centre = float(worth @ z) / float(worth.sum())
    df = SCATTER_DF + n - 1
    variance = (SCATTER_DF * s0**2 + float(worth @ (z - centre) ** 2)) / df
    return Threshold(
        centre, float(np.sqrt(variance * (1 + 1 / worth.sum()))), df, slope, rate_0, n, float(r.mean()), slope_sd
    )


def _slope(y: Array, r: Array, scatter: float) -> tuple[float, float]:
    """Ridge regression of the level on the rate, drawn to none; and the slope's standard deviation, s."""
    dr, dy = r - r.mean(), y - y.mean()
    precision = 1 / SLOPE_SD**2 + float(dr @ dr) / scatter**2
    return float(dr @ dy) / scatter**2 / precision, precision**-0.5


def crossed(mean: Array, variance: Array, weights: Array, level: Array, scales: Array) -> Array:
    """The probability (h,) that a rising path has passed the level by each time.

    mean, variance (m, h) of the path by member; weights (m,); level (h,) the threshold's centre; scales (s,).
    For a path that rises much faster than it jitters, having passed is being above.
    """
    out = np.zeros(mean.shape[1])
    for s in scales:
        out += weights @ ndtr((mean - level) / np.sqrt(variance + s**2))
    return np.asarray(np.maximum.accumulate(out / len(scales)))
