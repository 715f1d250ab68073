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
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

Array = NDArray[np.float64]

CENTRE: Final = np.array([1 / 300.0, 12.0, 350.0, 0.55, 7e-4, 70.0, 0.25, 0.016, 0.002])
"""Prior medians of k_early (1/s), tau_1, tau_2 (s), w, q_d (K/s per sqrt(s)), tau_d (s), sigma (K), q_e (K per sqrt(s))
and k_late (1/s), from simulated workshops."""
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
SOBOL: Final = np.array((
    (698390514, 984954286, 107864316, 1001083068, 764329462, 220784124, 884072870, 824416312, 787534364),
    (453943160, 378745007, 551136907, 171734334, 102633048, 832715886, 368512137, 416658755, 463204050),
    (216462410, 706840894, 409771650, 770155420, 372372913, 764068908, 588580413, 44409668, 82442878),
    (1044970688, 101157951, 1054396661, 477136414, 1033979423, 285220286, 39054098, 726896191, 830654128),
    (927025242, 593802151, 707460882, 396361533, 888859010, 118852948, 722915665, 257108497, 172101209),
    (99565776, 256030374, 211726693, 638114495, 527063596, 1000297670, 173030526, 648349546, 1059664535),
    (302459874, 871370551, 875266412, 30608413, 256221637, 666348676, 1018312394, 1020596589, 542844475),
    (547955560, 534121014, 312463131, 809773471, 617943659, 457012502, 502586341, 354630678, 355474165),
    (660584405, 762161203, 819434965, 553661051, 27928546, 376645305, 781685708, 145797987, 247161083),
    (368164703, 21736754, 375643042, 278337529, 708482124, 721026859, 265387747, 558276120, 1003510837),
    (35247213, 1039733923, 785836971, 927777115, 974483365, 919668585, 959673431, 993429535, 614615193),
    (817356007, 299831714, 140682716, 115074265, 293985291, 173793019, 410360184, 314615140, 298415191),
    (968779901, 884747834, 479234619, 221552122, 417231766, 474893841, 825271099, 918552906, 705281214),
    (185622775, 412756795, 975488076, 1017362552, 860799032, 549754755, 276188692, 523643953, 526549104),
    (486017989, 606638762, 43119685, 460877530, 593574865, 1022128065, 647251104, 88488502, 1086684),
    (777388879, 135174059, 606452274, 720325464, 150046847, 6731347, 131246479, 749737805, 897296402),
)) / 2**30  # fmt: skip
"""Evenly spread points in nine dimensions, 0..1: the first 16 of a scrambled Sobol sequence.  Stored, since the library
that makes them takes 20 MB and a quarter of a second to load, and its scrambling may change from version to version:
``scipy.stats.qmc.Sobol(9, scramble=True, rng=numpy.random.default_rng(7)).random(16)``."""


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


def prior_bank(count: int = 16) -> Bank:
    """The prior bank, without evidence: one member at the centre of the prior, the others at points of ``SOBOL``."""
    z = np.vstack([np.zeros(SOBOL.shape[1]), 0.9 * ndtri(SOBOL[: count - 1])])
    return Bank(z, np.full(len(z), 1.0 / len(z)))
