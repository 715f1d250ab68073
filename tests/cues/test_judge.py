"""What the watch keeps of a cue from moment to moment: when it began, why it asked again, for how long it was listened
for crack."""

from __future__ import annotations

import pytest

from coach.cues.annunciator import Heard
from coach.cues.table import RULES
from coach.cues.watch import Track, WatchState, judge
from coach.forecast.forecast_values import Forecast
from tests.cues.situations import CHARGE, Story, crack, lead, plan, review

YELLOW = {"yellow": 244.0}
OVER = 236.0
"""Over the safety limit of 235 °C."""


def above(*offs: float, start: float = 250.0, every: float = 20.0) -> list[tuple[float, float]]:
    return [plan(start + every * k, off) for k, off in enumerate(offs)]


def tracks(story: Story, start: float, end: float, name: str) -> dict[float, Track]:
    """How a cue's track stood at each second."""
    state, out = WatchState(), {}
    t = start
    while t <= end:
        state = judge(state, story.at(t))
        out[t] = state.tracks[name]
        t += 1.0
    return out


def listened(forecast: Forecast, *times: float) -> list[WatchState]:
    story = Story(YELLOW, [plan(445)], forecasts=[(0, forecast)])
    out = [WatchState()]
    for t in times:
        out.append(judge(out[-1], story.at(t)))
    return out[1:]


# -- listening ---------------------------------------------------------------------------------------------------------


def test_seconds_of_listening_add_up_inside_the_window_alone() -> None:
    """The window of a crack at 487 ± 10 s is 472 to 502."""
    states = listened(Forecast(first_crack=crack(487, 10)), *[float(t) for t in range(465, 511)])
    total = {465.0 + i: s.listened for i, s in enumerate(states)}
    hushed = {465.0 + i: s.hushed for i, s in enumerate(states)}
    assert total[471.0] == 0.0
    assert total[482.0] == 11.0, "472 to 482"
    assert total[502.0] == 31.0
    assert total[510.0] == 31.0
    assert [t for t, h in hushed.items() if h] == [float(t) for t in range(472, 503)]


def test_a_long_gap_counts_as_two_seconds_and_time_never_runs_back() -> None:
    states = listened(Forecast(first_crack=crack(487, 10)), 475.0, 495.0, 490.0)
    assert [s.listened for s in states] == [0.0, 2.0, 2.0]


def test_nothing_is_hushed_beyond_a_minute_of_listening() -> None:
    """A forecast that runs ahead of the roast keeps the window open; after a minute low sounds come again."""
    story = Story(YELLOW, [plan(445)], forecasts=[(t, Forecast(first_crack=crack(t + 1, 10))) for t in range(446, 560)])
    state, hushed = WatchState(), []
    for t in range(450, 555):
        state = judge(state, story.at(float(t)))
        hushed.append(state.hushed)
    assert sum(hushed) == pytest.approx(RULES.listening, abs=2)
    assert not hushed[-1]


# -- an episode --------------------------------------------------------------------------------------------------------


def test_an_episode_begins_afresh() -> None:
    """Answered by a move, cleared, and true again: nothing of the first answer is left."""
    story = Story(YELLOW, above(5, 5, 0, 0, 5, 5, 5), gas=[(0, 1.6), (275.0, 1.3)])
    seen = tracks(story, 250, 372, "too hot")
    assert (seen[270.0].since, seen[270.0].raised, seen[270.0].ready) == (CHARGE + 270.0,) * 3
    assert (seen[275.0].state, seen[275.0].by, seen[275.0].acted) == ("acknowledged", "acted", CHARGE + 275.0)
    assert seen[275.0].counted == CHARGE + 275.0
    assert seen[275.0].answered == pytest.approx(5.0 / 4.0, abs=0.01), "how bad it was, in bands of 4 K"
    cleared = seen[295.0]
    assert (cleared.state, cleared.answered, cleared.by, cleared.acted) == ("normal", None, "", None)
    again = seen[352.0]
    assert (again.state, again.why, again.since) == ("unacknowledged", "trips", CHARGE + 350.0)
    assert (again.answered, again.by, again.acted) == (None, "", None)


def test_what_returned_settles_a_second_later() -> None:
    story = Story(YELLOW, above(5, 5, 0))
    seen = tracks(story, 250, 295, "too hot")
    assert [seen[t].state for t in (289.0, 290.0, 291.0, 292.0)] == ["unacknowledged", "returned", "normal", "normal"]


def test_true_again_within_a_minute_is_the_same_to_the_ear() -> None:
    """Heard at 4:30, gone at 4:50, back at 5:30: a minute after the first sound only its repetition is due."""
    story = Story(YELLOW, above(5, 5, 0, 5, 5, *[5.0] * 14))
    led = lead(story, 250, 620)
    assert led.of("too hot")[:2] == [270, 330]
    assert len(led.of("too hot")) == 2


def test_an_answer_counts_for_what_it_came_after() -> None:
    """A reply before the cue was raised, and one counted already, say nothing."""
    early = Story(YELLOW, above(5, 5, 5), replies=[(265.0, "too hot", "seen")])
    assert tracks(early, 250, 285, "too hot")[285.0].state == "unacknowledged"
    other = Story(YELLOW, above(5, 5, 5), replies=[(275.0, "too cool", "seen")])
    assert tracks(other, 250, 285, "too hot")[285.0].state == "unacknowledged"
    later = Story(YELLOW, above(5, 5, 5), replies=[(275.0, "too hot", "useful")])
    assert tracks(later, 250, 285, "too hot")[285.0].state == "unacknowledged", "how it turned out is no answer"
    same = Story(YELLOW, above(5, 5, 5), replies=[(270.0, "too hot", "seen")])
    assert tracks(same, 250, 285, "too hot")[285.0].state == "acknowledged", "in the same second"


