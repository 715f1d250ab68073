"""Projection of the roast: the probe's trajectory from now on, and when it meets yellow, first crack and drop."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from coach.forecast.control_inputs import Schedule
from coach.forecast.distribution import Distribution
from coach.forecast.estimator import BankState, Model, Response, climb, to_inputs
from coach.forecast.event_threshold import Threshold, crossed
from coach.forecast.forecast_values import AT_DROP, READ_BEFORE, DropForecast, EventForecast, Forecast, Path
from coach.forecast.knowledge import DropHabit, Knowledge
from coach.forecast.pop_likelihood import sharpened
from coach.roast.entries import Event
from coach.roast.profile import Profile
from coach.roast.roast import Roast
from coach.roast.units import clock

Array = NDArray[np.float64]

HORIZON: Final = np.concatenate([np.arange(0.0, 300.0, 4.0), np.arange(300.0, 901.0, 12.0)])
"""Seconds ahead at which the trajectory is computed."""
CALL_DELAY: Final = 4.0
"""Delay with which a person marks an event, s: that it isn't marked is no evidence on the last seconds."""
STALE: Final = 3.0
"""Largest age of the last reading for a forecast, in expected intervals."""
EQUALLY: Final = (np.arange(21) + 0.5) / 21
"""Shares at which a distribution's quantiles represent it."""
UNEVEN: Final = 11.0
"""Standard deviation of planned moves from their time, s."""
LEFT_OUT: Final = 0.06
"""Share of planned moves that are left out.  Both are those of the simulated persons; common practice, no source."""
GROWS: Final = 0.013
"""Uncertainty of the probe's trajectory from the crack on, K for each second."""
CEILING: Final = 1.6
FLOOR: Final = 0.35
"""Racing and stalling after crack: rate of rise above, or below, this share of the reference's."""


@dataclass(frozen=True)
class Ahead:
    """The trajectory by member: ``t`` (h,), ``mean`` (m, h) °C, ``var`` (m, h) K², ``weights`` (m,), and
    ``climb`` (h,) the mean rate of rise over the CLIMB seconds before, K/s."""

    t: Array
    mean: Array
    var: Array
    weights: Array
    climb: Array

    @property
    def path(self) -> Path:
        mean = self.weights @ self.mean
        var = self.weights @ (self.var + (self.mean - mean) ** 2)
        return Path(self.t, mean, np.sqrt(var), np.gradient(mean, self.t))


def look_ahead(model: Model, state: BankState, schedule: Schedule) -> Ahead:
    """The trajectory from a state, if the schedule is kept."""
    t = state.t + HORIZON
    e, row, doubt, noise = reach(model, state, schedule, t)
    var = np.einsum("mhi,mhi->mh", row @ state.P, row) + noise + doubt
    w = state.weights
    trail = np.array([p for p in state.trail if p[0] < state.t]).reshape(-1, 2)
    times, deviations = np.concatenate([trail[:, 0], t]), np.concatenate([trail[:, 1], w @ e])
    climbed = climb(lambda x: model.curve.at(x) + np.interp(x, times, deviations), t)
    return Ahead(t, model.curve.at(t) + e, var, w, climbed)


def reach(model: Model, state: BankState, schedule: Schedule, t: Array) -> tuple[Array, Array, Array, Array]:
    """At times ``t`` (h,), s, from the state's on, in order: the mean of e, K (m, h), what it takes from the filter's
    state (m, h, 5), and what planned moves that may be made otherwise, and the model's noise, add to its variance, K²
    (m, h each)."""
    response = Response.over(model, state.t, t - state.t)
    now = schedule.at(state.t)
    gap = state.f - now[None, :, None]  # (m, 3, 2)
    psi = now[None, None, :] * response.steady[:, :, None]
    psi = psi + np.einsum("mca,mah->mhc", gap, response.fading)
    previous = now
    for s, u in zip(schedule.times, schedule.values, strict=True):
        if s <= state.t + 1e-9 or s > t[-1]:
            continue
        change = u - previous
        previous = u
        if not change.any():
            continue
        psi += _stepped(model, float(s), t)[:, :, None] * change
    shift, doubt = _unmade(model, state, schedule, t)
    row = np.concatenate([response.decay[:, :, None], response.drift[:, :, None], psi], axis=2)  # (m, h, 5)
    return np.einsum("mhi,mi->mh", row, state.x) + shift, row, doubt, response.noise


