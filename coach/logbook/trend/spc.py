"""Control charts for single values: individuals, EWMA, CUSUM, capability.  Pure; plain floats in, plain values out.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2 (charts) and 6.1.6 (capability); Montgomery,
Introduction to Statistical Quality Control (CUSUM with a count of its run).  Values without a published source are
marked so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import pi, sqrt
from statistics import NormalDist, fmean, stdev
from typing import Final

D2: Final = 2.0 / sqrt(pi)
"""Mean range of two values of a standard normal: 1.12838 (tables round it to 1.128)."""


def sigma_of_ranges(x: Sequence[float], *, d2: float = D2) -> float:
    """Sigma of an individuals chart from at least two values: their mean moving range / d2.

    Source: NIST 6.3.2.2, which uses d2 = 1.128.
    """
    return fmean(abs(b - a) for a, b in pairwise(x)) / d2


def ewma(x: Sequence[float], *, target: float, weight: float) -> list[float]:
    """Exponentially weighted moving average: z_i = w x_i + (1 - w) z_(i-1), from z_0 = ``target``.  Source: NIST
    6.3.2.4."""
    out: list[float] = []
    z = target
    for value in x:
        z = weight * value + (1 - weight) * z
        out.append(z)
    return out


def ewma_half_width(*, sigma: float, weight: float, width: float) -> float:
    """Half width of the EWMA's limits in the long run: width sigma sqrt(w / (2 - w)).  Source: NIST 6.3.2.4."""
    return width * sigma * sqrt(weight / (2 - weight))


@dataclass(frozen=True)
class Cusum:
    """Upper and lower sums after a value, and the number of values for which each has been above zero."""

    high: float
    low: float
    run_high: int
    run_low: int


def cusum(x: Sequence[float], *, target: float, slack: float) -> list[Cusum]:
    """Tabular CUSUM: S+ = max(0, S+ + x - target - slack), S- = max(0, S- + target - slack - x).

    ``slack`` in the unit of x.  Source: NIST 6.3.2.3, Montgomery.
    """
    out: list[Cusum] = []
    high = low = 0.0
    run_high = run_low = 0
    for value in x:
        high = max(0.0, high + value - target - slack)
        low = max(0.0, low + target - slack - value)
        run_high = run_high + 1 if high > 0 else 0
        run_low = run_low + 1 if low > 0 else 0
        out.append(Cusum(high, low, run_high, run_low))
    return out


@dataclass(frozen=True)
class Capability:
    """Capability of a process; ``cp`` uses the spread only, ``cpk`` the centre too."""

    cp: float
    cpk: float
    count: int


def capability_of(mean: float, sd: float, lower: float, upper: float, count: int = 0) -> Capability:
    """Capability: Cp = (upper - lower) / 6 sd; Cpk = min(upper - mean, mean - lower) / 3 sd.  Source: NIST 6.1.6."""
    return Capability((upper - lower) / (6 * sd), min(upper - mean, mean - lower) / (3 * sd), count)


def capability(x: Sequence[float], lower: float, upper: float) -> Capability | None:
    """Capability from values; None under two values or when they don't vary."""
    if len(x) < 2 or stdev(x) <= 0:
        return None
    return capability_of(fmean(x), stdev(x), lower, upper, len(x))


def cpk_interval(cpk: float, count: int) -> tuple[float, float]:
    """Approximate 95 % confidence interval of Cpk: cpk ± z sqrt(1/(9n) + cpk²/(2(n-1))).  Source: NIST 6.1.6."""
    z = NormalDist().inv_cdf(0.975)
    half = z * sqrt(1 / (9 * count) + cpk**2 / (2 * (count - 1)))
    return cpk - half, cpk + half


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
