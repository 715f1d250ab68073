"""Response of this machine to gas, its size and lags, as a distribution over those of small drum roasters.  Pure.

    e' = g phi + d,   phi = (1 - s) f1 + s f2,   f_i' = (u - f_i) / tau_i,   d' = -kappa d + noise

e is the probe's deviation from the reference, K; u today's gas less the plan's, as a root of pressure (burner heat goes
as the root of pressure: flow through an orifice) in shares of the highest planned; d whatever else is different.  Of g,
the share s that comes through the drum, and the drum's lag only a range is known before: the members of one grid span
it, and how well each forecast the readings of roasts with moves besides the plan is its weight.  The decay kappa of d
belongs to the day: it is summed out, roast by roast.

The range is our own, from memory and from three simulated roasters (``bench_advice.py``): a tenth of the gas moves the
probe by 1 to 4 K in three minutes; 20 to 60 % of the heat goes through the drum, with a lag of 20 to 200 s; gas stream
and probe together lag by 15 to 60 s.  An effect of gas that decays overstated late moves and understated early ones, on
each of the three.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from coach.forecast.control_inputs import Schedule
from coach.forecast.distribution import Distribution
from coach.forecast.estimator import expm1_over
from coach.roast.curve import Curve
from coach.roast.roast import Probe

Array = NDArray[np.float64]

SIZE: Final = (0.29, 0.55)
"""Prior of g: median, K/s, and standard deviation of its logarithm."""
SIZES: Final = np.exp(np.log(SIZE[0]) + SIZE[1] * np.linspace(-2.0, 2.0, 13))
DRUM_LAGS: Final = np.array([30.0, 100.0, 190.0])
SHARES: Final = np.array([0.2, 0.4, 0.6])
FAST: Final = 35.0
"""Lag of gas stream and probe together, s."""
FADES: Final = np.array([0.0, 0.003, 0.006])
"""Decay kappa of d, 1/s: equally likely before."""
NOISE: Final = 0.5
"""Standard deviation of a reading, K: rounding, and a second or two late."""
WANDERS: Final = 5e-4
"""Diffusion of d, K/s per sqrt(s)."""
TEMPER: Final = 0.3
"""Power of the likelihood: the model is not the roaster."""
FELT_FROM: Final = 30.0
"""Time after the reference's turning point from which on readings are evidence on the gas, s."""
SAME: Final = 1e-6
"""Smallest difference of u that counts."""
ODD: Final = 4.0
"""Standard deviations from which on a reading is no evidence."""


class Members(NamedTuple):
    """The grid: g (K/s), share through the drum and the drum's lag (s) of each member (n,)."""

    size: Array
    share: Array
    lag: Array


MEMBERS: Final = Members(*(x.ravel() for x in np.meshgrid(SIZES, SHARES, DRUM_LAGS, indexing="ij")))
_prior = np.exp(-0.5 * ((np.log(MEMBERS.size) - np.log(SIZE[0])) / SIZE[1]) ** 2)


def shapes(dt: Array) -> Array:
    """Response of e to a step of u by 1 after ``dt`` (h,), s, for each K/s of g: s (share * lag, h)."""
    x = np.maximum(dt, 0.0)
    fast, slow = expm1_over(np.array(1.0 / FAST), x), expm1_over(1.0 / DRUM_LAGS[:, None], x)
    s = SHARES[:, None, None]
    return np.asarray(x - (1 - s) * fast - s * slow).reshape(-1, len(dt))


def by_size(shape: Array) -> Array:
    """Shapes (share * lag, h) for each member: (n, h)."""
    return np.asarray(SIZES[:, None, None] * shape).reshape(-1, shape.shape[-1])


def per_unit(dt: Array) -> Array:
    """Response of e to a step of u by 1 after ``dt`` (h,), s, by member: K (n, h); nothing before it."""
    return by_size(shapes(dt))


def moved(schedule: Schedule, t: Array) -> Array:
    """Shift of e by the gas besides the plan at times ``t`` (h,), s, for each K/s of g: (share * lag, h)."""
    u = schedule.values[:, 0]
    out = np.zeros((len(SHARES) * len(DRUM_LAGS), len(t)))
    for at, change in zip(schedule.times, np.diff(u, prepend=0.0), strict=True):
        if change and at < t[-1]:
            out += change * shapes(t - at)
    return out


