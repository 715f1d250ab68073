"""Inference from earlier roasts: the forecast's starting knowledge.  Pure: folded roasts in, knowledge out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.forecast.bank import Bank, prior_bank
from coach.forecast.control_inputs import Plan, Schedule
from coach.forecast.estimator import BankState, Model, advance, climb, start, summarise, track
from coach.forecast.event_threshold import Threshold, learn
from coach.forecast.gas_answer import NOTHING, Evidence, GasAnswer, evidence
from coach.forecast.knowledge import DropHabit, Knowledge
from coach.forecast.reference_correction import Rest, refined
from coach.roast.curve import Curve
from coach.roast.entries import Event
from coach.roast.profile import Profile
from coach.roast.roast import Roast

Array = NDArray[np.float64]

LIKELIEST: Final = 4
"""Members of the bank that run where there are earlier roasts: more bring nothing then (tests/bench/README.md)."""
HISTORY: Final = 20
"""Number of the newest roasts that serve as evidence."""
LEARNT: Final[tuple[Event, ...]] = ("yellow", "first crack")
EARLIEST: Final = 40.0
"""Roast time before which readings are no evidence on the reference, s."""
HABIT_TEMPERATURE: Final = 1.2
HABIT_DEVELOPMENT: Final = 4.0
"""Prior scatter of a person's drops: temperature, K, and development, s."""
LATE: Final = 45.0
"""Lead time at which the last reading is forecast to measure its surprise, s."""
MOST_LATE: Final = 9.0
"""A surprise counts at most as three standard deviations."""
WORTH_LATE: Final = 6.0
"""Weight of the prior that it is as modelled, roasts."""
NEAR: Final = 40.0
"""Standard deviation of the normal kernel by which readings near a mark are weighted, s."""
BENDS: Final = 0.008
"""Prior standard deviation of the slope of a deviation near a mark, K/s."""
LAST_BEFORE: Final = 60.0
"""A mark this long after the last reading has no level, s."""
LEVELLED: Final = 0.35
"""Power of the logbook's likelihood: days differ by more than by the model."""


def from_profile(profile: Profile) -> Knowledge:
    """Knowledge without any earlier roast: the priors, and the reference's own marks."""
    return Knowledge(thresholds=_thresholds(profile, [], profile.curve))


@dataclass(frozen=True)
class Lesson:
    """Evidence of one roast: log likelihood of each member (m,), times of its marks (s), and deviations of its readings
    from the reference."""

    log_w: Array
    marks: Mapping[Event, float]
    rest: Rest
    late: float | None = None
    """The squared surprise of the last reading before drop, forecast LATE seconds before: 1 if the model is right."""
    gas: Evidence = NOTHING
    """Evidence of its moves besides the plan on the gas."""


def usable(roast: Roast) -> bool:
    """True if a roast can serve as evidence: with charge and some readings."""
    return roast.charge_at is not None and len(roast.readings) >= 4


def from_lessons(profile: Profile, lessons: Sequence[Lesson]) -> Knowledge:
    """Knowledge from the evidence of several roasts; their order doesn't matter."""
    if not lessons:
        return from_profile(profile)
    curve = refined(profile.curve, [x.rest for x in lessons])
    levels = [_levels(profile, curve, x) for x in lessons]
    return Knowledge(
        bank=_weighed(lessons).best(LIKELIEST),
        reference=curve,
        thresholds=_thresholds(profile, levels, curve),
        drop=replace(
            _habit(profile, [d for x, at in zip(lessons, levels, strict=True) if (d := _dropped(x, at)) is not None]),
            surprise=_surprise([x.late for x in lessons if x.late is not None]),
        ),
        gas=GasAnswer.prior().after([x.gas for x in lessons]),
        count=len(lessons),
    )


def lesson(profile: Profile, roast: Roast) -> Lesson:
    """Evidence of one roast, by running every member of the bank over it."""
    model = Model(prior_bank(), profile.curve, roast.rounding, needle=roast.needle)
    schedule = Plan(profile).schedule(roast, roast.readings[-1].t)
    states = track(model, schedule, roast.readings, start(model))
    last = states[-1]
    marks = {e: t for e in (*LEARNT, "drop") if (t := roast.marks.get(e)) is not None}
    rest, late = _rest(model, schedule, roast, last), _late(model, schedule, roast, states)
    return Lesson(last.log_w, marks, rest, late, gas_evidence(profile, roast))


def gas_evidence(profile: Profile, roast: Roast) -> Evidence:
    """Evidence of a finished roast on this machine's response to gas, whatever profile was followed: its moves besides
    the plan, and the readings after them."""
    if not roast.readings:
        return NOTHING
    end = roast.marks.get("drop", roast.readings[-1].t)
    seen = [r for r in roast.readings if r.t <= end]
    schedule = Plan(profile).schedule(roast, end)
    return evidence(profile.curve, schedule, seen)


def _late(model: Model, schedule: Schedule, roast: Roast, states: Sequence[BankState]) -> float | None:
    """Squared surprise, as in ``Lesson.late``; None without a crack, a drop and a reading."""
    crack, drop = roast.marks.get("first crack"), roast.marks.get("drop")
    if crack is None or drop is None:
        return None
    good = [r for r in roast.readings if r.t <= drop and r.line not in dict(states[-1].doubtful)]
    if not good or good[-1].t < max(crack, drop - LATE):
        return None
    before = [s for s in states if s.reading_t is not None and s.reading_t <= good[-1].t - LATE]
    if not before:
        return None
    then = advance(model, before[-1], schedule, good[-1].t)
    said = summarise(model, then)
    variance = said.temperature_sd**2 + float(then.weights @ model.noise(then.t, turned=good[-1].turned))
    off = model.deviation(good[-1]) + model.curve.value(good[-1].t) - said.temperature
    return min(off**2 / variance, MOST_LATE)


