"""Where the roast leads: the probe's way from now on, and when it meets yellow, first crack and drop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.distribution import Distribution
from coach.estimate import Model, State, expm1_over, summarise
from coach.forecast_types import DropForecast, Estimate, EventForecast, Forecast, Path
from coach.inputs import Schedule
from coach.knowledge import Knowledge
from coach.profile import Profile
from coach.roast import Roast
from coach.threshold import Threshold, crossed

Array = NDArray[np.float64]

HORIZON: Final = np.concatenate([np.arange(0.0, 300.0, 4.0), np.arange(300.0, 901.0, 12.0)])
"""Seconds ahead at which the way is worked out."""
CALL_DELAY: Final = 4.0
"""A person marks an event about this long after it, so that it isn't marked says nothing of the last seconds, s."""
STALE: Final = 3.0
"""No forecast when the last reading is older than this many expected intervals."""
CEILING: Final = 1.6
FLOOR: Final = 0.35
"""Racing and stalling after crack: rate of rise above, or below, this share of the reference's."""


@dataclass(frozen=True)
class Ahead:
    """The way ahead by member: ``t`` (h,), ``mean`` (m, h) °C, ``var`` (m, h) K², ``weights`` (m,), and their mixture."""

    t: Array
    mean: Array
    var: Array
    weights: Array

    @property
    def path(self) -> Path:
        mean = self.weights @ self.mean
        var = self.weights @ (self.var + (self.mean - mean) ** 2)
        return Path(self.t, mean, np.sqrt(var), np.gradient(mean, self.t))


class Tables:
    """Responses of a model to unit inputs on a grid of whole seconds, worked out once for a roast."""

    LAST: Final = 901

    def __init__(self, model: Model) -> None:
        h = np.arange(self.LAST + 1, dtype=float)
        k, rate = model.k[:, None], 1.0 / model.tau[:, :, None]
        self.decay = np.exp(-k * h)
        self.steady = np.asarray(expm1_over(k, h))  # type: ignore[arg-type]
        self.drift = self.decay * expm1_over(1.0 / model.tau_d[:, None] - k, h)  # type: ignore[arg-type]
        self.fading = self.decay[:, None, :] * expm1_over(rate - k[:, None, :], h)  # type: ignore[arg-type]
        share = np.stack([model.w, 1 - model.w], axis=1)
        self.fading *= share[:, :, None]
        self.step = self.steady - self.fading.sum(axis=1)
        damp = np.exp(-(k + 1.0 / model.tau_d[:, None]) * h)
        q = (model.q_d**2)[:, None]
        self.noise = q * h**3 / 3 * damp + (model.q_e**2)[:, None] * expm1_over(2 * k, h)  # type: ignore[arg-type]
        if model.bias is None:
            self.bias = np.zeros_like(h)
        else:
            self.bias = None  # type: ignore[assignment]


def look_ahead(model: Model, tables: Tables, state: State, schedule: Schedule, curve_at: Array | None = None) -> Ahead:
    """The way ahead from a state, if the schedule is kept."""
    t = state.t + HORIZON
    i = HORIZON.astype(int)
    now = schedule.at(state.t)
    gap = state.f - now[None, :, None]  # (m, 3, 2)
    psi = now[None, None, :] * tables.steady[:, i, None]
    psi = psi + np.einsum("mca,mah->mhc", gap, tables.fading[:, :, i])
    previous = now
    for s, u in zip(schedule.times, schedule.values, strict=True):
        if s <= state.t + 1e-9 or s > t[-1]:
            continue
        change = u - previous
        previous = u
        if not change.any():
            continue
        since = np.rint(t - s).astype(int)
        response = np.where(since > 0, tables.step[:, np.maximum(since, 0)], 0.0)
        psi = psi + response[:, :, None] * change
    row = np.concatenate([tables.decay[:, i, None], tables.drift[:, i, None], psi], axis=2)  # (m, h, 5)
    e = np.einsum("mhi,mi->mh", row, state.x)
    var = np.einsum("mhi,mhi->mh", row @ state.P, row) + tables.noise[:, i]
    if model.bias is not None:
        push = np.interp(t, *model.bias, left=0.0)
        e = e + np.concatenate([[0.0], np.cumsum(push[:-1] * np.diff(t))])
    r = model.curve.at(t) if curve_at is None else curve_at
    return Ahead(t, r + e, var, state.weights)


def event(
    ahead: Ahead, path: Path, threshold: Threshold, now: float, window: tuple[float, float] | None
) -> EventForecast | str:
    """When the way meets a threshold, given that it was not marked until now; or the reason why that can't be said."""
    level = threshold.level(path.rate)
    p = crossed(ahead.mean, ahead.var, ahead.weights, level, threshold.scales)
    passed = float(p[0])
    if passed > 0.985:
        return "hotter than it ever came before: mark it if you heard it"
    back = min(CALL_DELAY * float(path.rate[0]) * _density(ahead, threshold, level), passed)
    certain = max(passed - back, 0.0)
    p = (p - certain) / (1.0 - certain)
    x = ahead.t.copy()
    if p[0] > 0:
        x, p = np.concatenate([[now - CALL_DELAY], x]), np.concatenate([[0.0], p])
    if p[-1] < 0.9:
        return "not within 15 minutes at this rate"
    p = p / p[-1]
    d = Distribution(x, p)
    temperature = float(np.interp(d.median, ahead.t, path.mean))
    early = late = None
    if window is not None:
        early, late = d.cdf(window[0]), 1.0 - d.cdf(window[1])
    return EventForecast(d, temperature, early, late)


def _density(ahead: Ahead, threshold: Threshold, level: Array) -> float:
    """The probability per kelvin of the threshold lying just at the present temperature."""
    s = np.sqrt(ahead.var[:, 0] + threshold.scale**2)
    z = (ahead.mean[:, 0] - level[0]) / s
    return float(ahead.weights @ (np.exp(-0.5 * z**2) / (s * np.sqrt(2 * np.pi))))


def _normal(mean: float, sd: float) -> Distribution:
    z = np.linspace(-3.5, 3.5, 57)
    p = crossed(z[None, :], np.full((1, 57), 1e-12), np.ones(1), np.zeros(57), np.ones(1))
    return Distribution(mean + sd * z, np.asarray((p - p[0]) / (p[-1] - p[0])))
