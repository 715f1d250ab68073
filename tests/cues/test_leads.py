"""When a cue comes due and when it is taken back, to the second; what it rests on; its words."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from coach.advice.advice_values import Advice
from coach.cues.conditions import CONDITIONS
from coach.cues.situation import NextMove, Preheat, Situation
from coach.cues.table import CUES
from coach.forecast.forecast_values import EventForecast, Forecast
from coach.roast.profile import Profile
from tests.cues.situations import PROFILE, Story, crack, normal, plan

ON_PLAN = [plan(t) for t in range(40, 600, 30)]
YELLOW = {"yellow": 244.0}
EARLY = Forecast(first_crack=crack(450, 8))


def by_temperature(t: float) -> Situation:
    """A roast dropped by temperature, which rises by 0.1 K/s and is there at 500 s."""
    document = PROFILE.document
    profile = Profile(document.model_copy(update={"drop": document.drop.model_copy(update={"by": "temperature"})}))
    s = Story(YELLOW, ON_PLAN).at(t)
    assert s.estimate is not None
    return replace(
        s,
        profile=profile,
        estimate=replace(s.estimate, temperature=profile.drop_temperature - 0.1 * (500.0 - t), rate=0.1),
    )


def move_at(t: float) -> Situation:
    step = PROFILE.steps[3]
    return replace(Story(readings=ON_PLAN).at(t), next_move=NextMove(step, 335.0, 335.0 - t))


def preheated(t: float) -> Situation:
    return replace(Story(charged=False).at(t), preheat=Preheat(100.0, 3.0, 215.0, 0.1))


def yellow_to_come(t: float) -> Situation:
    return Story(readings=ON_PLAN, forecasts=[(0, Forecast(yellow=EventForecast(normal(244, 4), 146, 0, 0)))]).at(t)


def cracked(t: float) -> Situation:
    return Story(marks={**YELLOW, "first crack": 487.0}, readings=ON_PLAN).at(t)


COMES = {
    # cue: (the moment at a time, when what it speaks of comes)
    "drop near": (cracked, 487.0 + float(PROFILE.development)),
    "move due": (move_at, 335.0),
    "charge near": (preheated, 100.0),
    "yellow near": (yellow_to_come, 244.0),
}


def said_lead(cue: str) -> float:
    """How long before, s, by the table's own words."""
    found = re.search(r"within (\d+) s", CUES[cue].condition)
    assert found is not None
    return float(found[1])


@pytest.mark.parametrize("cue", list(COMES))
def test_a_cue_comes_as_long_before_as_the_table_says(cue: str) -> None:
    moment, comes = COMES[cue]
    lead, condition = said_lead(cue), CONDITIONS[cue]
    sizes = {left: condition(moment(comes - left)).size for left in (lead - 0.5, lead, lead + 0.5)}
    assert (sizes[lead - 0.5] or 0.0) >= 1.0
    assert (sizes[lead] or 0.0) >= 1.0
    assert (sizes[lead + 0.5] or 0.0) < 1.0


@pytest.mark.parametrize("cue", list(COMES))
def test_it_is_taken_back_beyond_twice_that_and_not_before(cue: str) -> None:
    moment, comes = COMES[cue]
    lead, condition = said_lead(cue), CONDITIONS[cue]
    assert (condition(moment(comes - 2 * lead)).size or 0.0) > 0.0, "it stands"
    assert condition(moment(comes - 2 * lead - 0.5)).size == 0.0


def test_drop_by_temperature_is_announced_half_a_minute_before_the_probe_is_there() -> None:
    sizes = [(t, CONDITIONS["drop near"](by_temperature(t))) for t in range(420, 500)]
    first = next(t for t, v in sizes if (v.size or 0.0) >= 1.0)
    assert first == 470
    assert "about 8:20" in sizes[-1][1].text
    assert (sizes[-1][1].size or 0.0) >= 1.0


def test_a_forecast_from_readings_that_have_stopped_says_nothing() -> None:
    s = Story(readings=[plan(300)], forecasts=[(0, EARLY)])
    assert CONDITIONS["crack early"](s.at(330)).size is not None
    assert CONDITIONS["crack early"](s.at(361)).size is None
    assert CONDITIONS["crack early"](s.at(400)).size is None


