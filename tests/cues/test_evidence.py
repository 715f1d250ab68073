"""What moves count as an answer, and when crack is listened for: each rule at its limits."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coach.advice.advice_values import Advice
from coach.cues.evidence import SHOWN_AHEAD, asks_for, corrected, gas_off, last_doubtful, last_used, listening, made
from coach.cues.situation import Situation
from coach.cues.table import RULES
from coach.forecast.forecast_values import Estimate, Forecast
from coach.roast.roast import Turned
from coach.roast.units import Control
from tests.cues.situations import PROFILE, Story, crack, plan

Move = tuple[float, Control, float]


def at(t: float, *moves: Move, advice: Advice | None = None, forecast: Forecast | None = None) -> Situation:
    """A moment with readings on the plan and these moves of gas, air and drum (roast time s, core units)."""
    made_so_far = Story({"yellow": 244.0}, [plan(x) for x in range(40, int(t), 30)], gas=()).at(t)
    turned = tuple(Turned(when, control, value, 50 + i, value) for i, (when, control, value) in enumerate(moves))
    roast = replace(made_so_far.roast, moves=turned)
    return replace(made_so_far, roast=roast, advice=advice, forecast=forecast or Forecast())


STEP = next(s for s in PROFILE.steps if s.control == "gas" and s.time > 100)
"""The plan's gas: 1.6 at charge, 1.2 at 5:35."""


# -- gas moves ---------------------------------------------------------------------------------------------------------


def test_a_move_counts_against_the_setting_before_it() -> None:
    s = at(300, (0, "gas", 1.6), (200, "gas", 1.0), (250, "gas", 1.4))
    assert corrected(s, "less heat", 100) == 200.0
    assert corrected(s, "more heat", 100) == 250.0, "up from 1.0, though under the plan"


def test_the_first_move_counts_against_the_plan() -> None:
    assert corrected(at(300, (200, "gas", 1.3)), "less heat", 100) == 200.0
    assert corrected(at(300, (200, "gas", 1.3)), "more heat", 100) is None
    assert corrected(at(300, (200, "gas", 1.8)), "more heat", 100) == 200.0
    assert corrected(at(300, (200, "gas", 1.6)), "less heat", 100) is None, "as planned: no change"
    assert corrected(at(300, (200, "gas", 1.6)), "more heat", 100) is None


def test_a_setting_repeated_is_no_correction() -> None:
    s = at(300, (0, "gas", 1.6), (100, "gas", 1.3), (200, "gas", 1.3))
    assert corrected(s, "less heat", 150) is None
    assert corrected(s, "more heat", 150) is None


def test_the_last_of_several_counts_and_none_before_the_time_asked_about() -> None:
    s = at(300, (0, "gas", 1.6), (150, "gas", 1.4), (200, "gas", 1.1))
    assert corrected(s, "less heat", 100) == 200.0
    assert corrected(s, "less heat", 200) == 200.0, "at the very time counts"
    assert corrected(s, "less heat", 200.5) is None


def test_what_is_still_to_come_does_not_count() -> None:
    moves: tuple[Move, ...] = ((0, "gas", 1.6), (300 + SHOWN_AHEAD, "gas", 1.0), (310, "gas", 0.8))
    assert corrected(at(300, *moves), "less heat", 100) == 300 + SHOWN_AHEAD, "a time rounded up is now"
    assert corrected(at(299, *moves), "less heat", 100) is None
    assert corrected(at(400, (0, "gas", 1.6), (450, "gas", 0.5), (200, "gas", 1.0)), "less heat", 100) == 200.0


@pytest.mark.parametrize(("off", "planned"), [(-45.0, True), (45.0, True), (-46.0, False), (46.0, False)])
def test_a_planned_move_about_its_time_is_no_correction(off: float, planned: bool) -> None:
    s = at(500, (0, "gas", 1.6), (STEP.time + off, "gas", STEP.value))
    assert (corrected(s, "less heat", 100) is None) is planned
    assert made(s, STEP) is (planned or off > 0), "a move of one's own after it was due stands for it"


