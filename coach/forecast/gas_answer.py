"""What this machine's gas does: how much, and how late, as a distribution over what small drum roasters do.  Pure.

    e' = -k e + g phi + d,   phi = (1 - s) f1 + s f2,   f_i' = (u - f_i) / tau_i

e is the probe's deviation from the reference, K; u today's gas less the plan's, as a root of pressure (burner heat goes
as the root of pressure: flow through an orifice) in shares of the highest planned; d whatever else is different.  Of g,
k, the share s that comes through the drum, and the drum's lag nobody knows more beforehand than a range: the members of
one grid span it, and how well each foretold the readings of roasts with moves besides the plan is its weight.

The range is our own, from memory: a tenth of the gas moves the probe by 0.5 to 3 K in two minutes; 20 to 60 % of the
heat goes through the drum, with a lag of 20 to 200 s; gas stream and probe together lag by 10 to 35 s; a deviation
fades within 4 minutes or not at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from coach.forecast.control_inputs import Schedule
from coach.forecast.distribution import Distribution
from coach.forecast.estimator import expm1_over
from coach.forecast.kalman import predict
from coach.roast.curve import Curve
from coach.roast.roast import Probe

Array = NDArray[np.float64]

SIZE: Final = (0.27, 0.6)
"""Prior of g: median, K/s, and standard deviation of its logarithm."""
SIZES: Final = np.exp(np.log(SIZE[0]) + SIZE[1] * np.linspace(-2.0, 2.0, 13))
DRUM_LAGS: Final = np.array([25.0, 60.0, 110.0, 190.0])
SHARES: Final = np.array([0.2, 0.4, 0.6])
FADES: Final = np.array([0.0, 0.002, 0.004])
FAST: Final = 20.0
"""Lag of gas stream and probe together, s."""
NOISE: Final = 0.5
"""Standard deviation of a reading, K: rounding, and a second or two late."""
WANDERS: Final = 5e-4
"""How fast d wanders, K/s per sqrt(s)."""
TEMPER: Final = 0.5
"""Power of the likelihood: the model is not the roaster."""
FROM: Final = 60.0
"""Readings from so long after the reference's turning point on count, s."""
SAME: Final = 1e-6
"""A smaller difference of u is none."""
ODD: Final = 4.0
"""A reading so many standard deviations off tells nothing."""


class Members(NamedTuple):
    """The grid: g (K/s), share through the drum, the drum's lag (s) and k (1/s) of each member (n,)."""

    size: Array
    share: Array
    lag: Array
    fades: Array


MEMBERS: Final = Members(*(x.ravel() for x in np.meshgrid(SIZES, SHARES, DRUM_LAGS, FADES, indexing="ij")))
_g, _s, _tau, _k = MEMBERS
_prior = np.exp(-0.5 * ((np.log(_g) - np.log(SIZE[0])) / SIZE[1]) ** 2)


def per_unit(dt: Array) -> Array:
    """What a step of u by 1 does to e after ``dt`` (h,), s, by member: K (n, h); nothing before it."""
    x = np.maximum(dt, 0.0)[None, :]
    k = _k[:, None]
    out = expm1_over(k, x)
    for share, lag in ((1 - _s, np.full_like(_s, FAST)), (_s, _tau)):
        out = out - share[:, None] * np.exp(-k * x) * expm1_over(1.0 / lag[:, None] - k, x)
    return np.asarray(_g[:, None] * out)


EVERY: Final = 3.0
"""Steps of the table of answers, s."""


@cache
def _table(size: int) -> Array:
    """``per_unit`` on each multiple of ``EVERY`` (n, size)."""
    return per_unit(EVERY * np.arange(size, dtype=float))


def per_unit_every(size: int, since: float = 0.0) -> Array:
    """``per_unit`` at ``size`` times, ``EVERY`` s apart, the first of them ``since`` seconds after the step (before it
    where negative): K (n, size).

    Between the points of a table the answer is taken as straight: off by less than 0.06 K where all the gas is turned
    off and the answer is the largest (9/8 s² of its second derivative, which is at most g / FAST).
    """
    first = int(np.floor(since / EVERY))
    part = since / EVERY - first
    table = _table(64 * int(np.ceil((max(first, 0) + size + 1) / 64)))
    low = table[:, first : first + size] if first >= 0 else _late(table, first, size)
    if not part:
        return low
    high = table[:, first + 1 : first + 1 + size] if first >= -1 else _late(table, first + 1, size)
    return np.asarray(low * (1.0 - part) + high * part)


