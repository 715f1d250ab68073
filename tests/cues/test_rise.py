"""When a stall or a race is heard: by one reading or by two, and by readings that the filter kept out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coach.forecast.forecast_values import Forecast
from tests.cues.situations import Story, crack, drop, lead, plan

MARKS = {"yellow": 244.0, "first crack": 487.0}


def story(p: float, *times: float, doubtful: dict[float, str] | None = None, cue: str = "stall") -> Story:
    """A probability that holds from 8:41 on; on plan until 8:10, then readings at some times (roast time, s)."""
    readings = [plan(t) for t in (400, 430, 460, 490, *times)]
    later = Forecast(stall=p, drop=drop()) if cue == "stall" else Forecast(racing=p, drop=drop())
    return Story(MARKS, readings, forecasts=[(0, Forecast(drop=drop())), (521, later)], doubtful=doubtful or {})


@pytest.mark.parametrize(("cue", "name"), [("stall", "stalling"), ("racing", "racing")])
def test_one_reading_is_not_enough_however_sure_it_is(cue: str, name: str) -> None:
    assert lead(story(0.99, 521, cue=cue), 500, 545).of(name) == []
    assert lead(story(0.99, 521, 540, cue=cue), 500, 545).of(name) == [540.0]


def test_two_readings_are_enough_where_it_is_sure() -> None:
    assert lead(story(0.75, 521, 540), 500, 552).of("stalling") == [540.0]
    assert lead(story(0.65, 521, 540), 500, 552).of("stalling") == []


def test_readings_that_were_kept_out_count() -> None:
    """The probability weighs whether they are slips; the filter, which keeps them out, says nothing else of them."""
    kept_out = {521.0: "4 K off what was expected", 540.0: "6 K off what was expected"}
    assert lead(story(0.8, 521, 540, doubtful=kept_out), 500, 552).of("stalling") == [540.0]


def test_a_second_reading_that_was_mistyped_is_no_second_one() -> None:
    told = story(0.95, 521, 540)
    assert lead(replace(told, mistyped=(540.0,)), 500, 552).of("stalling") == []
    assert lead(told, 500, 552).of("stalling") == [540.0]


def test_the_rate_that_is_said_is_that_of_the_readings_it_rests_on() -> None:
    """Where the estimate keeps the last reading out, its rate is not what the cue speaks of."""
    kept_out = {521.0: "4 K off what was expected", 540.0: "6 K off what was expected"}
    readings = [*(plan(t) for t in (400, 430, 460, 490)), plan(521, 2.0), plan(540, -2.0)]
    rate = (readings[-1][1] - readings[-2][1]) / 19.0 * 60.0
    assert rate < -4.0
    for doubtful, said in ((kept_out, f"({rate:.1f} °C/min by the last two readings)"), ({}, "°C/min now)")):
        later = Forecast(stall=0.95, drop=drop())
        told = Story(MARKS, readings, forecasts=[(0, Forecast(drop=drop())), (521, later)], doubtful=doubtful)
        stands = lead(told, 500, 542).cue("stalling", 541.0)
        assert stands is not None
        assert stands.text.endswith(said)


def test_none_is_heard_where_readings_have_stopped() -> None:
    late = Story(MARKS, [plan(t) for t in (340, 370)], forecasts=[(520, Forecast(stall=0.95, drop=drop()))])
    assert lead(late, 500, 552).of("stalling") == []


def test_a_window_that_can_no_longer_be_said_is_not_shown_as_if_it_were_new() -> None:
    """The way passed the crack's level, or readings stopped: 'listen' stands on with the last window, and says so."""
    known = Forecast(first_crack=crack(487, 8))
    told = Story({"yellow": 244.0}, [plan(t) for t in (400, 430)], forecasts=[(0, known), (470, Forecast())])
    led = lead(told, 400, 480)
    before, after = led.cue("crack near", 465.0), led.cue("crack near", 480.0)
    assert before is not None
    assert after is not None
    assert "nothing newer" not in before.text
    assert after.text == f"{before.text} (nothing newer is known)"