def test_another_control_or_setting_is_not_the_planned_move() -> None:
    assert not made(at(500, (STEP.time, "air", STEP.value)), STEP)
    assert made(at(500, (STEP.time, "gas", STEP.value + 0.1)), STEP), "in its place"
    assert made(at(500, (10, "gas", 1.0), (STEP.time, "gas", STEP.value)), STEP)


def test_air_corrects_nothing() -> None:
    """What air does to the heat differs between machines."""
    moved = at(300, (0, "gas", 1.6), (200, "air", 5.0), advice=Advice("leave it"))
    assert corrected(moved, "less heat", 100) is None
    assert corrected(at(300, (0, "gas", 1.6), (200, "gas", 1.1)), "less heat", 100) == 200.0


def test_gas_off_is_the_last_gas_move_to_nothing() -> None:
    off: tuple[Move, ...] = ((0, "gas", 1.6), (200, "gas", 0.0))
    assert gas_off(at(300, *off, (250, "air", 3.0)), 100) == 200.0
    assert gas_off(at(300, *off), 200) == 200.0
    assert gas_off(at(300, (0, "gas", 1.6), (250, "gas", 1.2), (280, "gas", 0.0)), 260) == 280.0
    assert gas_off(at(300, (0, "gas", 1.6), (270, "gas", 1.2), (280, "gas", 0.0)), 290) is None
    assert gas_off(at(300, (0, "gas", 1.6), (200, "gas", 0.0), (280, "gas", 0.0)), 260) == 280.0
    assert gas_off(at(300, *off), 201) is None
    assert gas_off(at(300, *off, (250, "gas", 0.4)), 100) is None, "it burns again"
    assert gas_off(at(199, *off), 100) is None
    assert gas_off(at(200 - SHOWN_AHEAD, *off), 100) == 200.0
    assert gas_off(at(300), 100) is None
    assert gas_off(at(300, (0, "gas", 1.6), (200, "air", 0.0)), 100) is None


def test_which_way_an_advised_move_goes() -> None:
    s = at(300, (0, "gas", 1.6), (250, "gas", 1.2), (320, "gas", 0.8))
    assert asks_for(s, Advice("", control="gas", value=1.0)) == "less heat"
    assert asks_for(s, Advice("", control="gas", value=1.4)) == "more heat"
    assert asks_for(s, Advice("", control="gas", value=1.2)) is None
    assert asks_for(s, Advice("", control="air", value=1.0)) is None
    assert asks_for(s, Advice("")) is None
    assert asks_for(at(300), Advice("", control="gas", value=1.0)) is None, "the gas was never told"


# -- readings and listening --------------------------------------------------------------------------------------------


def test_the_last_reading_that_counts() -> None:
    s = at(300)
    readings = s.roast.readings
    assert last_used(s) == readings[-1]
    assert last_doubtful(s) is None
    kept_out = {readings[-1].line: "far off", readings[-2].line: "far off"}
    doubted = replace(s, estimate=Estimate(300.0, 160.0, 0.5, 0.1, 0.01, readings[-3].t, kept_out))
    assert last_used(doubted) == readings[-3]
    assert last_doubtful(doubted) == (readings[-1], "far off")
    assert last_used(replace(s, t=readings[0].t - 1.0, at=60.0)) is None
    earlier = replace(doubted, t=readings[-3].t)
    assert last_used(earlier) == readings[-3], "what is to come is not looked at"
    assert last_doubtful(earlier) is None


@pytest.mark.parametrize(("sd", "half"), [(10.0, 15.0), (40.0, RULES.listening / 2)])
def test_crack_is_listened_for_one_and_a_half_sd_about_it_a_minute_at_most(sd: float, half: float) -> None:
    window = listening(at(400, forecast=Forecast(first_crack=crack(487, sd))))
    assert window == pytest.approx((487 - half, 487 + half), abs=0.5)
    assert listening(at(400)) is None
