"""Correction of the reference by several roasts: where its line, drawn through one day's readings, is off.

Each roast's readings, less what its moves did, are the sum of what all roasts share (the reference's own error), what
is that day's own, and the scatter of readings.  All three are Gaussian processes, and the first follows by conditioning
(Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006, chapters 2 and 4: the Matérn kernel of 3/2).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from coach.roast.curve import Curve

Array = NDArray[np.float64]

SHARED_SD: Final = 0.41
SHARED_SPAN: Final = 170.0
"""The reference's error: its standard deviation, K, and over which time it changes, s."""
DAY_LEVEL_SD: Final = 1.8
DAY_SD: Final = 1.1
DAY_SPAN: Final = 500.0
"""A day's own deviation: its constant part, K, how much it wanders, K, and over which time, s.  These and the
shared ones are the most likely values on simulated workshops."""
FURTHEST: Final = 15.0
"""Bound to which a rest is cut, K."""
STEP: Final = 15.0
"""Distance between the points at which the line is corrected, s."""
EARLY_STEP: Final = 5.0
"""Distance between the points that keep it before the turning point, s."""


@dataclass(frozen=True)
class Rest:
    """One roast's readings: ``t`` (n,) s, their deviation from the reference (n,) K, the part of it due to moves
    (n,) K, and the variance of each (n,) K²."""

    t: Array
    off: Array
    moved: Array
    variance: Array

    @property
    def rest(self) -> Array:
        """The deviation less the part due to moves, K (n,)."""
        return self.off - self.moved


def matern(distance: Array, span: float) -> Array:
    """The Matérn correlation of 3/2 over a distance, both in s."""
    a = np.sqrt(3.0) * np.abs(distance) / span
    return np.asarray((1 + a) * np.exp(-a))


def shared(rests: Sequence[Rest], at: Array) -> Array:
    """The reference's error (K) at times ``at`` (h,), s, by all roasts together."""
    if not rests:
        return np.zeros(len(at))
    t = np.concatenate([r.t for r in rests])
    y = np.clip(np.concatenate([r.rest for r in rests]), -FURTHEST, FURTHEST)
    day = np.concatenate([np.full(len(r.t), i) for i, r in enumerate(rests)])
    apart = t[:, None] - t
    K = SHARED_SD**2 * matern(apart, SHARED_SPAN)
    K += (day[:, None] == day) * (DAY_LEVEL_SD**2 + DAY_SD**2 * matern(apart, DAY_SPAN))
    K[np.diag_indices(len(t))] += np.concatenate([r.variance for r in rests])
    return np.asarray(SHARED_SD**2 * matern(at[:, None] - t, SHARED_SPAN) @ cho_solve(cho_factor(K, lower=True), y))


def refined(curve: Curve, rests: Sequence[Rest]) -> Curve:
    """The reference with its error taken off; before the turning point it stays as it is."""
    if not rests:
        return curve
    low = curve.turning_point[0]
    late = np.arange(low + STEP, curve.end, STEP)
    early = np.arange(curve.times[0], low, EARLY_STEP)
    times = np.concatenate([early, [low], late, [curve.end]])
    values = curve.at(times)
    values[len(early) + 1 :] += shared(rests, times[len(early) + 1 :])
    return Curve(tuple(times.tolist()), tuple(values.tolist()))