def _unmade(model: Model, state: BankState, schedule: Schedule, t: Array) -> tuple[Array, Array]:
    """Effect of planned moves to come being made late or left out, by times ``t`` (h,): on the mean of e, K, and on its
    variance, K² (m, h each)."""
    mean, var = np.zeros((2, model.bank.size, len(t)))
    steps: dict[float, Array] = {np.inf: np.zeros_like(mean)}
    for due in schedule.due:
        if due.time > t[-1]:
            continue
        for s in (due.time, due.until):
            if s not in steps:
                steps[s] = _stepped(model, s, t)
        gain = (state.x[:, 2 + due.control] * due.change)[:, None]
        made = gain * steps[due.time]
        gone = made - gain * steps[due.until]
        mean -= LEFT_OUT * gone
        var += (UNEVEN * np.gradient(made, t, axis=1)) ** 2 + LEFT_OUT * (1 - LEFT_OUT) * gone**2
    return mean, var


def _stepped(model: Model, s: float, t: Array) -> Array:
    """Response of e to an input of 1 from ``s`` (s) on, by times ``t`` (h,): (m, h)."""
    out = np.zeros((model.bank.size, len(t)))
    after = int(np.searchsorted(t, s, side="right"))
    if after < len(t):
        dt = t[after:] - s
        _, steady, fading = to_inputs(model, model.k(s, t[after:]), dt)
        out[:, after:] = steady - fading.sum(axis=1)
    return out


def event(
    ahead: Ahead,
    path: Path,
    threshold: Threshold,
    now: float,
    window: tuple[float, float] | None,
    heard: Callable[[Distribution], Distribution] | None = None,
) -> EventForecast | str:
    """Forecast of when the trajectory meets a threshold, given that it was not marked until now; or why not."""
    level = threshold.level(ahead.climb)
    p = crossed(ahead.mean, ahead.var, ahead.weights, level, threshold.scales(ahead.climb))
    passed = float(p[0])
    if passed > 0.985:
        return "hotter than any before: mark it if heard"
    back = min(CALL_DELAY * max(float(path.rate[0]), 0.0) * _density(ahead, threshold, level), passed)
    certain = max(passed - back, 0.0)
    p = (p - certain) / (1.0 - certain)
    x = ahead.t.copy()
    if p[0] > 0:
        x, p = np.concatenate([[now - CALL_DELAY], x]), np.concatenate([[0.0], p])
    if p[-1] < 0.9:
        return "not within 15 minutes at this rate"
    p = p / p[-1]
    d = Distribution(x, p) if heard is None else heard(Distribution(x, p))
    temperature = float(np.interp(d.median, ahead.t, path.mean))
    early = late = None
    if window is not None:
        early, late = d.cdf(window[0]), 1.0 - d.cdf(window[1])
    return EventForecast(d, temperature, early, late, float(np.interp(d.median, ahead.t, level)))


def _density(ahead: Ahead, threshold: Threshold, level: Array) -> float:
    """The probability per kelvin of the threshold lying just at the present temperature."""
    s = np.sqrt(ahead.var[:, 0] + threshold.spread(ahead.climb[:1]) ** 2)
    z = (ahead.mean[:, 0] - level[0]) / s
    return float(ahead.weights @ (np.exp(-0.5 * z**2) / (s * np.sqrt(2 * np.pi))))


def project(
    model: Model,
    state: BankState,
    schedule: Schedule,
    profile: Profile,
    roast: Roast,
    knowledge: Knowledge,
    *,
    crack_only: bool = False,
) -> Forecast:
    """The forecast at the state's time (roast time, s); with ``crack_only`` no yellow and no drop."""
    now = state.t
    model = model.cracked(roast.marks.get("first crack"))
    ahead = look_ahead(model, state, schedule)
    path = ahead.path
    within = now <= profile.curve.end  # beyond its end a plan is not extrapolated
    deviation = float(path.mean[0]) - profile.curve.value(now) if within else None
    turned = within and now > profile.curve.turning_point[0] + 20
    then = profile.curve.when(float(path.mean[0])) if turned else None
    reasons: list[str] = []
    cadence = getattr(profile.document.cadence, roast.phase, 60.0)
    age = None if state.reading_t is None else now - state.reading_t
    if age is None or (age > STALE * max(cadence, 30.0) and age > 150.0):
        why = "no reading yet" if age is None else f"no reading for {clock(int(age))}"
        return Forecast(path=None if age is None else path, deviation=deviation, reasons=(why,))
    found: dict[Event, EventForecast | None] = {"yellow": None, "first crack": None}
    for name in found:
        goal = profile.goals.get(name)
        threshold = knowledge.thresholds.get(name)
        marked = "first crack" in roast.marks or name in roast.marks or (crack_only and name == "yellow")
        if goal is None or threshold is None or marked:
            continue
        window = (goal.time - goal.time_tolerance, goal.time + goal.time_tolerance)
        heard = None
        if name == "first crack" and roast.pops:
            heard = partial(sharpened, taps=roast.pops, now=now, settings=profile.document.taps)
        said = event(ahead, path, threshold, now, window, heard)
        if isinstance(said, str):
            if name == "first crack" or not profile.past_yellow(float(path.mean[0])):
                reasons.append(f"{name}: {said}")
        else:
            found[name] = said
    crack = found["first crack"]
    drop = None if crack_only else _drop(ahead, path, profile, roast, knowledge, crack)
    return Forecast(
        path=path, deviation=deviation, lag=None if then is None else now - then,
        yellow=found["yellow"], first_crack=crack, drop=drop, reasons=tuple(reasons),
    )  # fmt: skip


