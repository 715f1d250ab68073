"""The life of a cue over time: answered by acting or by a key, quiet while recovering, breaking through, shelved."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from coach.cues.annunciator import Heard
from coach.cues.table import CUES
from coach.cues.watch import WatchState
from coach.forecast.forecast_values import Forecast
from tests.cues.situations import PLANNED, Story, crack, drop, lead, plan, review

YELLOW: Mapping[str, float] = {"yellow": 244.0}
EARLY, ON_TIME = Forecast(first_crack=crack(450, 8)), Forecast(first_crack=crack(487, 8))
READ = [plan(t) for t in range(40, 600, 30)]
MARKED = [*PLANNED[:1]]


def above(*offs: float, start: float = 250.0, every: float = 20.0) -> list[tuple[float, float]]:
    return [plan(start + every * k, off) for k, off in enumerate(offs)]


# -- answers -----------------------------------------------------------------------------------------------------------


def test_acting_acknowledges_and_it_is_quiet_while_recovering() -> None:
    """A gas move downwards answers 'too hot' in the same second; it keeps quiet while the move has its time."""
    story = Story(YELLOW, above(5, 5, 5.5, 5.5, 5.5, 5.5), gas=[(0, 1.6), (275.0, 1.3)])
    led = lead(story, 250, 318)
    assert led.of("too hot") == [270]
    before, after = led.cue("too hot", 274.0), led.cue("too hot", 275.0)
    assert before is not None
    assert after is not None
    assert (before.state, after.state) == ("unacknowledged", "acknowledged")


def test_without_an_answer_it_sounds_once_more_and_then_no_more() -> None:
    led = lead(Story(YELLOW, above(*[5.0] * 12)), 250, 480)
    assert led.of("too hot") == [270, 330]


def test_a_move_the_other_way_is_no_answer() -> None:
    led = lead(Story(YELLOW, above(*[5.0] * 6), gas=[(0, 1.6), (275.0, 1.8)]), 250, 347)
    assert led.of("too hot") == [270, 330]


def test_a_planned_move_is_no_answer() -> None:
    led = lead(Story(YELLOW, above(*[5.0] * 6, start=320), gas=PLANNED), 320, 410)
    assert led.of("too hot") == [340, 400]


def test_acting_before_the_cue_keeps_it_from_sounding() -> None:
    led = lead(Story(YELLOW, above(5, 5, 5), gas=[(0, 1.6), (260.0, 1.3)]), 250, 300)
    assert led.of("too hot") == []
    shown = led.cue("too hot", 275.0)
    assert shown is not None
    assert shown.state == "acknowledged"


def test_seen_holds_until_half_a_band_worse() -> None:
    """The band is 4 K here, so half of it 2 K; it comes back at 7 K and not at 6.8."""
    seen = [(275.0, "too hot", "seen")]
    quiet = lead(Story(YELLOW, above(5, 5, 6, 6.8, 6.8, 6.8, 6.8, 6.8, 6.8), replies=seen), 250, 420)
    assert quiet.of("too hot") == [270]
    worse = lead(Story(YELLOW, above(5, 5, 6, 6, 6, 7.1, 7.1), replies=seen), 250, 400)
    assert worse.of("too hot") == [270, 350]


def test_after_first_crack_it_is_graver_and_asks_again() -> None:
    """Low before crack, medium after it: who had seen it is asked anew."""
    marks = {**YELLOW, "first crack": 352.0}
    offs = above(5, 5, 5, 5, 5, 5, 5, 5)
    led = lead(Story(marks, offs, replies=[(275.0, "too hot", "seen")]), 250, 375)
    assert led.of("too hot") == [270, 352]
    before, after = led.cue("too hot", 300.0), led.cue("too hot", 375.0)
    assert before is not None
    assert after is not None
    assert (before.priority, after.priority) == ("low", "medium")


def test_the_opposite_direction_breaks_through() -> None:
    story = Story(YELLOW, above(5, 5, 5, 0, -5, -5), gas=[(0, 1.6), (275.0, 0.6)], replies=[(274.0, "too hot", "seen")])
    led = lead(story, 250, 360)
    assert led.of("too hot") == [270]
    assert led.of("too cool") == [350]


def test_a_forecast_that_stays_bad_after_a_move_asks_again_when_the_move_had_its_time() -> None:
    story = Story(YELLOW, READ, gas=[(0, 1.6), (315.0, 1.5)], forecasts=[(0, EARLY)])
    led = lead(story, 285, 375)
    assert led.of("crack early") == [310, 370]  # 45 s after the move it may ask; once a minute holds it until 370
    mended = Story(YELLOW, READ, gas=[(0, 1.6), (315.0, 1.3)], forecasts=[(0, EARLY), (340, ON_TIME)])
    assert lead(mended, 285, 420).of("crack early") == [310]


def test_nothing_latches() -> None:
    led = lead(Story(YELLOW, above(5, 5, 0, 0)), 250, 320)
    assert led.cue("too hot", 285.0) is not None
    assert led.cue("too hot", 291.0) is None


def test_shelved_for_the_whole_roast_but_shown() -> None:
    led = lead(Story(YELLOW, above(*[5.0] * 12), replies=[(272.0, "too hot", "shelved")]), 250, 480)
    assert led.of("too hot") == [270]
    shown = led.cue("too hot", 400.0)
    assert shown is not None
    assert shown.state == "shelved"


def test_what_is_urgent_cannot_be_shelved() -> None:
    marks = {**YELLOW, "first crack": 487.0}
    led = lead(Story(marks, READ, replies=[(500.0, "drop now", "shelved")]), 560, 600)
    assert led.of("drop now") == [575, 591]  # once more when it is past the tolerance of 15 s


def test_seen_stops_the_repetition_of_what_is_urgent_until_it_is_an_alarm() -> None:
    marks = {**YELLOW, "first crack": 487.0}
    led = lead(Story(marks, READ, replies=[(578.0, "drop now", "seen")]), 560, 600)
    assert led.of("drop now") == [575, 591]
    assert led.cue("drop now", 580.0).state == "acknowledged"  # type: ignore[union-attr]
    late = led.cue("drop now", 595.0)
    assert late is not None
    assert late.family == "alarm"  # past the tolerance it breaks through


def test_what_is_urgent_is_repeated_once_after_twenty_seconds() -> None:
    hot = [plan(370), (400.0, 236.0), (425.0, 236.0), (450.0, 236.0)]
    assert lead(Story(YELLOW, hot, off=40.0), 395, 480).of("over safety limit") == [400, 420]
    off = Story(YELLOW, hot, off=40.0, gas=[(0, 1.6), (405.0, 0.0)])
    led = lead(off, 395, 480)
    assert led.of("over safety limit") == [400]
    assert led.cue("over safety limit", 440.0).state == "acknowledged"  # type: ignore[union-attr]


def test_a_logged_move_and_a_reading_answer_their_prompts() -> None:
    led = lead(Story(YELLOW, [plan(310), plan(360)]), 310, 370)
    assert led.of("reading due") == [355]
    assert led.cue("reading due", 359.0) is not None
    assert led.cue("reading due", 361.0) is None
    assert led.of("reading due") == [355]


# -- one cause, one cue ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("forecast", "masked"),
    [(EARLY, "too hot"), (Forecast(racing=0.9, drop=drop()), "too hot")],
)
def test_one_cause_one_cue(forecast: Forecast, masked: str) -> None:
    led = lead(Story(YELLOW, above(*[5.0] * 5, start=300), forecasts=[(0, forecast)]), 300, 395)
    assert led.of(masked) == []
    assert led.cue(masked, 390.0) is None
    assert {n for _, n in led.sounds} & {"crack early", "racing"}


def test_masking_is_not_circular_and_the_graver_one_masks() -> None:
    for name, row in CUES.items():
        for masker in row.masked_by:
            assert name not in CUES[masker].masked_by
            order = ("high", "medium", "low", "none")
            later = CUES[masker].later
            gravest = min(order.index(CUES[masker].priority), order.index(later[1]) if later else 3)
            assert gravest <= order.index(row.priority), (name, masker)


# -- what was wrong too often ------------------------------------------------------------------------------------------


def test_a_demoted_cue_is_shown_with_the_reason_and_not_heard() -> None:
    story = Story(YELLOW, READ, forecasts=[(0, EARLY)])
    led = lead(story, 300, 347, demoted={"crack early": "right 13 of the last 20 times"})
    assert led.of("crack early") == []
    shown = led.cue("crack early", 347.0)
    assert shown is not None
    assert shown.state == "unacknowledged"
    assert "(not sounded: right 13 of the last 20 times)" in shown.text


def test_what_is_urgent_is_heard_even_if_demoted() -> None:
    marks = {**YELLOW, "first crack": 487.0}
    assert lead(Story(marks, READ), 560, 580, demoted={"drop now": "wrong"}).of("drop now")


# -- corrections and restarts ------------------------------------------------------------------------------------------


def test_judging_twice_is_judging_once() -> None:
    story = Story(YELLOW, above(5, 5))
    state = WatchState()
    for t in range(250, 275):
        state, _, _ = review(state, Heard(), story.at(float(t)))
        again, _, _ = review(state, Heard(), story.at(float(t)))
        assert again.tracks == state.tracks


def test_after_a_restart_a_standing_cue_is_heard_once_more() -> None:
    story = Story(YELLOW, above(*[5.0] * 10))
    state, heard, stood = WatchState(), Heard(), False
    for t in range(250, 291):
        state, heard, cues = review(state, heard, story.at(float(t)))
        stood = any(c.name == "too hot" and c.state == "unacknowledged" for c in cues)
    assert stood
    heard = heard.after_restart(["too hot"])
    times = []
    for t in range(291, 450):
        state, heard, cues = review(state, heard, story.at(float(t)))
        times += [t for c in cues if c.sounds and c.name == "too hot"]
    assert times == [291]


def test_low_sounds_are_held_while_crack_is_listened_for_and_shown_all_the_same() -> None:
    """The window is the forecast ± 1.5 sd, a minute at most, and closes when crack is marked."""
    forecast = Forecast(first_crack=crack(487, 10))
    story = Story(YELLOW, [plan(445)], forecasts=[(0, forecast)])
    led = lead(story, 445, 520)
    assert [t for t, n in led.sounds if CUES[n].priority == "low" and 472 <= t <= 502] == []
    waiting = led.cue("reading due", 495.0)
    assert waiting is not None
    assert not waiting.sounds
