"""Control charts for single values: individuals, EWMA, CUSUM, capability.  Pure; plain floats in, plain values out.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2 (charts) and 6.1.6 (capability); Montgomery,
Introduction to Statistical Quality Control (CUSUM with a count of its run).  Values without a published source are
marked so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from math import pi, sqrt
from statistics import NormalDist, fmean, stdev
from typing import Final

D2: Final = 2.0 / sqrt(pi)
"""Mean range of two values of a standard normal: 1.12838 (tables round it to 1.128)."""


def sigma_of_ranges(x: Sequence[float]) -> float:
    """Sigma of an individuals chart from at least two values: their mean moving range / ``D2``.  Source: NIST
    6.3.2.2."""
    return fmean(abs(b - a) for a, b in pairwise(x)) / D2


def ewma(x: Sequence[float], *, target: float, weight: float) -> list[float]:
    """Exponentially weighted moving average: z_i = w x_i + (1 - w) z_(i-1), from z_0 = ``target``.  Source: NIST
    6.3.2.4."""
    return list(accumulate(x, lambda z, value: weight * value + (1 - weight) * z, initial=target))[1:]


def ewma_half_width(*, sigma: float, weight: float, width: float) -> float:
    """Half width of the EWMA's limits in the long run: width sigma sqrt(w / (2 - w)).  Source: NIST 6.3.2.4."""
    return width * sigma * sqrt(weight / (2 - weight))


def cusum(x: Sequence[float], *, target: float, slack: float) -> list[float]:
    """Upper sums of the tabular CUSUM: S = max(0, S + x - target - slack), ``slack`` in the unit of x; the lower ones
    are those of the values and the target with the other sign.  Source: NIST 6.3.2.3, Montgomery."""
    return list(accumulate(x, lambda s, value: max(0.0, s + value - target - slack), initial=0.0))[1:]


@dataclass(frozen=True)
class Capability:
    """Capability of a process from so many values: ``cp`` uses the spread only, ``cpk`` the centre too."""

    cp: float
    cpk: float
    count: int

    @property
    def interval(self) -> tuple[float, float]:
        """Approximate 95 % confidence interval: cpk ± z sqrt(1/(9n) + cpk²/(2(n-1))).  Source: NIST 6.1.6."""
        z = NormalDist().inv_cdf(0.975)
        half = z * sqrt(1 / (9 * self.count) + self.cpk**2 / (2 * (self.count - 1)))
        return self.cpk - half, self.cpk + half


def capability(x: Sequence[float], lower: float, upper: float) -> Capability | None:
    """Capability: Cp = (upper - lower) / 6 sd; Cpk = min(upper - mean, mean - lower) / 3 sd; None under two values or
    when they don't vary.  Source: NIST 6.1.6."""
    if len(x) < 2 or stdev(x) <= 0:
        return None
    mean, sd = fmean(x), stdev(x)
    return Capability((upper - lower) / (6 * sd), min(upper - mean, mean - lower) / (3 * sd), len(x))


def normal_score(value: float, mean: float, sd: float, count: int) -> float:
    """Standard-normal score of one more value after ``count`` others, which allows for few of them.

    Q = Phi^-1( t_(n-1)( (x - mean) / (sd sqrt(1 + 1/n)) ) ): in a stable normal process the Qs of successive values are
    independent standard normals whatever n is (Quesenberry 1991, Journal of Quality Technology 23:213; from memory).
    """
    from scipy.special import ndtri, stdtr

    z = (value - mean) / (sd * sqrt(1 + 1 / count))
    p = float(stdtr(count - 1, -abs(z)))
    score = -float(ndtri(max(p, 1e-300)))
    return score if z >= 0 else -score


def value_limit(score: float, sd: float, count: int) -> float:
    """Distance from the mean of ``count`` values at which one more has a ``normal_score`` of ``score``."""
    from scipy.special import ndtr, stdtrit

    return float(-stdtrit(count - 1, float(ndtr(-score)))) * sd * sqrt(1 + 1 / count)
