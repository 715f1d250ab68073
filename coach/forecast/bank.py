"""The bank: a handful of parameter sets of the deviation model, each with a weight.

Nobody knows a roaster's time constants exactly.  Instead of one guess the coach runs several side by side; how well
each forecast the readings so far is its weight, and what they disagree about becomes width of the forecast.

Model of the deviation e = T - r(t) from the reference [K] (roast time in s):

    e' = -k(t) e + sum_c b_c phi_c + d       probe temperature off the reference
    k(t) = k_early while the reference is below about 160 °C, then k_late
    phi_c = w f1 + (1 - w) f2                lagged input of control c (gas, air, drum speed)
    f_i' = (u_c - f_i) / tau_i               fast path (gas stream, probe) and slow path (drum metal)
    d' = -d / tau_d + noise                  slow unknown disturbance [K/s]

Drying holds a deviation down (hotter beans evaporate more); the reactions of roasting do so less, and may drive it on
(k_late < 0).  The prior of how much is wide: roasters of other builds differ in it.

k_early, k_late, w, tau_1, tau_2, tau_d and the noise levels differ from member to member; the gains b_c are states of
the filter, constant in time, and begin each roast at their priors: carried over from earlier roasts they made
forecasts no better (tests/bench/README.md).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from coach.forecast.sobol import SOBOL

Array = NDArray[np.float64]

NAMES: Final = ("k_early", "tau_1", "tau_2", "w", "q_d", "tau_d", "sigma", "q_e", "k_late")
CENTRE: Final = np.array([1 / 300.0, 12.0, 350.0, 0.55, 7e-4, 70.0, 0.25, 0.016, 0.002])
"""Prior medians: 1/s, s, s, -, K/s per sqrt(s), s, K, K per sqrt(s), 1/s.  From simulated workshops: DEVELOPERS.md."""
SPREAD: Final = np.array([0.6, 0.5, 0.5, 0.5, 0.7, 0.6, 0.35, 0.5, 0.7])
"""Prior standard deviations of the logarithm (of the logit for w)."""
K_LOWEST: Final = -0.001
"""Added to the k_late above, 1/s: with a deviation that drives itself on faster, a roast 5 K behind would never
crack."""
GAIN: Final = np.array([0.24, -0.05, 0.0])
"""Prior mean gains of gas, air and drum speed, K/s per unit of input."""
GAIN_SD: Final = np.array([0.06, 0.035, 0.02])
"""Prior standard deviations of the gains."""
E0_SD: Final = 10.0
"""Standard deviation of the deviation at charge, K."""
D0_SD: Final = 0.02
"""Standard deviation of the disturbance at charge, K/s."""


def from_unit(z: Array) -> Array:
    """Parameters (m, 9) from standard-normal coordinates (m, 9)."""
    p = CENTRE * np.exp(z * SPREAD)
    p[:, 8] += K_LOWEST
    w = CENTRE[3] / (1 - CENTRE[3])
    odds = w * np.exp(z[:, 3] * SPREAD[3])
    p[:, 3] = odds / (1 + odds)
    return np.asarray(p)


@dataclass(frozen=True)
class Bank:
    """m parameter sets: ``z`` (m, 9) standard-normal coordinates and ``weights`` (m,), summing to 1."""

    z: Array
    weights: Array

    @property
    def parameters(self) -> Array:
        return from_unit(self.z)

    @property
    def size(self) -> int:
        return len(self.weights)

    def best(self, count: int) -> Bank:
        """The ``count`` members of most weight."""
        if count >= self.size:
            return self
        keep = np.sort(np.argsort(-self.weights, kind="stable")[:count])
        weights = self.weights[keep] / self.weights[keep].sum()
        return replace(self, z=self.z[keep], weights=weights)


@cache
def normal_points(count: int) -> Array:
    """Evenly spread standard-normal points (count, 9): a Sobol sequence through the normal quantiles.

    ValueError for more points than are stored.
    """
    if count > len(SOBOL):
        raise ValueError(f"{count} points are asked for, {len(SOBOL)} are stored")
    points = np.array(SOBOL[:count]) / 2**30
    return np.asarray(ndtri(np.clip(points, 1e-4, 1 - 1e-4)))


def prior_bank(count: int = 16) -> Bank:
    """The prior bank, without evidence.  One member lies at the centre of the prior."""
    z = normal_points(count) * 0.9
    z = np.vstack([np.zeros(z.shape[1]), z[: count - 1]])
    return Bank(z, np.full(len(z), 1.0 / len(z)))
