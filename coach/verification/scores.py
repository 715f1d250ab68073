"""Scores of forecasts against what happened: proper rules, coverage, and the exact odds of a count.  Pure.

CRPS: the integral of (F(x) - 1{x >= y})^2, in the unit of the forecast; it generalises the absolute error and rewards
honest distributions (Gneiting and Raftery 2007, J. Am. Stat. Assoc. 102:359).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv

from coach.forecast.distribution import Distribution

Array = NDArray[np.float64]


def crps(forecast: Distribution, happened: float) -> float:
    """CRPS of a piecewise-linear distribution, exactly; beyond its ends it is 0 and 1."""
    x, p = forecast.x, forecast.p
    y = float(happened)
    below = _square(x, p, -np.inf, y) + max(y - float(x[-1]), 0.0)
    above = _square(x, 1.0 - p, y, np.inf) + max(float(x[0]) - y, 0.0)
    return below + above


def _square(x: Array, f: Array, low: float, high: float) -> float:
    """The integral of f(x)^2 from ``low`` to ``high`` within the grid, f linear between its points."""
    a, b = max(low, float(x[0])), min(high, float(x[-1]))
    if b <= a:
        return 0.0
    grid = np.concatenate([[a], x[(x > a) & (x < b)], [b]])
    g = np.interp(grid, x, f)
    return float(np.sum(np.diff(grid) * (g[:-1] ** 2 + g[:-1] * g[1:] + g[1:] ** 2) / 3.0))


class Share(NamedTuple):
    """``hits`` of ``n``, and the exact (Clopper and Pearson) 95 % interval of the share."""

    hits: int
    n: int
    low: float
    high: float

    @property
    def value(self) -> float:
        return self.hits / self.n if self.n else float("nan")


def share(hits: Sequence[bool] | Array) -> Share:
    """Share of hits with its exact binomial interval: the ends are quantiles of the beta distribution (Clopper and
    Pearson 1934, Biometrika 26:404)."""
    n, k = len(hits), int(np.count_nonzero(hits))
    if n == 0:
        return Share(0, 0, 0.0, 1.0)
    low = 0.0 if k == 0 else float(betaincinv(k, n - k + 1, 0.025))
    high = 1.0 if k == n else float(betaincinv(k + 1, n - k, 0.975))
    return Share(k, n, low, high)