def test_seen_and_acted_are_kept_apart() -> None:
    """Acting after 'seen' leaves it seen: it comes back only when clearly worse, not for want of an effect."""
    story = Story(YELLOW, above(5, 5, 5, 5, 5), replies=[(272.0, "too hot", "seen")], gas=[(0, 1.6), (275.0, 1.3)])
    seen = tracks(story, 250, 330, "too hot")
    assert (seen[274.0].by, seen[280.0].by) == ("seen", "seen")
    assert seen[280.0].acted == CHARGE + 275.0


@pytest.mark.parametrize(("worse", "back"), [(6.9, False), (7.1, True)])
def test_seen_holds_until_it_is_half_a_band_worse(worse: float, back: bool) -> None:
    """5 K of 4 K is 1.25 bands; half a band more is 7 K."""
    story = Story(YELLOW, above(5, 5, 5, worse, worse), replies=[(272.0, "too hot", "seen")])
    track = tracks(story, 250, 335, "too hot")[335.0]
    assert (track.state == "unacknowledged") is back
    if back:
        assert (track.why, track.raised, track.answered, track.by) == ("worse", CHARGE + 310.0, None, "")


@pytest.mark.parametrize(("end", "back"), [(319.0, False), (320.0, True)])
def test_an_answered_alarm_keeps_quiet_while_the_move_has_its_time(end: float, back: bool) -> None:
    """A move at 275 s gets 45 s, however much worse it becomes meanwhile."""
    story = Story(YELLOW, above(5, 5, 9, 9, 9), gas=[(0, 1.6), (275.0, 1.3)])
    assert (tracks(story, 250, end, "too hot")[end].state == "unacknowledged") is back


def test_what_is_urgent_comes_back_at_once_though_the_gas_is_off() -> None:
    """Gas off answers the safety limit; half a band (1.25 K) hotter it asks again inside the 45 s."""
    hot = [plan(370), (400.0, OVER), (420.0, OVER + 4.0)]
    story = Story(YELLOW, hot, off=40.0, gas=[(0, 1.6), (405.0, 0.0)])
    seen = tracks(story, 395, 425, "over safety limit")
    assert seen[410.0].state == "acknowledged"
    assert (seen[420.0].state, seen[420.0].why) == ("unacknowledged", "worse")


def test_a_predicted_cue_that_was_acted_on_asks_again_when_the_move_was_not_enough() -> None:
    early = Forecast(first_crack=crack(450, 8))
    story = Story(YELLOW, [plan(t) for t in range(40, 400, 20)], gas=[(0, 1.6), (312.0, 1.3)], forecasts=[(300, early)])
    seen = tracks(story, 295, 370, "crack early")
    assert seen[330.0].state == "acknowledged"
    assert (seen[360.0].state, seen[360.0].why) == ("unacknowledged", "not enough")


def test_masked_cues_begin_to_wait_when_the_mask_falls() -> None:
    """While a graver cue of the same cause stands, the one behind it is not shown, and is fresh when that is over."""
    story = Story(YELLOW, above(*[5.0] * 5, start=300), forecasts=[(0, Forecast(first_crack=crack(450, 8)))])
    state = WatchState()
    for t in range(300, 371):
        state = judge(state, story.at(float(t)))
    assert state.tracks["too hot"].state == "unacknowledged"
    assert state.tracks["too hot"].ready == CHARGE + 370.0
    assert state.tracks["too hot"].since == CHARGE + 320.0
    _, _, cues = review(state, Heard(), story.at(370.0))
    assert "too hot" not in {c.name for c in cues}


def test_what_got_worse_is_news_and_not_a_repetition() -> None:
    """Heard and seen at 4:30, half a band worse at 5:10: once the minute is over it sounds as new, then once again."""
    story = Story(YELLOW, above(5, 5, 5, 8, 8, *[8.0] * 8), replies=[(272.0, "too hot", "seen")])
    led = lead(story, 250, 470)
    assert led.of("too hot") == [270, 330, 390]


def test_what_was_answered_as_an_alarm_stays_answered() -> None:
    """Drop now, past its tolerance and seen then: only half a tolerance (7.5 s) more asks again."""
    marks = {**YELLOW, "first crack": 487.0}
    readings = [plan(t) for t in range(40, 600, 30)]
    seen = tracks(Story(marks, readings, replies=[(595.0, "drop now", "seen")]), 560, 606, "drop now")
    assert {seen[t].state for t in (596.0, 599.0, 602.0)} == {"acknowledged"}
    assert seen[606.0].state == "unacknowledged"


def test_muting_that_is_withdrawn_lets_the_cue_come_back() -> None:
    """The same roast with its reply and, from 5:40 on, without: what was shelved asks again."""
    hot = above(*[5.0] * 8, start=250)
    muted, mended = Story(YELLOW, hot, replies=[(300.0, "too hot", "shelved")]), Story(YELLOW, hot)
    state = WatchState()
    for t in range(250, 340):
        state = judge(state, muted.at(float(t)))
    assert state.tracks["too hot"].state == "shelved"
    for t in range(340, 380):
        state = judge(state, mended.at(float(t)))
    assert state.tracks["too hot"].state == "unacknowledged"
