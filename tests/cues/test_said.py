"""What a cue says, in the roast's own unit, and how long a reading counts as young: on moments made by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from coach.advice.advice_values import Advice
from coach.cues.conditions import CONDITIONS
from coach.cues.evidence import age, cadence, clock_due, degrees, fresh, temperature_due, turned
from coach.cues.situation import Preheat, Situation
from coach.forecast.forecast_values import EventForecast, Forecast, Path
from coach.roast.profile import Profile
from tests.cues.situations import PROFILE, Story, crack, drop, lead, normal, plan

YELLOW = {"yellow": 244.0}


def in_fahrenheit(s: Situation) -> Situation:
    """The same moment of a roast that is typed in °F."""
    header = s.roast.header.model_copy(update={"unit": "F"})
    return replace(s, roast=replace(s.roast, header=header))


@pytest.mark.parametrize(
    ("celsius", "c", "f"), [(0.0, "0 °C", "32 °F"), (100.0, "100 °C", "212 °F"), (208.6, "209 °C", "407 °F")]
)
def test_degrees_are_whole_and_in_the_unit_of_the_roast(celsius: float, c: str, f: str) -> None:
    """Freezing and boiling point of water on both scales, and one to be rounded."""
    s = Story(YELLOW, [plan(300)]).at(310)
    assert degrees(s, celsius) == c
    assert degrees(in_fahrenheit(s), celsius) == f


def test_each_interval_is_that_of_the_phase_that_was_marked_or_else_planned() -> None:
    """Unmarked, yellow is taken to be where the plan has it (at 244 s)."""
    wanted = PROFILE.document.cadence
    assert (wanted.drying, wanted.browning) == (60.0, 30.0)
    assert cadence(Story({}, [plan(100)]).at(150)) == 60.0
    assert cadence(Story({}, [plan(100)]).at(300)) == 30.0
    assert cadence(Story({"yellow": 120.0}, [plan(100)]).at(150)) == 30.0
    assert cadence(Story({**YELLOW, "first crack": 487.0}, [plan(450)]).at(500)) == wanted.development


def test_a_reading_is_young_for_two_intervals_and_a_minute_at_least() -> None:
    browning = Story(YELLOW, [plan(300)])
    assert age(browning.at(347)) == 47.0
    assert fresh(browning.at(360))
    assert not fresh(browning.at(361))
    drying = Story({}, [plan(60)])
    assert fresh(drying.at(180))
    assert not fresh(drying.at(181))
    assert age(Story().at(60)) == float("inf")
    assert not fresh(Story().at(60))


SAID: list[tuple[str, Story, float, str, str]] = [
    ("too hot", Story(YELLOW, [plan(300, 5.0)]), 305, "5 above the plan's", "9 above the plan's"),
    ("too cool", Story(YELLOW, [plan(300, -5.0)]), 305, "5 below the plan's", "9 below the plan's"),
    ("too hot", Story(YELLOW, [plan(300, 5.0)]), 305, "(band 4)", "(band 7.2)"),
    ("over safety limit", Story(YELLOW, [(300.0, 240.0)]), 305, "240 °C at 5:00, limit 235 °C",
     "464 °F at 5:00, limit 455 °F"),
    ("racing", Story(YELLOW, [plan(460)], forecasts=[(0, Forecast(racing=0.8, drop=drop()))]), 470,
     "the rise runs away before drop: 80 % (6 °C/min now)", "the rise runs away before drop: 80 % (10.8 °F/min now)"),
    ("stalling", Story(YELLOW, [plan(460)], forecasts=[(0, Forecast(stall=0.75, drop=drop()))]), 470,
     "the rise dies before drop: 75 % (6 °C/min now)", "the rise dies before drop: 75 % (10.8 °F/min now)"),
    ("crack near", Story(YELLOW, [plan(460)], forecasts=[(0, Forecast(first_crack=crack(487, 10)))]), 470,
     "listen: crack 7:54 to 8:20, about 197 °C", "listen: crack 7:54 to 8:20, about 387 °F"),
    ("yellow near", Story({}, [plan(220)], forecasts=[(0, Forecast(yellow=EventForecast(normal(244, 4), 146, 0, 0)))]),
     230, "yellow 3:59 to 4:09, about 146 °C", "yellow 3:59 to 4:09, about 295 °F"),
    ("charge near", Story(charged=False, more={"preheat": Preheat(100.0, 3.0, 215.0, 0.1)}), 80, "222 °C in 0:20",
     "432 °F in 0:20"),
    ("charge near", Story(charged=False, more={"preheat": Preheat(100.0, 3.0, 215.0, 0.1)}), 100, "222 °C reached",
     "432 °F reached"),
    ("reading due", Story(YELLOW, [plan(300)]), 350, "no reading for 0:50", "no reading for 0:50"),
    ("reading due", Story(), 50, "no reading since charge, 0:50 ago", "no reading since charge, 0:50 ago"),
]  # fmt: skip


@pytest.mark.parametrize(("cue", "story", "t", "celsius", "fahrenheit"), SAID)
def test_what_a_cue_says_in_either_unit(cue: str, story: Story, t: float, celsius: str, fahrenheit: str) -> None:
    s = story.at(t)
    assert celsius in CONDITIONS[cue](s).text
    assert fahrenheit in CONDITIONS[cue](in_fahrenheit(s)).text


def test_dropped_by_a_ratio_the_development_is_that_share_of_the_whole_roast() -> None:
    """Crack at 8:00, 20 % of the roast to come after it: 2 minutes of 10, so drop at 10:00."""
    document = PROFILE.document
    rule = document.drop.model_copy(update={"by": "ratio", "ratio": 0.2, "development": None})
    by_ratio = Profile(document.model_copy(update={"drop": rule}))
    story = Story({**YELLOW, "first crack": 480.0}, [plan(450)])
    due = clock_due(replace(story.at(540), profile=by_ratio))
    assert due is not None
    assert due[0] == pytest.approx(600.0)
    assert due[1] == "development 11 % of 20 %, drop at 10:00"
    begun = clock_due(replace(story.at(480), profile=by_ratio))
    assert begun is not None
    assert begun[1] == "development 0 % of 20 %, drop at 10:00"
    by_time = clock_due(story.at(540))
    assert by_time == (480.0 + 88.0, "development 1:00 of 1:28, drop at 9:28")
    rule = document.drop.model_copy(update={"by": "temperature"})
    by_heat = Profile(document.model_copy(update={"drop": rule}))
    assert clock_due(replace(story.at(540), profile=by_heat)) is None
    assert clock_due(Story(YELLOW, [plan(450)]).at(540)) is None


def test_the_probe_has_turned_where_that_was_marked_and_else_half_a_minute_after_the_plan() -> None:
    planned = PROFILE.curve.turning_point[0] + 30.0
    unmarked, marked = Story({}, [plan(40)]).at(200), Story({"turning point": 70.0}, [plan(40)]).at(200)
    assert [turned(unmarked, planned + dt) for dt in (-0.1, 0.1)] == [False, True]
    assert [turned(marked, t) for t in (69.9, 70.0)] == [False, True]


def test_where_it_is_too_late_to_correct_the_action_is_to_look_to_the_drop() -> None:
    late = Forecast(first_crack=crack(450, 8), drop=drop())
    led = lead(Story(YELLOW, [plan(t) for t in range(40, 460, 30)], forecasts=[(0, late)]), 380, 445)
    before, after = led.cue("crack early", 425.0), led.cue("crack early", 445.0)
    assert before is not None
    assert after is not None
    assert (before.action, after.action) == ("less heat now", "look to drop")
    assert (before.priority, after.priority) == ("medium", "none")


def test_drop_by_temperature_is_due_where_the_forecast_way_meets_it() -> None:
    """A way that rises by 0.2 K/s from 10 K below the target: due in 50 s; one that stays below never is."""
    target, t = PROFILE.drop_temperature, np.arange(540.0, 700.0, 4.0)
    way = Path(t, target - 10.0 + 0.2 * (t - 540.0), np.ones(len(t)), np.full(len(t), 0.2))
    below = replace(way, mean=np.full(len(t), target - 1.0))
    s = Story(YELLOW, [plan(520)]).at(540)
    assert s.estimate is not None
    cooler = replace(s.estimate, temperature=target - 10.0, rate=0.1)
    for forecast, due in ((Forecast(path=way), 590.0), (Forecast(path=below), float("inf")), (Forecast(), 640.0)):
        assert temperature_due(replace(s, estimate=cooler, forecast=forecast)) == pytest.approx(due)
    assert temperature_due(replace(s, estimate=replace(cooler, rate=0.0), forecast=Forecast())) is None
    assert temperature_due(replace(s, estimate=replace(cooler, temperature=target), forecast=Forecast())) == 540.0
    assert temperature_due(replace(s, estimate=None)) is None


def test_what_the_advice_finds_too_late_is_silent_also_with_time_left() -> None:
    early = Forecast(first_crack=crack(450, 8), drop=drop())
    story = Story(YELLOW, [plan(t) for t in range(40, 400, 30)], forecasts=[(0, early)])
    late = replace(story, more={"advice": Advice("too late to correct", kind="too late")})
    assert not CONDITIONS["crack early"](story.at(380)).silent
    assert CONDITIONS["crack early"](late.at(380)).silent