def _late(table: Array, first: int, size: int) -> Array:
    """Columns of a table from ``first`` < 0 on: nothing before its first."""
    out = np.zeros((len(table), size))
    if size + first > 0:
        out[:, -first:] = table[:, : size + first]
    return out


def moved(schedule: Schedule, t: Array) -> Array:
    """What the gas besides the plan did to e by times ``t`` (h,), s, by member: K (n, h)."""
    u = schedule.values[:, 0]
    out = np.zeros((len(_g), len(t)))
    for at, change in zip(schedule.times, np.diff(u, prepend=0.0), strict=True):
        if change and at < t[-1]:
            out += change * per_unit(t - at)
    return out


@dataclass(frozen=True)
class GasAnswer:
    """Weights of the members (n,), summing to 1, and how many moves besides the plan they rest on."""

    weights: Array
    moves: int = 0

    @classmethod
    def prior(cls) -> GasAnswer:
        """What is known of any small drum roaster."""
        return cls(_prior / _prior.sum())

    def after(self, evidence: Sequence[Evidence]) -> GasAnswer:
        """With what roasts tell."""
        told = [x for x in evidence if x.moves]
        if not told:
            return self
        log_w = np.log(self.weights) + np.sum([x.log_w for x in told], axis=0)
        w = np.exp(log_w - log_w.max())
        return GasAnswer(w / w.sum(), self.moves + sum(x.moves for x in told))

    def quantiles(self, values: Array, at: Sequence[float]) -> Array:
        """Quantiles of a quantity by member (n,)."""
        order = np.argsort(values)
        p = np.cumsum(self.weights[order])
        return np.interp(at, p - self.weights[order] / 2, values[order])


@dataclass(frozen=True)
class Evidence:
    """What one roast tells of the gas: tempered log likelihood of each member (n,), and its moves besides the plan."""

    log_w: Array
    moves: int


NOTHING: Final = Evidence(np.zeros(len(_g)), 0)


def evidence(curve: Curve, schedule: Schedule, readings: Sequence[Probe], since: float) -> Evidence:
    """What readings of one roast tell, from ``since`` (s) on: members foretell each from those before it."""
    used = [r for r in readings if r.t >= since]
    u = schedule.values[:, 0]
    told = u[schedule.times <= (used[-1].t if used else 0.0)]
    # going back to the plan is no move besides it
    changes = int(np.count_nonzero((np.abs(np.diff(told, prepend=0.0)) > SAME) & (np.abs(told) > SAME)))
    if len(used) < 3 or not changes:
        return NOTHING
    t = np.array([r.t for r in used])
    z = np.array([r.celsius for r in used]) - curve.at(t) - moved(schedule, t)
    n = len(_g)
    x, R = np.zeros((n, 2)), np.full(n, NOISE**2)
    x[:, 0] = z[:, 0]
    P = np.tile(np.diag([NOISE**2, 0.03**2]), (n, 1, 1))
    log_w = np.zeros(n)
    for i in range(1, len(t)):
        dt = float(t[i] - t[i - 1])
        F = np.zeros((n, 2, 2))
        F[:, 0, 0], F[:, 0, 1], F[:, 1, 1] = np.exp(-_k * dt), expm1_over(_k, dt), 1.0
        Q = WANDERS**2 * np.array([[dt**3 / 3, dt**2 / 2], [dt**2 / 2, dt]])
        x, P = predict(x, P, F, Q)
        y, S = z[:, i] - x[:, 0], P[:, 0, 0] + R
        off = np.abs(y) / np.sqrt(S)
        if off.min() > ODD:  # a mistype, whatever the gas does
            continue
        log_w -= 0.5 * (np.log(S) + np.minimum(off, ODD) ** 2)
        # each member has its own measurement: of e without the gas
        x = x + (P[:, :, 0] / S[:, None]) * y[:, None]
        P = P - P[:, :, :1] * P[:, :1, :] / S[:, None, None]
    return Evidence(TEMPER * (log_w - log_w.max()), changes)


def shifted(before: Distribution, shifts: Array, weights: Array) -> Distribution:
    """A time that comes by ``shifts`` (n,), s, later with ``weights``: the mixture, on an even grid."""
    q = np.interp((np.arange(25) + 0.5) / 25, before.p, before.x)
    x = (q[:, None] + shifts[None, :]).ravel()
    w = np.tile(weights / 25, 25)
    order = np.argsort(x)
    p = np.cumsum(w[order])
    at = np.interp(np.linspace(0.002, 0.998, 61), p - w[order] / 2, x[order])
    return Distribution(np.maximum.accumulate(at) + 1e-6 * np.arange(61), np.linspace(0.0, 1.0, 61))