def _rest(model: Model, schedule: Schedule, roast: Roast, last: BankState) -> Rest:
    """The readings less the reference, and what the moves did of that by the gains that the roast ended with."""
    still = start(model)
    x = np.zeros_like(still.x)
    x[:, 2:] = last.x[:, 2:]
    state, w, bad = replace(still, x=x, P=np.zeros_like(still.P)), last.weights, dict(last.doubtful)
    found: list[tuple[float, float, float, float]] = []
    for r in roast.readings:
        state = advance(model, state, schedule, r.t)
        if r.line not in bad and r.t >= EARLIEST:
            moved = float(w @ state.x[:, 0])
            found.append((r.t, model.deviation(r), moved, float(w @ model.noise(r.t, turned=r.turned))))
    return Rest(*np.array(found).reshape(-1, 4).T)


def _weighed(lessons: Sequence[Lesson]) -> Bank:
    """The members weighted by how well each forecast the roasts.  The response to gas is not updated in them:
    a member's gains describe the machine as much as its lags do, and each roast's own gas moves show today's."""
    log_w = LEVELLED * np.sum([x.log_w for x in lessons], axis=0)
    weights = np.exp(log_w - log_w.max())
    return replace(prior_bank(), weights=weights / weights.sum())


def _levels(profile: Profile, curve: Curve, x: Lesson) -> dict[Event, tuple[float, float]]:
    """Temperature (°C) and rate of rise (K/s) at each mark of a roast, read off its readings about the ``curve`` that
    the forecast will follow: where that bends otherwise than the profile's, the level lies elsewhere."""
    if not len(x.rest.t):
        return {}
    off = x.rest.off - (curve.at(x.rest.t) - profile.curve.at(x.rest.t))

    def way(t: Array) -> Array:
        return np.asarray(curve.at(t) + [_near(x.rest.t, off, x.rest.variance, float(at)) for at in t])

    marks = {e: t for e, t in x.marks.items() if t <= x.rest.t[-1] + LAST_BEFORE}
    return {e: (float(way(np.array([t]))[0]), float(climb(way, np.array([t]))[0])) for e, t in marks.items()}


def _near(t: Array, off: Array, variance: Array, at: float) -> float:
    """The deviation at a time (s) by a line through those (n,) K at ``t`` (n,) s, the nearer the weightier, its slope
    drawn to zero (ridge regression: Hastie, Tibshirani and Friedman, The Elements of Statistical Learning, 2nd ed.
    2009, 3.4 and 6.1)."""
    w = np.exp(-0.5 * ((t - at) / NEAR) ** 2) / variance
    X = np.stack([np.ones_like(t), t - at])
    return float(np.linalg.solve((X * w) @ X.T + np.diag([1e-9, 1 / BENDS**2]), (X * w) @ off)[0])


def _dropped(x: Lesson, levels: Mapping[Event, tuple[float, float]]) -> tuple[float, float] | None:
    """Temperature (°C) and development (s) at a roast's drop."""
    crack = x.marks.get("first crack")
    return None if crack is None or "drop" not in levels else (levels["drop"][0], x.marks["drop"] - crack)


def _thresholds(
    profile: Profile, found: Sequence[Mapping[Event, tuple[float, float]]], curve: Curve
) -> dict[str, Threshold]:
    out: dict[str, Threshold] = {}
    for name in LEARNT:
        goal = profile.goals.get(name)
        if goal is None:
            continue
        off = curve.value(goal.time) - profile.curve.value(goal.time)
        rate = float(climb(curve.at, np.array([goal.time]))[0])
        pairs = [(goal.temperature + off, rate), *(x[name] for x in found if name in x)]
        out[name] = learn(name, [p[0] for p in pairs], [p[1] for p in pairs])
    return out


def _scatter(values: Array, prior: float) -> float:
    """The predictive standard deviation of the next value: the sample's, drawn to a prior worth four values (the
    normal model with unknown mean and variance, Gelman et al. 2013, section 3.3)."""
    n = len(values)
    variance = (4 * prior**2 + float(((values - values.mean()) ** 2).sum())) / (4 + n - 1)
    return float(np.sqrt(variance * (1 + 1 / n)))


def _surprise(late: Sequence[float]) -> float:
    """Factor by which the spread at drop is to be multiplied: the posterior scale of a normal's variance with a
    scaled-inverse-chi-square prior about 1 (Gelman et al. 2013, section 2.6)."""
    return float(np.sqrt((WORTH_LATE + sum(late)) / (WORTH_LATE + len(late))))


def _habit(profile: Profile, drops: Sequence[tuple[float, float]]) -> DropHabit:
    """Drop habit of the person, from temperature (°C) and development (s) at each drop: which of them was kept to."""
    base = DropHabit(by_temperature=1.0 if profile.document.drop.by == "temperature" else 0.0)
    if len(drops) < 3:
        return replace(base, by_temperature=0.5)
    temperatures, developments = np.array(drops).T
    rate = max(profile.curve.slope(profile.drop_time - 20, 40.0), 0.02)
    s_t, s_d = _scatter(temperatures, HABIT_TEMPERATURE), _scatter(developments, HABIT_DEVELOPMENT)
    odds = (s_d * rate / s_t) ** len(drops)
    return DropHabit(odds / (1 + odds), s_t, s_d, float(np.mean(temperatures)), float(np.mean(developments)))
