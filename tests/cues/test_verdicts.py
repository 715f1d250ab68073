"""What a condition says beside its size: the evidence that the ledger keeps, the words, the advice as the action."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from coach.advice.advice_values import Advice
from coach.cues.conditions import CONDITIONS, LONGEST, Verdict
from coach.cues.situation import NextMove, Preheat, Situation
from coach.forecast.forecast_values import EventForecast, Forecast
from coach.roast.profile import Profile
from coach.roast.units import clock
from tests.cues.situations import PROFILE, Story, crack, drop, normal, plan

ON_PLAN = [plan(t) for t in range(40, 600, 30)]
YELLOW = {"yellow": 244.0}
BY_TEMPERATURE = Profile(
    PROFILE.document.model_copy(update={"drop": PROFILE.document.drop.model_copy(update={"by": "temperature"})})
)
STEP = PROFILE.steps[3]


def verdict(cue: str, s: Situation) -> Verdict:
    return CONDITIONS[cue](s)


def dropping(last: float, t: float, falls_due: float = 575.0) -> Situation:
    """A roast to be dropped by temperature, last read at ``last``, seen at ``t``; roast time, s."""
    readings = [r for r in ON_PLAN if r[0] < last] + [plan(last)]
    story = Story(YELLOW, readings, forecasts=[(0, Forecast(drop=drop(falls_due)))])
    return replace(story.at(t), profile=BY_TEMPERATURE)


EVIDENCE: dict[str, tuple[Story, float, Mapping[str, float]]] = {
    "over safety limit": (Story(readings=[plan(370), (400.0, 236.0)]), 400, {"temperature": 236.0, "limit": 235.0}),
    "drop now": (Story({**YELLOW, "first crack": 487.0}, ON_PLAN), 570, {"due": 575.0, "over": -5.0}),
    "drop near": (Story({**YELLOW, "first crack": 487.0}, ON_PLAN), 540, {"left": 35.0, "due": 575.0}),
    "crack early": (
        Story(YELLOW, ON_PLAN, forecasts=[(0, Forecast(first_crack=replace(crack(450, 8), p_early=0.75)))]),
        340,
        {"p": 0.75, "left": 110.0},
    ),
    "stalling": (Story(YELLOW, ON_PLAN, forecasts=[(0, Forecast(stall=0.8, drop=drop()))]), 470,
                 {"p": 0.8, "left": 105.0}),
    "too hot": (Story(YELLOW, [plan(250), plan(280, 9.0)]), 280, {"deviation": 9.0, "band": 4.0}),
    "too cool": (Story(YELLOW, [plan(250), plan(280, -9.0)]), 280, {"deviation": -9.0, "band": 4.0}),
    "move due": (Story(readings=ON_PLAN, more={"next_move": NextMove(STEP, 335.0, 4.0)}), 331,
                 {"left": 4.0, "due": 335.0}),
    "charge near": (Story(charged=False, more={"preheat": Preheat(100.0, 3.0, 215.0, 0.1)}), 70,
                    {"left": 30.0, "sd": 3.0}),
    "yellow near": (
        Story(readings=ON_PLAN, forecasts=[(0, Forecast(yellow=EventForecast(normal(244, 4), 146, 0, 0)))]),
        225,
        {"left": 19.0, "median": 244.0, "sd": 4.0},
    ),
}  # fmt: skip


@pytest.mark.parametrize("cue", EVIDENCE)
def test_the_evidence_is_what_the_cue_rests_on(cue: str) -> None:
    story, t, expected = EVIDENCE[cue]
    assert dict(verdict(cue, story.at(t)).evidence) == pytest.approx(expected, abs=0.02)


def test_what_cannot_be_said_has_no_evidence() -> None:
    said = verdict("crack early", Story(YELLOW, ON_PLAN).at(340))
    assert (said.size, said.basis, dict(said.evidence)) == (None, None, {})


def test_a_drop_by_temperature_is_called_ahead_at_the_present_rate() -> None:
    """The story's probe rises by 0.1 K/s."""
    due = 555.0 + (PROFILE.drop_temperature - PROFILE.curve.value(555.0)) / 0.1
    assert 575.0 < due < 585.0
    said = verdict("drop near", dropping(540, 555))
    assert said.size == 1.0
    assert dict(said.evidence) == pytest.approx({"left": due - 555.0, "due": due}, abs=0.02)
    assert f"about {clock(due)}" in said.text
    assert verdict("drop near", dropping(540, 400)).size == 0.0


def test_a_drop_by_temperature_rests_on_readings_not_too_old() -> None:
    assert verdict("drop near", dropping(460, 460 + LONGEST)).size is not None
    assert verdict("drop near", dropping(460, 461 + LONGEST)).size is None
    assert verdict("drop now", dropping(460, 460 + LONGEST)).size is not None
    assert verdict("drop now", dropping(460, 461 + LONGEST)).size is None


