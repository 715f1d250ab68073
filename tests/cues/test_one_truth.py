"""What stands on one screen agrees with itself: one drop time, one limit, no time that has passed."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from helpers import ROOT
from situations import PROFILE, Story, crack, drop, plan

from coach.advice.advice_values import Advice
from coach.app.screens.act import act, logged
from coach.app.screens.palette import LOOKS, Sketch
from coach.app.screens.roast_panes import forecast_panel, ranges
from coach.app.screens.words import headline
from coach.cues.annunciator import Heard
from coach.cues.conditions import CONDITIONS, safety_limit
from coach.cues.evidence import drop_due
from coach.cues.situation import ActiveCue, NextMove
from coach.cues.watch import WatchState, announce, judge
from coach.forecast.forecast_values import Forecast
from coach.roast.entries import Header, Mark, Move, Pop, Reading
from coach.roast.units import clock
from coach.session.coach import Coach
from coach.session.profile_files import load_profile

HOW = Sketch(LOOKS["dark"])
CLOCK = re.compile(r"\d+:\d\d")


def roasted(until: float, *more: object, crack_at: float | None = 487.0) -> Coach:
    """A coach on the reference, charged at 10 s, up to a roast time (s), who read the journal back: cues are not
    computed yet."""
    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    coach = Coach(profile, Header(id="x", profile=profile.name, started="2026-11-02T08:00:00+00:00"))
    entries = [Mark(at=10.0, event="charge"), Mark(at=254.0, event="yellow"), *more]
    entries += [
        Reading(at=10.0 + t, temperature=float(round(profile.curve.value(t)))) for t in range(60, int(until), 30)
    ]
    entries += [Move(at=10.0 + s.time + 1.0, control=s.control, value=s.shown) for s in profile.steps if s.time < until]
    if crack_at is not None and crack_at < until:
        entries.append(Mark(at=10.0 + crack_at, event="first crack"))
    for entry in sorted(entries, key=lambda e: e.at):  # type: ignore[attr-defined]
        coach.take(coach.prepare(entry), most=0)  # type: ignore[arg-type]
    coach.advance(10.0 + until, most=0)
    return coach


def caught_up(coach: Coach) -> Coach:
    """The coach, its cues and advice computed too."""
    while coach.behind:
        coach.catch_up(1000)
    return coach


def test_after_first_crack_every_place_names_the_drop_time_of_the_rule() -> None:
    coach = roasted(550.0)
    s, due = coach.situation, 487.0 + (PROFILE.development or 0.0)
    found = drop_due(s)
    assert found is not None
    assert found.time == pytest.approx(due)
    assert s.t is not None
    assert act(s, (), lambda action: action).next_in == pytest.approx(due - s.t)
    for shown in (ranges(s, 80, HOW).plain.split(" drop ")[1], forecast_panel(s, 40, HOW).plain.split("\ndrop")[1]):
        assert CLOCK.findall(shown) == [clock(due)]
    caught_up(coach)
    (cue,) = [c for c in coach.cues if c.name == "drop near"]
    assert clock(due) in cue.text


def test_before_first_crack_the_one_drop_time_is_the_forecast() -> None:
    s = roasted(400.0).situation
    found = drop_due(s)
    assert found is not None
    assert s.forecast.drop is not None
    assert found.time == s.forecast.drop.time.median
    assert not found.ruled


def test_while_a_tapped_crack_waits_drop_development_and_advice_go_on_from_the_taps() -> None:
    taps = [Pop(at=10.0 + t) for t in (480.0, 484.0, 486.0, 487.2, 488.3, 489.4, 490.2, 491.0)]
    s = caught_up(roasted(520.0, *taps, crack_at=None)).situation
    assert s.tapped_onset is not None
    assert "first crack" not in s.roast.marks
    found = drop_due(s)
    assert found is not None
    assert found.provisional
    assert found.time == pytest.approx(s.tapped_onset + (PROFILE.development or 0.0))
    for words in (ranges(s, 100, HOW).plain, forecast_panel(s, 40, HOW).plain):
        assert "tapped" in words
        assert f"development {clock(520.0 - s.tapped_onset)}" in words
        assert clock(found.time) in words
        assert "no forecast" not in words
    assert s.advice is not None
    marked = roasted(520.0, *taps, Mark(at=10.0 + s.tapped_onset, typed=529.0, event="first crack"), crack_at=None)
    other = drop_due(marked.situation)
    assert other is not None
    assert found.temperature == pytest.approx(other.temperature, abs=0.2), "as if it had been confirmed"


def test_the_limit_has_one_value_in_every_phase_and_the_alarm_ends_with_the_drop() -> None:
    assert safety_limit(PROFILE) == PROFILE.safety == 235.0
    for story, t in (
        (Story(readings=[(50.0, 236.0)], charged=False), 50.0),
        (Story(readings=[(20.0, 236.0)]), 21.0),
        (Story(readings=[plan(370), (400.0, 236.0)]), 401.0),
    ):
        verdict = CONDITIONS["over safety limit"](story.at(t))
        assert verdict.size is not None
        assert verdict.size >= 1.0
        assert "limit 235 °C" in verdict.text
    dropped = Story({"yellow": 244.0, "first crack": 487.0, "drop": 580.0}, [(570.0, 240.0)])
    size = CONDITIONS["over safety limit"](dropped.at(581.0)).size
    assert size is not None
    assert size < 0.0, "no deadband holds it"
    again = replace(dropped, readings=[(570.0, 240.0), (640.0, 261.0)])
    verdict = CONDITIONS["over safety limit"](again.at(641.0))
    assert verdict.size is not None
    assert verdict.size > 1.0, "an empty drum over the limit is one of its own"
    assert "limit 235 °C" in verdict.text


def test_no_deadline_is_named_once_it_has_passed() -> None:
    s = Story(readings=[plan(t) for t in range(200, 380, 30)]).at(383.0)
    advice = Advice("gas 1.2 to 0.8 by 6:20", "gas", 0.8, shown=0.8, deadline=380.0, kind="move")
    cue = ActiveCue("too hot", "alarm", "medium", "unacknowledged", False, "190 °C", advice.text, 370.0)
    assert "6:20" not in headline(cue, replace(s, advice=advice))
    assert "6:20" in headline(cue, replace(s, t=375.0, advice=advice))


def test_an_action_in_a_cue_goes_with_the_advice_it_came_from() -> None:
    hot = Story({"yellow": 244.0}, [plan(t, 8.0) for t in range(250, 350, 30)], off=8.0,
                forecasts=[(0, Forecast(first_crack=crack(487, 8), drop=drop()))])  # fmt: skip
    advice = Advice("gas 1.2 to 0.8 by 6:20", "gas", 0.8, shown=0.8, deadline=380.0, kind="move")
    watch = WatchState()
    for t in range(280, 346):
        watch = judge(watch, replace(hot.at(float(t)), advice=advice))
    later = hot.at(440.0)  # nothing was read for long, and the advice is gone
    watch = judge(watch, later)
    _, cues = announce(watch, Heard(), later)
    assert cues
    assert not any("6:20" in c.action for c in cues)


def test_a_rejected_reading_is_named_in_its_reason() -> None:
    coach = roasted(400.0)
    coach.receive(Reading(at=412.0, temperature=150.0))
    assert coach.situation.estimate is not None
    (reason,) = coach.situation.estimate.doubtful.values()
    assert re.fullmatch(r"expected about 1[6-9]\d", reason)


def test_the_band_offers_the_key_of_a_move_only_where_the_key_logs_that_move() -> None:
    coach = roasted(200.0)
    step = next(x for x in PROFILE.steps if x.time > 200.0)
    for left in (68.0, 20.0):
        coming = NextMove(step, 200.0 + left, left)
        s = replace(coach.situation, next_move=coming, due_moves=(coming,), missed=(), advice=None)
        shown = act(s, (), lambda action: action)
        assert shown.key == ("made" if left <= 30.0 else "")
        assert bool(logged(s, shown)[0]) == (left <= 30.0)


@pytest.mark.parametrize("cue", [True, False])
def test_with_advice_instead_of_a_planned_move_band_and_key_mean_the_advised_one(cue: bool) -> None:
    coach = roasted(200.0)
    step = next(x for x in PROFILE.steps if x.control == "gas" and x.time > 200.0)
    other = next(x for x in PROFILE.steps if x.control == "air")
    coming = NextMove(step, 215.0, 15.0)
    advice = Advice("gas 1.6 to 1.4", "gas", 1.4, shown=1.4, deadline=215.0, kind="move", instead=step)
    with_it = (coming, NextMove(other, 215.0, 15.0))
    s = replace(coach.situation, next_move=coming, due_moves=with_it, missed=(), advice=advice)
    late = ActiveCue("crack late", "forecast", "medium", "unacknowledged", False, "30 s late", "gas 1.6 to 1.4", 190.0)
    shown = act(s, (late,) if cue else (), lambda action: action)
    moves, words = logged(s, shown)
    assert shown.key == "made"
    assert shown.what.split(", ")[0].endswith("1.4")
    assert moves == (("gas", 1.4), ("air", other.shown))
    assert words.startswith("gas to 1.4, as advised")
