"""The rules behind an advised move: when it may come, what is planned, what it is about, its words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm
from test_advice import profile, roasted

import coach.forecast.predictor as module
from coach.advice.advice_values import NO_TIME, Advice, Aim, aim_of
from coach.advice.advise import EARLY, advise
from coach.advice.wording import effect, move_text
from coach.forecast.control_inputs import NEAR, due_of, is_planned
from coach.forecast.distribution import Distribution
from coach.forecast.predictor import Outlook
from coach.roast.entries import Header
from coach.roast.gauges import Gauge
from coach.roast.profile import Step
from coach.roast.roast import Probe, Roast, Turned
from coach.session.coach import Coach

HEADER = Header(id="x", started="2026-11-02T08:00:00+00:00")


def normal(mean: float, sd: float) -> Distribution:
    x = mean + sd * np.linspace(-8, 8, 1601)
    return Distribution(x, np.asarray(norm.cdf(x, mean, sd)))


def test_before_the_probe_has_turned_nothing_is_advised() -> None:
    coach = roasted(330.0, hotter=6.0)
    outlook = Outlook(profile(), coach.knowledge, 1.0)
    t = profile().curve.turning_point[0] + 20.0
    found = advise(outlook, t, coach.roast.until(t), coach.situation.forecast, coach.situation.estimate)
    assert found is not None
    assert (found.kind, found.text) == ("quiet", "")


def test_a_what_if_on_an_odd_day_is_as_wide_as_the_forecast_beside_it() -> None:
    coach = roasted(330.0, hotter=6.0)
    usual = Outlook(profile(), coach.knowledge, 1.0)
    odd_roast = replace(coach.roast, header=coach.roast.header.model_copy(update={"batch_kg": 2.0}))
    odd = Outlook(profile(), coach.knowledge, 1.0)
    moves = ((340.0, "gas", 0.8),)
    a = usual.what_if(330.0, coach.roast, moves).first_crack  # type: ignore[arg-type]
    b = odd.what_if(330.0, odd_roast, moves).first_crack  # type: ignore[arg-type]
    assert a is not None
    assert b is not None
    assert b.time.spread == pytest.approx(module.ODD_WIDER * a.time.spread, rel=0.05)


@pytest.mark.parametrize(
    ("late", "value", "planned"),
    [(0, 1.2, True), (44, 1.2, True), (-44, 1.2, True), (46, 1.2, False), (0, 1.25, False)],
)
def test_a_planned_move_is_its_setting_about_its_time(late: float, value: float, planned: bool) -> None:
    step = next(s for s in profile().steps if s.control == "gas" and s.value == pytest.approx(1.2))
    move = Turned(step.time + late, "gas", value, 2, value)
    assert is_planned(profile(), Roast(HEADER), move) is planned
    assert abs(late) <= NEAR or not planned


def test_a_move_that_is_due_after_an_event_or_at_a_temperature_is_due_when_that_came() -> None:
    after = Step("gas", 0.8, 0.8, 500.0, event="first crack", after=20.0)
    warm = Step("gas", 0.8, 0.8, 300.0, temperature=150.0)
    readings = tuple(Probe(t, c, 2, t, c) for t, c in ((30.0, 200.0), (330.0, 148.0), (347.0, 151.0)))
    roast = Roast(HEADER, 0.0, {"charge": 0.0, "first crack": 530.0}, readings=readings)
    assert due_of(after, roast) == 550.0
    assert due_of(after, Roast(HEADER)) == 500.0
    assert due_of(warm, roast) == 347.0
    assert due_of(warm, Roast(HEADER)) == 300.0


def test_the_words_of_a_move() -> None:
    aim = Aim("crack", normal(485.0, 8.0), 510.0, 20.0)
    text = move_text(
        profile(), aim, Gauge("gas", 0.1, 0.0, 4.0, 2.0, None), current=1.3, base=1.3, value=1.1, moment=420.0,
        deadline=430.0, bites=460.0, after=normal(506.0, 7.0),
    )  # fmt: skip
    assert text == "gas 1.3 to 1.1 by 7:10; takes effect from 7:40; crack 8:05 to 8:26 (8:17-8:35), plan 8:30"


@pytest.mark.parametrize(
    ("now", "after", "text"),
    [
        (210.4, 208.8, "drop 210 to 209 °C (207-211), plan 209"),
        (209.4, 209.0, "drop 209 °C, 0.4° cooler (207-211), plan 209"),
        (208.6, 209.1, "drop 209 °C, 0.5° hotter (207-211), plan 209"),
    ],
)
def test_an_effect_on_the_drop_too_small_for_whole_degrees_is_said_in_tenths(
    now: float, after: float, text: str
) -> None:
    aim = Aim("drop", normal(now, 2.0), 209.0, 2.0)
    assert effect(profile(), aim, normal(after, 1.4)) == text


def test_the_aim_is_the_crack_until_it_is_marked_or_near_and_then_the_drop() -> None:
    coach = roasted(330.0)
    aim = aim_of(profile(), coach.roast, coach.situation.forecast, 330.0)
    assert aim is not None
    assert aim.what == "crack"
    marked = replace(coach.roast, marks={**coach.roast.marks, "first crack": 329.0})
    then = aim_of(profile(), marked, coach.situation.forecast, 330.0)
    assert then is not None
    assert (then.what, then.late) == ("drop", False)
    soon = aim_of(profile(), coach.roast, coach.situation.forecast, aim.now.median - NO_TIME + 1.0)
    assert soon is not None
    assert (soon.what, soon.late) == ("drop", True), "too late for the crack"


def advised(coach: Coach, at: float, crack: float, e: float, roast: Roast | None = None) -> Advice:
    """The advice at a roast time, s, with this forecast of the crack, s, and so many kelvins off the reference."""
    s, outlook = coach.situation, Outlook(profile(), coach.knowledge, 1.0)
    assert s.estimate is not None
    assert s.forecast.first_crack is not None
    curve = outlook.model.curve
    off = replace(s.estimate, t=at, temperature=curve.value(at) + e, rate=curve.slope(at), reading_t=at - 2.0)
    foreseen = replace(s.forecast, first_crack=replace(s.forecast.first_crack, time=normal(crack, 10.0)))
    found = advise(outlook, at, coach.roast if roast is None else roast, foreseen, off)
    assert found is not None
    return found


def test_early_a_large_move_is_split() -> None:
    """At 3:00 the gas stands at 1.6 kPa; 6 K off asks for 0.3: at most 15 % while over four and a half minutes are
    left, 30 % of the highest planned gas after that."""
    coach = roasted(180.0)
    assert advised(coach, 180.0, 180.0 + EARLY + 5.0, 6.0).shown == pytest.approx(1.4)
    assert advised(coach, 180.0, 180.0 + EARLY - 5.0, 6.0).shown == pytest.approx(1.1)


def test_no_move_is_stated_to_take_the_crack_past_the_plan() -> None:
    """5 K off asks for the largest move: it is made smaller until the stated crack, in the median, passes the plan by
    no more than its tolerance; where the crack is late already, there is a reason instead."""
    goal, coach = profile().goals["first crack"], roasted(300.0)
    shown = []
    for early in (60.0, 25.0, 10.0):
        a = advised(coach, 300.0, goal.time - early, 5.0)
        assert a.shown is not None
        assert a.crack_after is not None
        assert a.crack_after[1] <= goal.time + goal.time_tolerance
        shown.append(a.shown)
    assert shown[0] < shown[1] < shown[2]
    late = advised(coach, 300.0, goal.time + 30.0, 5.0)
    assert late.kind == "wait"
    assert "less gas would make it too late" in late.text
    assert advised(coach, 300.0, goal.time + 1.0, 5.0).text == "First crack near plan: no move needed"


@pytest.mark.timeout(30)
def test_a_setting_between_two_marks_of_the_gauge_ends_in_a_reason() -> None:
    """Half a mark is more than the smallest change here: no mark on the way lies near enough to the setting."""
    goal, coach = profile().goals["first crack"], roasted(250.0)
    odd = replace(coach.roast, moves=(*coach.roast.moves, Turned(190.0, "gas", 0.55, 99, 0.55)))
    for off, early in ((4.6, 1.0), (4.2, -1.0)):
        found = advised(coach, 250.0, goal.time - early, off, odd)
        assert (found.control, found.text) == (None, "First crack near plan: no move needed")


@pytest.mark.parametrize("at", [200.0, 300.0, 360.0])
def test_surely_off_the_plan_there_is_a_move_within_limits_or_a_reason(at: float) -> None:
    goal, limits = profile().goals["first crack"].time, profile().document.limits.gas
    assert limits is not None
    coach = roasted(at)
    for off in (-60.0, 60.0):
        for e in (-9.0, -3.0, 0.0, 3.0, 9.0):
            found = advised(coach, at, goal + off, e)
            assert found.kind != "quiet"
            assert found.text
            if found.kind == "move":
                assert found.shown is not None
                assert limits[0] <= found.shown <= limits[1]


def test_no_move_is_advised_that_by_its_own_words_leads_away_from_the_plan() -> None:
    coach = roasted(330.0)
    plan = profile().goals["first crack"].time
    hot = advised(coach, 340.0, plan - 25.0, 4.0)
    assert hot.kind == "move"
    assert hot.value is not None
    assert hot.crack_before is not None
    assert hot.crack_after is not None
    assert abs(hot.crack_after[1] - plan) <= abs(hot.crack_before[1] - plan)
    for crack in (plan, plan + 25.0):  # hot, and yet not early by the forecast
        assert advised(coach, 340.0, crack, 4.0).kind != "move"