def rise_limits(profile: Profile) -> tuple[float, float]:
    """The rates of rise (K/s) below which a roast stalls before drop, and above which it races."""
    plan = profile.curve.slope(profile.drop_time - 30.0, 60.0)
    return max(FLOOR * plan, 0.01), max(CEILING * plan, plan + 0.05)


def _ends_after(cracks: Array, profile: Profile, habit: DropHabit) -> Array:
    """Development time (s) at which the person drops after each crack: by the plan's ratio, as usual, or as planned."""
    rule = profile.document.drop
    if rule.by == "ratio" and rule.ratio is not None and habit.development is None:
        return np.asarray(cracks * rule.ratio / (1 - rule.ratio))
    development = profile.development if habit.development is None else habit.development
    return np.full(len(cracks), 90.0 if development is None else development)


def _drop(
    ahead: Ahead, path: Path, profile: Profile, roast: Roast, knowledge: Knowledge, crack: EventForecast | None
) -> DropForecast | None:
    """Drop by the person's habit: a mixture of dropping at a temperature and dropping at a development time."""
    if "drop" in roast.marks:
        return None
    habit, now = knowledge.drop, float(path.t[0])
    target = profile.drop_temperature if habit.temperature is None else habit.temperature
    at_target = crossed(ahead.mean, ahead.var + habit.temperature_sd**2, ahead.weights, np.full(len(path.t), target),
                        np.zeros(1))  # fmt: skip
    t_c = roast.marks.get("first crack")
    if t_c is not None:
        cracks = np.full(len(EQUALLY), t_c)
    elif crack is not None:
        cracks = np.array([crack.time.quantile(q) for q in EQUALLY])
    else:
        return None
    ends = _ends_after(cracks, profile, habit)
    times = np.maximum(cracks + ends, now + 1.0)
    mean = np.interp(times + READ_BEFORE, path.t, path.mean)
    sd = np.interp(times, path.t, path.sd)
    if t_c is None and crack is not None:  # at the crack the probe is at the threshold, whenever that is
        threshold = knowledge.thresholds["first crack"]
        at_crack = np.interp(cracks, path.t, path.mean)
        mean = crack.level + (mean - at_crack)
        sd = np.sqrt(threshold.scale**2 + (GROWS * ends) ** 2)
    by_dev = 1.0 - habit.by_temperature
    grid_t = path.t
    p_dev = np.mean(ndtr((grid_t[:, None] - times) / habit.development_sd), axis=1)
    at_target = np.interp(grid_t + READ_BEFORE, grid_t, at_target)
    p_t = np.maximum.accumulate(by_dev * p_dev + (1 - by_dev) * at_target)
    grid = np.arange(target - 25.0, target + 25.25, 0.25)
    p_temp_dev = np.mean(ndtr((grid[:, None] - mean) / (habit.surprise * np.sqrt(sd**2 + AT_DROP**2))), axis=1)
    p_temp = by_dev * p_temp_dev + (1 - by_dev) * ndtr((grid - target) / habit.temperature_sd)
    p_t = _from_now(p_t)
    return DropForecast(Distribution(grid_t, p_t), Distribution(grid, p_temp / p_temp[-1]))


def _from_now(p: Array) -> Array:
    """Condition on its not having happened yet."""
    first = min(float(p[0]), 0.95)
    p = np.clip((p - first) / (1 - first), 0.0, 1.0)
    return np.asarray(p / max(float(p[-1]), 1e-9))
