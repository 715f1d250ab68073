"""What the plan is after a move of the person's own: what stands for a planned move, and what is asked for then."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from test_advice import profile, roasted, spread

from coach.advice.advice_values import aim_of
from coach.advice.advise import MADE_IN, advise, ground_of, shifts_of
from coach.cues.conditions import move_due
from coach.forecast.control_inputs import NEAR, Plan, answered, is_planned, meant
from coach.forecast.gas_answer import GasAnswer
from coach.forecast.predictor import Outlook
from coach.roast.entries import Header, Move
from coach.roast.profile import Profile
from coach.roast.roast import Roast, Turned
from coach.session.coach import Coach

HEADER = Header(id="x", started="2026-11-02T08:00:00+00:00")


def planned(*steps: tuple[float, float]) -> Profile:
    """The demo profile with these moves of the gas (roast time s, kPa) after the charge's."""
    document = profile().document
    first = next(m for m in document.moves if m.control == "gas")
    moves = [first.model_copy(update={"at_time": t, "value": v}) for t, v in ((0.0, 1.6), *steps)]
    return Profile(document.model_copy(update={"moves": moves}))


def done(*moves: tuple[float, float]) -> Roast:
    """A roast with these moves of the gas."""
    turned = tuple(Turned(t, "gas", v, i, v) for i, (t, v) in enumerate(((0.0, 1.6), *moves)))
    return Roast(HEADER, 0.0, {"charge": 0.0}, moves=turned)


def which(p: Profile, roast: Roast, now: float) -> list[float]:
    """When those planned moves were due that count as answered."""
    return [s.time for s in p.steps if s.time > 1 and answered(p, roast, s, s.time, now)]


def test_a_move_is_meant_as_the_nearest_planned_one_of_its_setting() -> None:
    p = planned((500.0, 0.0), (520.0, 1.2), (540.0, 0.0), (560.0, 1.2))
    roast = done((501.0, 0.0), (522.0, 1.2))
    found = [meant(p, roast, m) for m in roast.moves[1:]]
    assert [s.time for s in found if s is not None] == [500.0, 520.0]
    assert which(p, roast, 545.0) == [500.0, 520.0], "the second time out is still to come"


def test_a_planned_move_doesnt_answer_the_next_one_close_after_it() -> None:
    p = planned((300.0, 1.2), (330.0, 0.8))
    assert which(p, done((302.0, 1.2)), 335.0) == [300.0]
    assert which(p, done((302.0, 1.2), (333.0, 0.8)), 335.0) == [300.0, 330.0]


def test_a_planned_move_made_too_late_doesnt_answer_the_next() -> None:
    p = planned((300.0, 1.2), (400.0, 0.7))
    late = done((300.0 + NEAR + 15.0, 1.2))
    assert not is_planned(p, late, late.moves[-1])
    assert 400.0 not in which(p, late, 390.0)


@pytest.mark.parametrize("value", [1.4, 0.8, 1.9])
def test_a_move_of_ones_own_just_before_a_planned_one_stands_for_it_at_once(value: float) -> None:
    p = planned((300.0, 1.2), (400.0, 0.7))
    roast = done((300.0 - NEAR + 5.0, value))
    assert which(p, roast, 300.0 - NEAR + 6.0) == [300.0]
    schedule = Plan(p).schedule(roast, 300.0 - NEAR + 6.0)
    assert [d.time for d in schedule.due] == [400.0]
    before = done((300.0 - NEAR - 5.0, value))
    assert which(p, before, 299.0) == [], "far before it, both are made"


def test_going_back_to_the_plan_before_a_planned_move_leaves_it_due_and_keeping_a_setting_after_it_doesnt() -> None:
    p = planned((300.0, 1.2), (400.0, 0.7))
    assert which(p, done((200.0, 1.8), (280.0, 1.6)), 290.0) == []
    assert which(p, done((280.0, 1.6)), 290.0) == [300.0], "set anew as it stands: kept past it"
    assert which(p, done((270.0, 1.9), (285.0, 1.6)), 290.0) == [], "what was decided last counts"
    assert which(p, done((200.0, 1.8), (301.0, 1.6)), 310.0) == [300.0]


def test_a_what_if_counts_as_the_move_itself_would() -> None:
    p = planned((300.0, 1.2), (400.0, 0.7))
    asked = Plan(p).schedule(done(), 280.0, ((280.0, "gas", 1.4),))
    made = Plan(p).schedule(done((280.0, 1.4)), 281.0)
    assert [d.time for d in asked.due] == [d.time for d in made.due] == [400.0]
    far = Plan(p).schedule(done(), 200.0, ((200.0, "gas", 1.4),))
    assert [d.time for d in far.due] == [300.0, 400.0]


# -- with the coach ----------------------------------------------------------------------------------------------------


