"""How a person keeps to planned moves, and what that makes of the forecast."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy import stats
from workshops import DEVELOPMENT, Workshop, workshop

from coach.forecast.control_inputs import Schedule
from coach.forecast.learning import from_profile, from_roasts
from coach.forecast.plan_adherence import Hand, kept, learnt
from coach.forecast.predictor import Outlook
from coach.forecast.projection import Ahead, look_ahead


@cache
def place() -> Workshop:
    found = workshop(DEVELOPMENT, 3, 4, 1)
    assert found is not None
    return found


def _ahead(hand: Hand, t: float) -> tuple[Ahead, Schedule]:
    w = place()
    roast = w.live[0].roast
    outlook = Outlook(w.profile, replace(from_profile(w.profile), hand=hand), roast.rounding)
    now = roast.until(t)
    schedule = outlook.plan.schedule(now, t)
    return look_ahead(outlook.model, outlook.state(t, now, schedule), schedule), schedule


def test_moves_made_on_time_late_and_not_at_all() -> None:
    w = place()
    roast = w.live[0].roast
    planned = [s for s in w.profile.steps if 30 <= s.time <= roast.marks["drop"] - 15]
    template = roast.moves[0]
    made = [replace(template, control=s.control, value=s.value, t=s.time + 12.0) for s in planned]
    assert kept(w.profile, replace(roast, moves=tuple(made))) == pytest.approx([12.0] * len(planned))
    assert kept(w.profile, replace(roast, moves=tuple(made[1:]))) == pytest.approx([None, *[12.0] * (len(planned) - 1)])
    other = [replace(made[0], value=made[0].value * 1.5), *made[1:]]
    assert kept(w.profile, replace(roast, moves=tuple(other)))[0] is None


def test_the_hand_is_learnt_by_the_conjugate_rules() -> None:
    """Beta prior of 15 moves, scaled inverse chi-square of 8 (Gelman et al. 2013, 2.4 and 2.6), against scipy's."""
    assert learnt([]).left_out == pytest.approx(0.06)
    assert learnt([]).uneven == pytest.approx(11.0)
    hand = learnt([(2.0, None, 4.0), (0.0, 3.0)])
    assert hand.left_out == pytest.approx(stats.beta(15 * 0.06 + 1, 15 * 0.94 + 4).mean())
    assert hand.uneven**2 == pytest.approx((8 * 11.0**2 + 4.0 + 16.0 + 0.0 + 9.0) / 12)


def test_what_was_made_is_no_longer_in_doubt() -> None:
    t = place().live[0].roast.marks["first crack"]
    _, schedule = _ahead(Hand(), 200.0)
    assert len(schedule.due) > 0
    assert all(d.time > 200.0 for d in schedule.due)
    assert all(d.until > d.time for d in schedule.due)
    _, late = _ahead(Hand(), t)
    assert len(late.due) < len(schedule.due)


def test_a_hand_that_is_sure_leaves_the_way_as_it_was_and_an_unsure_one_widens_it() -> None:
    sure, _ = _ahead(Hand(0.0, 0.0), 200.0)
    wide, schedule = _ahead(Hand(20.0, 0.2), 200.0)
    before = sure.t < schedule.due[0].time - 5.0
    assert np.allclose(sure.var[:, before], wide.var[:, before])
    assert (wide.var[:, -1] > sure.var[:, -1]).all()
    assert np.allclose(sure.mean[:, before], wide.mean[:, before])


def test_the_doubt_is_that_of_persons_drawn_at_random() -> None:
    """The spread of the way over 2,000 hands that make each move late or leave it out, worked out one by one."""
    w, hand, t = place(), Hand(8.0, 0.1), 200.0
    roast = w.live[0].roast.until(t)
    outlook = Outlook(w.profile, replace(from_profile(w.profile), hand=Hand(0.0, 0.0)), roast.rounding)
    plain = outlook.plan.schedule(roast, t)
    state = outlook.state(t, roast, plain)
    rng = np.random.default_rng(5)
    base = look_ahead(outlook.model, state, plain).mean
    due = [d for d in plain.due if d.time < t + 400]
    total, square = np.zeros_like(base), np.zeros_like(base)
    cases = 2000
    for _ in range(cases):
        times, values = list(plain.times), [v.copy() for v in plain.values]
        for d in due:
            u = np.zeros(3)
            u[d.control] = -d.change
            late = d.until if rng.random() < hand.left_out else d.time + hand.uneven * rng.normal()
            for at, sign in ((d.time, 1.0), (late, -1.0)):
                if np.isfinite(at):
                    times.append(max(at, t + 0.1))
                    values.append(sign * u)
        order = np.argsort(times, kind="stable")
        steps = np.diff(np.vstack([np.zeros(3), plain.values]), axis=0).tolist() + values[len(plain.times) :]
        summed = np.cumsum(np.array(steps)[order], axis=0)
        way = look_ahead(outlook.model, state, Schedule(np.array(times)[order], summed)).mean - base
        total += way
        square += way**2
    sd = np.sqrt(square / cases - (total / cases) ** 2)
    model = replace(outlook.model, hand=hand)
    said = look_ahead(model, state, plain)
    plainly = look_ahead(outlook.model, state, plain)
    near = plain.due[0].time - t + 60
    i = int(np.searchsorted(said.t - t, near))
    claimed = np.sqrt(said.var - plainly.var)[:, i]
    assert claimed == pytest.approx(sd[:, i], rel=0.2)
    assert (said.mean - base)[:, i] == pytest.approx((total / cases)[:, i], abs=0.1 * float(sd[:, i].max()))


def test_the_hand_comes_with_what_was_learnt() -> None:
    w = place()
    hand = from_roasts(w.profile, [d.roast for d in w.earlier]).hand
    assert hand != Hand()
    assert 1.0 < hand.uneven < 30.0
