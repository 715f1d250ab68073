"""From earlier roasts to what the forecast starts with.  Pure: folded roasts in, knowledge out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from coach.bank import Bank, prior_bank
from coach.entries import Event
from coach.estimate import Model, State, start, track
from coach.inputs import Plan, Schedule
from coach.knowledge import DropHabit, Knowledge
from coach.profile import Profile
from coach.roast import Roast
from coach.threshold import Threshold, learn

MEMBERS: Final = 16
"""Members of the bank that run in a roast."""
SCREENED: Final = 64
"""Members that are tried on the logbook."""
HISTORY: Final = 20
"""How many of the newest roasts are learnt from."""
LEVELLED: Final = 0.35
"""Power of the logbook's likelihood: days differ by more than the model says."""


@dataclass(frozen=True)
class Past:
    """An earlier roast with its inputs, ready for the filter."""

    roast: Roast
    schedule: Schedule


def from_profile(profile: Profile) -> Knowledge:
    """What is known without any earlier roast: the priors, and the reference's own marks."""
    return Knowledge(bank=prior_bank(MEMBERS), thresholds=_thresholds(profile, [], []))


def from_roasts(profile: Profile, roasts: Sequence[Roast]) -> Knowledge:
    """What earlier roasts of this profile (oldest first) teach; those without readings or charge are passed over."""
    usable = [r for r in roasts if r.charge_at is not None and len(r.readings) >= 4][-HISTORY:]
    if not usable:
        return from_profile(profile)
    plan = Plan(profile)
    past = [Past(r, plan.schedule(r, r.readings[-1].t)) for r in usable]
    bank = _weigh(profile, past).best(MEMBERS)
    model = Model(bank, profile.curve, 1.0)
    tracks = [track(model, p.schedule, p.roast.readings, start(model)) for p in past]
    return Knowledge(
        bank=bank,
        thresholds=_thresholds(profile, past, tracks),
        drop=_habit(profile, past, tracks),
        count=len(usable),
    )


def _weigh(profile: Profile, past: Sequence[Past]) -> Bank:
    """A large bank weighted by how well each member foretold the earlier roasts; gains carried on from each."""
    bank = prior_bank(SCREENED)
    log_w = np.log(bank.weights)
    for p in past:
        flat = replace(bank, weights=np.full(bank.size, 1 / bank.size))
        model = Model(flat, profile.curve, p.roast.rounding)
        states = track(model, p.schedule, p.roast.readings, start(model))
        last = states[-1]
        log_w = log_w + LEVELLED * last.log_w
        cov = last.P[:, 2:, 2:] + np.diag([0.015, 0.008, 0.005]) ** 2
        bank = replace(bank, gain=last.x[:, 2:], gain_cov=cov)
    weights = np.exp(log_w - log_w.max())
    return replace(bank, weights=weights / weights.sum())


def _level(profile: Profile, p: Past, states: Sequence[State], t: float) -> tuple[float, float] | None:
    """Temperature (°C) and rate of rise (K/s) at a mark: deviations of the readings around it, interpolated."""
    kept = [s for s in states if s.reading_t is not None]
    if not kept or t > kept[-1].t + 60:
        return None
    times = np.array([s.t for s in kept])
    e = np.array([float(s.weights @ s.x[:, 0]) for s in kept])
    level = profile.curve.value(t) + float(np.interp(t, times, e))
    before, after = np.interp([t - 25.0, t + 25.0], times, e)
    return level, profile.curve.slope(t, 30.0) + float(after - before) / 50.0


def _thresholds(profile: Profile, past: Sequence[Past], tracks: Sequence[Sequence[State]]) -> dict[str, Threshold]:
    out: dict[str, Threshold] = {}
    names: tuple[Event, ...] = ("yellow", "first crack")
    for name in names:
        goal = profile.goals.get(name)
        if goal is None:
            continue
        levels, rates = [goal.temperature], [profile.curve.slope(goal.time, 30.0)]
        for p, states in zip(past, tracks, strict=True):
            t = p.roast.marks.get(name)
            found = None if t is None else _level(profile, p, states, t)
            if found is not None:
                levels.append(found[0])
                rates.append(found[1])
        out[name] = learn(name, levels, rates)
    return out


def _habit(profile: Profile, past: Sequence[Past], tracks: Sequence[Sequence[State]]) -> DropHabit:
    """How the person dropped: the filtered temperature and the development at each drop, and which was kept to."""
    temperatures, developments = [], []
    for p, states in zip(past, tracks, strict=True):
        r = p.roast
        if "drop" not in r.marks or "first crack" not in r.marks:
            continue
        found = _level(profile, p, states, r.marks["drop"])
        if found is None:
            continue
        temperatures.append(found[0])
        developments.append(r.marks["drop"] - r.marks["first crack"])
    base = DropHabit(by_temperature=1.0 if profile.document.drop.by == "temperature" else 0.0)
    if len(temperatures) < 3:
        return replace(base, by_temperature=0.5)
    rate = max(profile.curve.slope(profile.drop_time - 20, 40.0), 0.02)
    s_t = max(float(np.std(temperatures, ddof=1)), 0.5)
    s_d = max(float(np.std(developments, ddof=1)), 2.0)
    n = len(temperatures)
    odds = (s_d * rate / s_t) ** n
    return DropHabit(odds / (1 + odds), s_t, s_d, float(np.mean(temperatures)), float(np.mean(developments)))