def due(coach: Coach) -> tuple[float, float] | None:
    """The next planned move that is asked for: when it is due by the plan, and to what."""
    m = coach.situation.next_move
    return None if m is None else (m.step.time, m.step.shown)


def test_while_advice_takes_the_place_of_a_planned_move_its_setting_is_asked_for() -> None:
    coach = roasted(330.0, hotter=6.0)
    a = coach.situation.advice
    assert a is not None
    assert a.instead is not None
    assert (a.instead.time, a.instead.shown) == (335.0, 1.2)
    assert a.shown is not None
    assert a.shown < 1.2
    assert due(coach) == (335.0, a.shown)
    text = move_due(coach.situation).text
    assert f"gas to {a.shown:g}" in text
    assert "1.2" not in text


def test_after_a_followed_advice_the_planned_move_it_stood_for_is_not_asked_for_any_more() -> None:
    coach = roasted(330.0, hotter=6.0)
    a = coach.situation.advice
    assert a is not None
    assert a.shown is not None
    charge = coach.roast.charge_at or 0.0
    coach.receive(Move(at=charge + 331.0, control="gas", value=a.shown))
    for at in (331.0, 334.0, 336.0, 348.0, 390.0):
        coach.advance(charge + at)
        assert due(coach) == (484.0, 0.8), at
        assert "move due" not in {c.name for c in coach.cues}


def test_advised_to_keep_the_gas_the_planned_move_is_not_asked_for() -> None:
    coach = roasted(330.0, hotter=-2.5)
    a = coach.situation.advice
    assert a is not None
    assert a.instead is not None
    assert ", not 1.2," in a.text
    assert due(coach) == (484.0, 0.8)
    assert "1.2" not in move_due(coach.situation).text


@pytest.mark.parametrize(("e", "shown", "when", "less"), [(-1.0, 1.4, "at 5:35", False), (2.0, 0.9, "by 5:25", True)])
def test_a_planned_move_is_made_smaller_at_its_time_and_larger_at_once(
    e: float, shown: float, when: str, less: bool
) -> None:
    """Gas 1.6 kPa, 1.2 planned at 5:35: what the smaller move does is seen against the planned one, both at 5:35; the
    larger one cuts the gas earlier, too, and so does more than it would at 5:35."""
    coach = roasted(300.0)
    plan, crack, outlook = (
        profile().goals["first crack"].time,
        60.0 if e < 0 else -60.0,
        Outlook(profile(), coach.knowledge, 1.0),
    )
    s, curve = coach.situation, outlook.model.curve
    assert s.estimate is not None
    assert s.forecast.first_crack is not None
    estimate = replace(
        s.estimate, t=300.0, temperature=curve.value(300.0) + e, rate=curve.slope(300.0), reading_t=298.0
    )
    foreseen = replace(s.forecast, first_crack=replace(s.forecast.first_crack, time=spread(plan + crack)))
    found = advise(outlook, 300.0, coach.roast, foreseen, estimate)
    assert found is not None
    assert found.shown == pytest.approx(shown)
    assert f"gas 1.6 to {shown}, not 1.2, {when};" in found.text
    assert found.crack_before is not None
    assert found.crack_after is not None
    assert (found.crack_after[1] > found.crack_before[1]) == less
    ground = ground_of(profile(), 300.0, coach.roast)
    aim = aim_of(profile(), coach.roast, foreseen, 300.0)
    assert ground is not None
    assert aim is not None
    assert foreseen.path is not None
    assert found.value is not None
    now, then = (
        shifts_of(outlook, GasAnswer.prior(), foreseen, foreseen.path, aim, g, found.value)[0]
        for g in (ground, replace(ground, soonest=ground.moment))
    )
    assert np.all(np.abs(now) > np.abs(then)) if less else np.array_equal(now, then)


def test_advice_doesnt_come_so_shortly_before_a_planned_move_that_it_would_take_its_place_by_chance() -> None:
    coach = roasted(330.0, hotter=6.0)
    outlook = Outlook(profile(), coach.knowledge, 1.0)
    for ahead in (NEAR + 1.0, NEAR + MADE_IN - 1.0):
        t = 335.0 - ahead
        then = coach.roast.until(t)
        ground = ground_of(profile(), t, then)
        assert ground is not None
        assert ground.next_due == 335.0
        estimate, forecast = outlook.at(t, then)
        assert estimate is not None
        found = advise(outlook, t, then, forecast, replace(estimate, temperature=estimate.temperature + 9.0))
        assert found is not None
        assert (found.kind, found.control) == ("wait", None)
        assert "5:35" in found.text
    t = 335.0 - NEAR - 60.0
    then = coach.roast.until(t)
    estimate, forecast = outlook.at(t, then)
    assert estimate is not None
    found = advise(outlook, t, then, forecast, replace(estimate, temperature=estimate.temperature + 9.0))
    assert found is not None
    assert found.deadline is not None
    assert found.deadline <= 335.0 - NEAR