def test_what_is_advised_without_a_move_is_no_action() -> None:
    story = Story(readings=ON_PLAN, forecasts=[(0, EARLY)])
    wait = Advice("leave it", kind="leave")
    assert CONDITIONS["crack early"](replace(story.at(320), advice=wait)).action == ""
    pulse = Advice("leave the gas", control="gas", value=1.0, kind="leave")
    assert CONDITIONS["crack early"](replace(story.at(320), advice=pulse)).action == ""


def test_an_overdue_move_keeps_its_words() -> None:
    text = CONDITIONS["move due"](move_at(350.0)).text
    assert text.startswith("gas to ")
    assert text.endswith("at 5:35, overdue by 0:15")
    assert "overdue" not in CONDITIONS["move due"](move_at(344.0)).text


def test_a_reading_kept_out_is_named_with_its_reason() -> None:
    story = Story(readings=[plan(270), (300.0, 251.0)], doubtful={300.0: "far off"})
    verdict = CONDITIONS["reading doubtful"](story.at(305))
    assert verdict.text == "251 at 5:00 not used: far off"
    other = Story(readings=[plan(270), (300.0, 251.0), (310.0, 252.0)], doubtful={300.0: "far", 310.0: "far"})
    assert CONDITIONS["reading doubtful"](other.at(315)).key != verdict.key, "another reading, another cue"


def test_another_gap_without_readings_is_another_cue() -> None:
    one = CONDITIONS["reading due"](Story(readings=[plan(300)]).at(390))
    same = CONDITIONS["reading due"](Story(readings=[plan(300)]).at(395))
    other = CONDITIONS["reading due"](Story(readings=[plan(300), plan(392)]).at(480))
    assert one.size == same.size == other.size == 1.0
    assert one.key == same.key
    assert one.key != other.key


def test_what_a_cue_rests_on_goes_into_the_record() -> None:
    tapped = Story(YELLOW, ON_PLAN, tapped=(480.0, 470.0)).at(481)
    assert CONDITIONS["tapped crack"](tapped).evidence == {"onset": 470.0}
    gap = CONDITIONS["reading due"](Story(readings=[plan(300)]).at(390)).evidence
    assert gap["age"] == 90.0
    assert gap["interval"] > 0
    hot = CONDITIONS["drop now"](Story(YELLOW, ON_PLAN, off=4.0).at(580)).evidence
    assert hot["temperature"] == pytest.approx(PROFILE.curve.value(580) + 4.0)
    moved = replace(Story(readings=ON_PLAN).at(320), forecast=replace(Forecast(), gas_moved=300.0))
    assert CONDITIONS["gas moved"](moved).evidence == {"time": 300.0}


@pytest.mark.parametrize(("off", "believed"), [(29.5, True), (30.0, True), (30.5, False)])
def test_a_doubtful_reading_over_the_limit_is_believed_near_the_estimate_alone(off: float, believed: bool) -> None:
    value = 240.0
    story = Story(readings=[plan(370), (400.0, value)], doubtful={400.0: "far off"})
    s = story.at(401)
    assert s.estimate is not None
    verdict = CONDITIONS["over safety limit"](replace(s, estimate=replace(s.estimate, temperature=value - off)))
    assert (verdict.size is not None and verdict.size >= 1.0) is believed


def test_moves_planned_for_one_time_are_announced_together() -> None:
    first = PROFILE.steps[0]
    both = [x for x in PROFILE.steps if x.time == first.time]
    assert {x.control for x in both} == {"gas", "air"}
    s = replace(Story().at(2), next_move=NextMove(first, first.time, first.time - 2.0))
    text = CONDITIONS["move due"](s).text
    assert "gas to 1.6" in text
    assert "air to 2" in text


def test_advice_is_the_action_of_a_late_crack_where_it_gives_more_heat() -> None:
    late = Story(readings=ON_PLAN, forecasts=[(0, Forecast(first_crack=crack(530, 8)))]).at(320)
    more, less = (Advice(f"gas to {x} now", control="gas", value=x, kind="move") for x in (1.9, 1.0))
    assert CONDITIONS["crack late"](replace(late, advice=more)).action == "gas to 1.9 now"
    assert CONDITIONS["crack late"](replace(late, advice=less)).action == ""