def test_no_drop_by_temperature_before_the_turning_point() -> None:
    """The probe still falls from the empty drum past the temperature of drop."""
    assert verdict("drop near", dropping(20, 25, falls_due=30.0)).size is None
    assert verdict("drop now", dropping(20, 25, falls_due=30.0)).size is None


def test_the_rise_in_words_is_by_the_last_two_readings_where_the_last_is_kept_out() -> None:
    def text(readings: list[tuple[float, float]]) -> str:
        story = Story(YELLOW, readings, forecasts=[(0, Forecast(stall=0.8, drop=drop()))], doubtful={470.0: "far"})
        return verdict("stalling", story.at(471)).text

    assert "(2 °C/min by the last two readings)" in text([(440.0, 190.0), (470.0, 191.0)])
    assert "(6 °C/min now)" in text([(470.0, 191.0)]), "of one reading there is no rise"


@pytest.mark.parametrize(
    ("cue", "story", "t", "heat"),
    [
        ("crack early", Story(YELLOW, ON_PLAN, forecasts=[(0, Forecast(first_crack=crack(450, 8)))]), 340, -1),
        ("crack late", Story(YELLOW, ON_PLAN, forecasts=[(0, Forecast(first_crack=crack(530, 8)))]), 340, 1),
        ("stalling", Story(YELLOW, ON_PLAN, forecasts=[(0, Forecast(stall=0.8, drop=drop()))]), 470, 1),
        ("racing", Story(YELLOW, ON_PLAN, forecasts=[(0, Forecast(racing=0.8, drop=drop()))]), 470, -1),
        ("too hot", Story(YELLOW, [plan(250), plan(280, 9.0)]), 280, -1),
        ("too cool", Story(YELLOW, [plan(250), plan(280, -9.0)]), 280, 1),
    ],
)
def test_the_advised_move_is_the_action_unless_it_goes_the_other_way(
    cue: str, story: Story, t: float, heat: int
) -> None:
    """The gas stands at 1.6 until 335 s and at 1.2 after it."""

    def action(value: float, **more: Any) -> str:
        advice = Advice(f"gas to {value} now", control="gas", value=value, kind="move", **more)
        return verdict(cue, replace(story.at(t), advice=advice)).action

    less, more = action(0.5), action(2.5)
    assert (less, more) == (("gas to 0.5 now", "") if heat < 0 else ("", "gas to 2.5 now"))
    kept = replace(story.at(t), advice=Advice("leave it", control="gas", value=2.5, kind="leave"))
    assert verdict(cue, kept).action == ""


def test_a_move_is_overdue_from_ten_seconds_on() -> None:
    def text(late: float) -> str:
        return verdict(
            "move due", Story(readings=ON_PLAN, more={"next_move": NextMove(STEP, 335.0, -late)}).at(347)
        ).text

    assert "overdue" not in text(9.9)
    assert text(10.0).endswith("overdue by 0:10")


def test_each_odd_thing_of_today_is_named_and_other_ones_are_a_new_cue() -> None:
    def said(*odd: str) -> Verdict:
        return verdict("today is unlike", Story(readings=ON_PLAN, forecasts=[(0, Forecast(odd=odd))]).at(341))

    assert (
        said("charge 20 below", "turning point late").text
        == "unlike earlier roasts (charge 20 below, turning point late)"
    )
    assert len({said("charge 20 below").key, said("turning point late").key, said("charge 20 below").key}) == 2


def test_a_reading_is_asked_for_not_sooner_than_fifteen_seconds_and_not_too_late() -> None:
    """In browning this profile is read every 30 s."""

    def size(wanted: float, t: float) -> float | None:
        story = Story(YELLOW, [plan(300)], forecasts=[(0, Forecast(next_reading=wanted))])
        return verdict("reading due", story.at(t)).size

    assert PROFILE.document.cadence.browning == 30.0
    assert (size(305.0, 314.9), size(305.0, 315.0)) == (0.0, 1.0)
    assert (size(330.0, 329.9), size(330.0, 330.0)) == (0.0, 1.0)
    assert (size(450.0, 359.9), size(450.0, 360.0)) == (0.0, 1.0)


def test_a_reading_kept_out_is_a_mark_of_its_own() -> None:
    story = Story(YELLOW, [plan(300), (330.0, 261.0)], doubtful={330.0: "31 above"})
    said = verdict("reading doubtful", story.at(331))
    line = story.at(331).roast.readings[-1].line
    assert (said.size, said.basis, said.key) == (1.0, line, str(line))
    assert dict(said.evidence) == {"temperature": 261.0}
    assert said.text == "261 at 5:30 not used: 31 above"
