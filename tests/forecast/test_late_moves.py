"""Planned moves may be made late or left out, and what that makes of the forecast."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest
from workshops import DEVELOPMENT, Workshop, workshop

from coach.forecast import projection
from coach.forecast.control_inputs import Schedule
from coach.forecast.learning import from_profile
from coach.forecast.predictor import Outlook
from coach.forecast.projection import Ahead, look_ahead


@cache
def place() -> Workshop:
    found = workshop(DEVELOPMENT, 3, 4, 1)
    assert found is not None
    return found


def _ahead(t: float) -> tuple[Ahead, Schedule]:
    w = place()
    roast = w.live[0].roast
    outlook = Outlook(w.profile, from_profile(w.profile), roast.rounding)
    now = roast.until(t)
    schedule = outlook.plan.schedule(now, t)
    return look_ahead(outlook.model, outlook.state(t, now, schedule), schedule), schedule


@pytest.fixture
def doubt(monkeypatch: pytest.MonkeyPatch) -> Callable[[float, float], None]:
    """Sets how unevenly planned moves are made (s), and what share of them is left out."""

    def setting(uneven: float, left_out: float) -> None:
        monkeypatch.setattr(projection, "UNEVEN", uneven)
        monkeypatch.setattr(projection, "LEFT_OUT", left_out)

    return setting


def test_what_was_made_is_no_longer_in_doubt() -> None:
    t = place().live[0].roast.marks["first crack"]
    _, schedule = _ahead(200.0)
    assert len(schedule.due) > 0
    assert all(d.time > 200.0 for d in schedule.due)
    assert all(d.until > d.time for d in schedule.due)
    _, late = _ahead(t)
    assert len(late.due) < len(schedule.due)


def test_moves_that_are_sure_leave_the_way_as_it_was_and_unsure_ones_widen_it(
    doubt: Callable[[float, float], None],
) -> None:
    doubt(0.0, 0.0)
    sure, _ = _ahead(200.0)
    doubt(20.0, 0.2)
    wide, schedule = _ahead(200.0)
    before = sure.t < schedule.due[0].time - 5.0
    assert np.allclose(sure.var[:, before], wide.var[:, before])
    assert (wide.var[:, -1] > sure.var[:, -1]).all()
    assert np.allclose(sure.mean[:, before], wide.mean[:, before])


def test_the_doubt_is_that_of_persons_drawn_at_random(doubt: Callable[[float, float], None]) -> None:
    """The spread of the way over 2,000 hands that make each move late or leave it out, worked out one by one."""
    w, t, uneven, left_out = place(), 200.0, 8.0, 0.1
    doubt(0.0, 0.0)
    roast = w.live[0].roast.until(t)
    outlook = Outlook(w.profile, from_profile(w.profile), roast.rounding)
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
            late = d.until if rng.random() < left_out else d.time + uneven * rng.normal()
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
    plainly = look_ahead(outlook.model, state, plain)
    doubt(uneven, left_out)
    said = look_ahead(outlook.model, state, plain)
    near = plain.due[0].time - t + 60
    i = int(np.searchsorted(said.t - t, near))
    claimed = np.sqrt(said.var - plainly.var)[:, i]
    assert claimed == pytest.approx(sd[:, i], rel=0.2)
    assert (said.mean - base)[:, i] == pytest.approx((total / cases)[:, i], abs=0.1 * float(sd[:, i].max()))
