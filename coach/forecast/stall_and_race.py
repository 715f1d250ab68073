"""Stall and race: rate of rise in the last minute before drop, and the probabilities that it is either.  Pure.

A stall is a rise under a floor, a race one over a ceiling (projection.rise_limits).  A change of heat about the crack
that is not logged shows at once and leaves little time; the filter, which must not fall for a mistyped reading, rejects
just the readings that show it.  So the last readings are replayed as they were typed, from the filter's state before
them, and compared with trajectories that bend somewhere: ever so little, or, seldom, as much as when a flame goes out.

With the bend's size normal all is linear and normal, given the bank's member, when the bend began and when the drop
comes: the rise, given the readings, is a mixture of normals (conditioning: e.g. Rasmussen and Williams 2006, A.2).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from coach.forecast.control_inputs import Schedule
from coach.forecast.distribution import Distribution
from coach.forecast.estimator import BankState, Model
from coach.forecast.projection import reach, rise_limits
from coach.roast.profile import Profile
from coach.roast.roast import Probe

Array = NDArray[np.float64]

SPAN: Final = 60.0
"""Span before drop over which the rise is taken, s."""
BACK: Final = 200.0
"""Span of the last readings that are replayed, s."""
MOST: Final = 10
"""Most readings that are replayed."""
DROPS: Final = (0.1, 0.3, 0.5, 0.7, 0.9)
"""Shares at which quantiles represent the time of drop."""
HAZARD: Final = 0.0005
"""Hazard of an unlogged change of heat, 1/s."""
BENT: Final = 1.2
"""Standard deviation of the rise's change then, as a share of the plan's rise before drop."""
SWAY: Final = 0.15
"""The same without such a change: the exotherm is another every time."""
ENDED: Final = 0.8
"""Probability that such a change ends when the gas is set by a move that was logged, or is planned."""
BENDS_IN: Final = 20.0
"""Time constant with which a bend comes in, s."""
STICKS: Final = 0.01
"""Prior probability that a dial that shows the same again and again is stuck."""
NEVER: Final = 12.0
"""Difference of log likelihoods from the likeliest at which a case is left out."""
STEP: Final = 20.0
"""Distance between the bends that are tried, s."""
SLIP: Final = 0.04
"""Probability that a reading was mistyped: then it is no evidence on the rise ..."""
SLIP_RANGE: Final = 100.0
"""... and lies anywhere within so many, K."""
GROSS: Final = 40.0
"""Distance from the trajectory to which no change of heat leads, K: such readings were mistyped, however many."""


@dataclass(frozen=True)
class Risen:
    """Probabilities of a stall and of a race; ``newest``: the line of the newest reading that they rest on."""

    stall: float
    racing: float
    newest: int | None


def chances(
    model: Model, base: BankState, schedule: Schedule, readings: tuple[Probe, ...], now: float, profile: Profile,
    drop: Distribution,
) -> Risen:  # fmt: skip
    """Probabilities of a stall and of a race, if the schedule is kept and the drop comes as forecast.

    ``base`` is the filter's state before the ``readings`` that are replayed; ``now`` is roast time, s.  Where
    the last of them are all the same the dial may be stuck: then those after the first are no evidence on the rise.
    """
    said, log = _risen(model, base, schedule, readings, now, profile, drop)
    same = next((i for i, r in enumerate(reversed(readings)) if r.celsius != readings[-1].celsius), len(readings))
    if same < 2:
        return said
    blind, without = _risen(model, base, schedule, readings[: len(readings) - same + 1], now, profile, drop)
    width = (same - 1) * float(np.log(max(model.rounding, 0.1)))  # a density, times this, is a chance
    p = STICKS / (STICKS + float(np.exp(np.clip(log + width - without, -50.0, 50.0))))
    return Risen((1 - p) * said.stall + p * blind.stall, (1 - p) * said.racing + p * blind.racing, said.newest)


def _risen(
    model: Model, base: BankState, schedule: Schedule, readings: tuple[Probe, ...], now: float, profile: Profile,
    drop: Distribution,
) -> tuple[Risen, float]:  # fmt: skip
    """Probabilities of a stall and of a race, and the log density of the readings."""
    floor, ceiling = rise_limits(profile)
    plan = max(profile.curve.slope(profile.drop_time - 30.0, 60.0), 0.03)
    ends = np.maximum([drop.quantile(q) for q in DROPS], now + 1.0)
    t = np.concatenate([[r.t for r in readings], ends - SPAN, ends])
    mean, cov = trajectory(model, base, schedule, t)
    off = np.array([model.deviation(r) for r in readings]) - mean[: len(readings)]
    near = np.abs(off) < GROSS
    seen, y = [r for r, good in zip(readings, near, strict=True) if good], off[near]
    stay = np.concatenate([near, np.ones(2 * len(DROPS), dtype=bool)])
    t, mean, cov = t[stay], mean[stay], cov[np.ix_(stay, stay)]
    n, d = len(seen), len(DROPS)
    starts = np.arange(base.t, ends[-1], STEP)
    over = _next_gas(schedule, starts, now)
    again = over < ends[-1]
    lasting = BENT * bent(t - starts[:, None])
    ended = lasting[again] - BENT * bent(t - over[again, None])
    bends = np.concatenate([SWAY * bent(t - base.t)[None], lasting, ended])  # (c, h)
    each = HAZARD * STEP
    prior = np.concatenate([[1.0], np.where(again, (1 - ENDED) * each, each), np.full(int(again.sum()), ENDED * each)])
    whole = cov + plan**2 * bends[:, :, None] * bends[:, None, :]  # (c, h, h)
    from_, to = n + np.arange(d), n + d + np.arange(d)
    way = mean + model.curve.at(t)
    rise = way[to] - way[from_]  # (d,)
    spread = whole[:, to, to] + whole[:, from_, from_] - 2.0 * whole[:, to, from_]  # (c, d)
    log_w, newest = np.log(prior / prior.sum()), None
    if n:
        plain = whole[:, :n, :n] + np.diag([base.weights @ model.noise(r.t, turned=r.turned) for r in seen])
        inverse = np.linalg.inv(plain)  # (c, n, n)
        cross = whole[:, to, :n] - whole[:, from_, :n]
        a, gain = inverse @ y, cross @ inverse  # (c, n), (c, d, n)
        log_w = log_w - 0.5 * (a @ y + np.linalg.slogdet(plain)[1] + n * np.log(2 * np.pi)) + n * np.log1p(-SLIP)
        bend, out, log_w = slips(log_w, inverse, a)
        g, short = np.where(out[:, None], gain[bend], 0.0), np.where(out, a[bend], 0.0)
        block = _inverses(inverse[bend], out)
        rise = rise + (gain @ y)[bend] - np.einsum("sdk,skl,sl->sd", g, block, short)
        spread = (spread - np.einsum("cdn,cdn->cd", gain, cross))[bend] + np.einsum("sdk,skl,sdl->sd", g, block, g)
    most = log_w.max()
    w = np.exp(log_w - most)
    log = float(most + np.log(w.sum()))
    w /= w.sum()
    if n:
        newest = next((r.line for r, p in zip(reversed(seen), (w @ out)[::-1], strict=True) if p < 0.5), None)
    sd = np.sqrt(np.maximum(spread, 0.01))
    stall = float(np.mean(w @ ndtr((SPAN * floor - rise) / sd)))
    racing = float(np.mean(w @ ndtr((rise - SPAN * ceiling) / sd)))
    return Risen(stall, racing, newest), log


def slips(log_w: Array, inverse: Array, a: Array) -> tuple[NDArray[np.intp], NDArray[np.bool_], Array]:
    """Likely enough cases, with their weights: bends (s,) with readings mistyped (s, n), none to two of them.

    Of each bend: ``log_w`` (c,) with all readings as typed; ``inverse`` (c, n, n), of their joint covariance; ``a``
    (c, n), that by how far they are off.  The inverse holds the conditional covariance of each part, given the rest, as
    the inverse of its own block (e.g. Rasmussen and Williams 2006, A.3), so that what the others are worth without some
    of them follows at once.
    """
    n = a.shape[1]
    i, j = np.triu_indices(n, 1)
    own = np.diagonal(inverse, axis1=1, axis2=2)
    det = own[:, i] * own[:, j] - inverse[:, i, j] ** 2
    two = (own[:, j] * a[:, i] ** 2 - 2.0 * inverse[:, i, j] * a[:, i] * a[:, j] + own[:, i] * a[:, j] ** 2) / det
    each = np.log(SLIP / (1.0 - SLIP) / SLIP_RANGE) + 0.5 * np.log(2.0 * np.pi)
    none = np.zeros((len(a), 1))
    one = 0.5 * (a**2 / own - np.log(own)) + each
    all_w = log_w[:, None] + np.concatenate([none, one, 0.5 * (two - np.log(det)) + 2.0 * each], axis=1)
    bend, which = np.nonzero(all_w > all_w.max() - NEVER)
    out = np.zeros((1 + n + len(i), n), dtype=bool)
    out[1 + np.arange(n), np.arange(n)] = True
    out[1 + n + np.arange(len(i)), i] = out[1 + n + np.arange(len(i)), j] = True
    return bend, out[which], all_w[bend, which]


def _inverses(matrix: Array, out: NDArray[np.bool_]) -> Array:
    """The inverses (s, n, n) of the blocks (s, n, n) of some rows and columns (s, n), with zeros about them."""
    both = out[:, :, None] & out[:, None, :]
    return np.where(both, np.linalg.inv(np.where(both, matrix, np.eye(out.shape[1]))), 0.0)


def trajectory(model: Model, base: BankState, schedule: Schedule, t: Array) -> tuple[Array, Array]:
    """The mean (h,), K, and covariance (h, h), K², of the deviation at times ``t`` (h,), s, over the bank's members."""
    once, back = np.unique(np.maximum(t, base.t), return_inverse=True)  # readings may be of one moment, drops, too
    e, row, doubt, _ = (x[:, back.ravel()] for x in reach(model, base, schedule, once))
    w = base.weights
    ahead = np.maximum(t - base.t, 0.0)
    less, more = np.minimum(ahead[:, None], ahead), np.maximum(ahead[:, None], ahead)
    weighed = (w[:, None, None] * (row @ base.P)).transpose(1, 0, 2).reshape(len(t), -1)
    cov = weighed @ row.transpose(1, 0, 2).reshape(len(t), -1).T
    cov += (w @ model.q_d**2) * less**2 * (less / 3 + (more - less) / 2) + (w @ model.q_e**2) * less
    root = np.sqrt(np.maximum(w @ doubt, 0.0))
    mean = w @ e
    off = e - mean
    return mean, cov + root[:, None] * root + (w[:, None] * off).T @ off


def _next_gas(schedule: Schedule, starts: Array, now: float) -> Array:
    """Time of the next logged or planned move of gas after each of some times (c,), s; infinity if never."""
    moves = sorted([*(m for m in schedule.gas if m <= now), *(d.time for d in schedule.due if d.control == 0)])
    return np.array([next((m for m in moves if m > s), np.inf) for s in starts])


def bent(x: Array) -> Array:
    """Distance covered in ``x`` seconds by a rate that changes by one, coming in with a first-order lag, s."""
    x = np.maximum(x, 0.0)
    return np.asarray(x - BENDS_IN * -np.expm1(-x / BENDS_IN))
