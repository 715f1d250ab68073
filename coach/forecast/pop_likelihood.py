"""Likelihood of the crack's time by taps before it is called: more strays, nearer crack.  Pure.

Pops come at a low stray rate long before the onset, at the cracking rate from it on, and in between at a rate that
grows exponentially towards it, as the hottest beans go first.  The likelihood of the taps so far, for each moment at
which the onset may lie, weighs the forecast (an inhomogeneous Poisson process: Daley and Vere-Jones, An Introduction to
the Theory of Point Processes, 2nd ed. 2003, section 7.2; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.forecast.distribution import Distribution
from coach.roast.profile import Taps

Array = NDArray[np.float64]

RISE: Final = 10.0
"""Time constant of the rise of the rate before the onset, s (own choice: a spread of some K at some K a minute)."""
WINDOW: Final = 90.0
"""Age beyond which taps are ignored, s."""


def log_likelihood(onsets: Array, taps: Sequence[float], now: float, settings: Taps) -> Array:
    """Log likelihood (n,) of the taps of the last ``WINDOW`` s, for an onset at each of ``onsets`` (n,), all roast
    times in s."""
    stray, cracking = settings.stray / 60.0, settings.cracking / 60.0
    start = now - WINDOW
    extra = max(cracking - stray, 0.0)
    before = np.minimum(now, onsets)
    grown = RISE * (np.exp(np.minimum(before - onsets, 0) / RISE) - np.exp(np.minimum(start - onsets, 0) / RISE))
    expected = stray * WINDOW + extra * (np.maximum(grown, 0.0) + np.maximum(now - np.maximum(onsets, start), 0.0))
    heard = np.array([t for t in taps if start <= t <= now])
    x = np.minimum(heard[:, None] - onsets[None, :], 0.0)
    return np.asarray(np.log(stray + extra * np.exp(x / RISE)).sum(axis=0) - expected)


def sharpened(forecast: Distribution, taps: Sequence[float], now: float, settings: Taps) -> Distribution:
    """The forecast of the onset, weighed by the taps (roast times, s); as it was when nobody has tapped lately."""
    if not any(now - WINDOW <= t <= now for t in taps) or settings.cracking <= settings.stray:
        return forecast
    x = np.unique(np.concatenate([forecast.x, np.arange(now, min(now + 120.0, forecast.x[-1]), 2.0)]))
    p = np.interp(x, forecast.x, forecast.p)
    log_w = log_likelihood(0.5 * (x[1:] + x[:-1]), taps, now, settings)
    mass = np.diff(p) * np.exp(log_w - log_w.max())
    total = float(mass.sum())
    if not np.isfinite(total) or total <= 0:
        return forecast
    return Distribution(x, np.concatenate([[0.0], np.cumsum(mass) / total]))