@dataclass(frozen=True)
class GasAnswer:
    """Weights of the members (n,), summing to 1, and how many moves besides the plan they rest on."""

    weights: Array
    moves: int = 0

    @classmethod
    def prior(cls) -> GasAnswer:
        """The prior: any small drum roaster."""
        return cls(_prior / _prior.sum())

    def after(self, evidence: Sequence[Evidence]) -> GasAnswer:
        """Posterior given the evidence of roasts."""
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
    """Evidence of one roast on the gas: tempered log likelihood of each member (n,), and its moves besides the plan."""

    log_w: Array
    moves: int


NOTHING: Final = Evidence(np.zeros(len(MEMBERS.size)), 0)


def evidence(curve: Curve, schedule: Schedule, readings: Sequence[Probe]) -> Evidence:
    """Evidence of one roast's readings, about the reference's ``curve``: members forecast each from those before it."""
    used = [r for r in readings if r.t >= curve.turning_point[0] + FELT_FROM]
    u = schedule.values[:, 0]
    told = u[schedule.times <= (used[-1].t if used else 0.0)]
    # going back to the plan is no move besides it
    changes = int(np.count_nonzero((np.abs(np.diff(told, prepend=0.0)) > SAME) & (np.abs(told) > SAME)))
    if len(used) < 3 or not changes:
        return NOTHING
    t = np.array([r.t for r in used])
    off = np.array([r.celsius for r in used]) - curve.at(t)
    shape = moved(schedule, t)
    # a member's measurement, e without the gas, is off - g shape, and its filter linear: so one runs for the readings
    # and one for each shape, with gains that only kappa tells apart
    z = np.concatenate([off[None, :], shape])
    x = np.zeros((len(FADES), len(z), 2))
    x[:, :, 0] = z[:, 0]
    P = np.tile(np.diag([NOISE**2, 0.03**2]), (len(FADES), 1, 1))
    log_w = np.zeros((len(FADES), len(SIZES), len(shape)))
    for i in range(1, len(t)):
        dt = float(t[i] - t[i - 1])
        F = np.zeros((len(FADES), 2, 2))
        F[:, 0, 0], F[:, 0, 1], F[:, 1, 1] = 1.0, expm1_over(FADES, dt), np.exp(-FADES * dt)
        Q = WANDERS**2 * np.array([[dt**3 / 3, dt**2 / 2], [dt**2 / 2, dt]])
        x = x @ np.swapaxes(F, 1, 2)
        P = F @ P @ np.swapaxes(F, 1, 2) + Q
        y, S = z[:, i] - x[:, :, 0], P[:, 0, 0] + NOISE**2
        far = np.abs(y[:, None, :1] - SIZES[:, None] * y[:, None, 1:]) / np.sqrt(S)[:, None, None]
        if far.min() > ODD:  # a mistype, whatever the gas does
            continue
        log_w -= 0.5 * (np.log(S)[:, None, None] + np.minimum(far, ODD) ** 2)
        x = x + y[:, :, None] * (P[:, :, 0] / S[:, None])[:, None, :]
        P = P - P[:, :, :1] * P[:, :1, :] / S[:, None, None]
    whole = np.logaddexp.reduce(log_w, axis=0).ravel()
    return Evidence(TEMPER * (whole - whole.max()), changes)


def shifted(before: Distribution, shifts: Array, weights: Array) -> Distribution:
    """A time that comes by ``shifts`` (n,), s, later with ``weights``: the mixture, on an even grid."""
    q = np.interp((np.arange(25) + 0.5) / 25, before.p, before.x)
    x = (q[:, None] + shifts[None, :]).ravel()
    w = np.tile(weights / 25, 25)
    order = np.argsort(x)
    p = np.cumsum(w[order])
    at = np.interp(np.linspace(0.002, 0.998, 61), p - w[order] / 2, x[order])
    return Distribution(np.maximum.accumulate(at) + 1e-6 * np.arange(61), np.linspace(0.0, 1.0, 61))
