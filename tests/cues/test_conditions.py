"""Each cue of the table: where it must be heard, and where it must not.

The moments are made by hand (tests/cues/situations.py), so that each shows one thing; whole roasts through the coach
are in tests/cues/test_watch.py and tests/cues/test_whole_roasts.py.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import get_args

import numpy as np
import pytest
from scipy.stats import norm

from coach.advice.advice_values import Advice
from coach.cues.conditions import CONDITIONS, yellow_near
from coach.cues.situation import NextMove, Preheat
from coach.cues.table import CUES, PRIORITIES, RULES, SOUNDS, TABLE, Band, Severity, band
from coach.cues.watch import WatchState, judge
from coach.forecast.forecast_values import EventForecast, Forecast
from coach.roast.profile import Profile
from coach.roast.roast import PHASES
from tests.cues.situations import PLANNED, PROFILE, Led, Story, crack, drop, lead, normal, plan

ON_PLAN = [plan(t) for t in range(40, 600, 30)]
YELLOW = {"yellow": 244.0}
EARLY, LATE = Forecast(first_crack=crack(450, 8)), Forecast(first_crack=crack(530, 8))
READ = {"readings": ON_PLAN}


def preheat(ready: float) -> dict[str, object]:
    return {"preheat": Preheat(ready, 3.0, 215.0, 0.1)}


def due(t: float) -> dict[str, object]:
    """The next planned move, seen at roast time ``t``."""
    step = PROFILE.steps[3]
    assert step.time == 335.0
    return {"next_move": NextMove(step, 335.0, 335.0 - t)}


def hot(value: float, *before: tuple[float, float], **more: object) -> Story:
    return Story(readings=[*before, (400.0, value)], **more)  # type: ignore[arg-type]


MUST: dict[str, list[tuple[Story, float, float]]] = {
    "over safety limit": [
        (hot(236.0, plan(370)), 395, 405),
        (hot(236.0, plan(370), off=20.0, doubtful={400.0: "far off"}), 395, 405),  # doubtful, near the estimate
        (hot(240.0, plan(340), (370.0, 238.0), doubtful={370.0: "far", 400.0: "far"}), 395, 405),  # borne out
        (Story(readings=[(50.0, 236.0)], charged=False), 49, 55),  # one limit, also for the empty drum
    ],
    "drop now": [
        (Story(marks={"yellow": 244, "first crack": 487}, **READ), 560, 580),  # type: ignore[arg-type]
        (Story(marks=YELLOW, readings=ON_PLAN, off=4.0), 560, 580),  # crack never marked
    ],
    "drop near": [(Story(marks={"yellow": 244, "first crack": 487}, **READ), 530, 550)],  # type: ignore[arg-type]
    "crack early": [(Story(readings=ON_PLAN, forecasts=[(0, EARLY)]), 300, 347)],
    "crack late": [(Story(readings=ON_PLAN, forecasts=[(0, LATE)]), 300, 347)],
    "stalling": [(Story(YELLOW, ON_PLAN, forecasts=[(0, Forecast(stall=0.8, drop=drop()))]), 440, 490)],
    "racing": [(Story(YELLOW, ON_PLAN, forecasts=[(0, Forecast(racing=0.8, drop=drop()))]), 440, 490)],
    "too hot": [
        (Story(YELLOW, [plan(t, 5.0) for t in range(250, 400, 30)]), 250, 300),
        (Story(YELLOW, [plan(250), plan(280, 9.0)]), 250, 290),  # one beyond twice the band
    ],
    "too cool": [(Story(YELLOW, [plan(t, -5.0) for t in range(250, 400, 30)]), 250, 300)],
    "tapped crack": [(Story(YELLOW, ON_PLAN, tapped=(480.0, 470.0)), 470, 490)],
    "move due": [(Story(readings=ON_PLAN, gas=PLANNED[:1], more=due(331)), 331, 336)],
    "charge near": [(Story(charged=False, more=preheat(100.0)), 60, 80)],
    "yellow near": [
        (Story(readings=ON_PLAN, forecasts=[(0, Forecast(yellow=EventForecast(normal(244, 4), 146, 0, 0)))]), 215, 235)
    ],
    "crack near": [(Story(YELLOW, ON_PLAN, forecasts=[(0, Forecast(first_crack=crack(487, 10)))]), 440, 460)],
    "reading due": [
        (Story(readings=[plan(300)]), 300, 400),
        (Story(), 0, 100),  # none since charge
        (Story(readings=[plan(300)], forecasts=[(0, Forecast(next_reading=320.0))]), 300, 325),
    ],
}

MUST_NOT: dict[str, list[tuple[Story, float, float]]] = {
    "over safety limit": [
        (hot(234.0, plan(370)), 395, 405),
        (hot(261.0, plan(370), doubtful={400.0: "far off"}), 395, 425),  # a mistype, far from the estimate
        (Story(readings=[(20.0, 222.0)]), 20, 60),  # the probe still cools from the empty drum
        (Story(readings=[(50.0, 234.0)], charged=False), 49, 55),
    ],
    "drop now": [
        (Story(marks={"yellow": 244, "first crack": 487}, **READ), 500, 570),  # type: ignore[arg-type]
        (Story(marks={"yellow": 244, "first crack": 487, "drop": 570}, **READ), 560, 590),  # type: ignore[arg-type]
        (Story(marks=YELLOW, readings=[plan(300)], off=9.0), 560, 580),  # nothing read for minutes
    ],
    "drop near": [
        (Story(marks={"yellow": 244, "first crack": 487}, **READ), 490, 540),  # type: ignore[arg-type]
        (Story(marks={"yellow": 244, "first crack": 487}, **READ), 576, 600),  # type: ignore[arg-type]
    ],
    "crack early": [
        (Story(readings=ON_PLAN, forecasts=[(0, LATE)]), 300, 400),
        (Story(readings=ON_PLAN, forecasts=[(0, Forecast(first_crack=crack(466, 25)))]), 300, 440),  # 0.52: a mark
        (Story(readings=ON_PLAN, forecasts=[(0, EARLY), (310, Forecast(first_crack=crack(487, 8)))]), 305, 400),
        (Story(YELLOW, ON_PLAN, forecasts=[(0, EARLY)]), 432, 470),  # too late to correct
        (Story({"yellow": 244, "first crack": 450}, ON_PLAN, forecasts=[(0, EARLY)]), 452, 520),
        (Story(readings=ON_PLAN, gas=[(0.0, 1.6), (290.0, 1.3)], forecasts=[(300, EARLY)]), 300, 330),  # moved already
        (Story(readings=[plan(200)], forecasts=[(0, EARLY)]), 340, 400),  # readings have stopped
    ],
    "crack late": [
        (Story(readings=ON_PLAN, forecasts=[(0, EARLY)]), 300, 400),
        (Story(readings=ON_PLAN, gas=[(0.0, 1.6), (290.0, 1.9)], forecasts=[(300, LATE)]), 300, 330),
    ],
    "stalling": [
        (Story(YELLOW, ON_PLAN, forecasts=[(0, Forecast(stall=0.6, drop=drop()))]), 440, 490),
        (Story({}, ON_PLAN, forecasts=[(0, Forecast(stall=0.9, drop=drop()))]), 150, 240),  # drying
        (Story(YELLOW, ON_PLAN, forecasts=[(0, replace(EARLY, stall=0.9, drop=drop()))]), 300, 420),
    ],
    "racing": [
        (Story(YELLOW, ON_PLAN, forecasts=[(0, Forecast(racing=0.6, drop=drop()))]), 440, 490),
        (Story(YELLOW, ON_PLAN, forecasts=[(0, Forecast(racing=0.9, drop=drop()))]), 560, 575),  # no time left
    ],
    "too hot": [
        (Story(YELLOW, [plan(t, 3.5) for t in range(250, 400, 30)]), 250, 400),  # inside
        (Story(YELLOW, [plan(250), plan(280, 7.0), plan(310)]), 250, 330),  # one alone
        (Story(YELLOW, [plan(t, -9.0) for t in range(250, 400, 30)]), 250, 300),
        (Story(readings=[plan(t, 30.0) for t in range(20, 95, 15)]), 20, 95),  # before the turning point
        (Story(YELLOW, [plan(t, 5.0) for t in range(250, 300, 30)]), 380, 450),  # readings have stopped
    ],
    "too cool": [
        (Story(YELLOW, [plan(t, 9.0) for t in range(250, 400, 30)]), 250, 300),
        (Story(YELLOW, [plan(t, -5.0) for t in range(280, 400, 30)], forecasts=[(0, LATE)]), 330, 400),
    ],
    "tapped crack": [
        (Story(YELLOW, ON_PLAN), 470, 490),
        (Story({"yellow": 244, "first crack": 470}, ON_PLAN, tapped=(480.0, 470.0)), 481, 500),
    ],
    "move due": [
        (Story(readings=ON_PLAN, gas=PLANNED[:1], more=due(320)), 320, 329),
        (Story(readings=ON_PLAN), 331, 336),  # none to come
    ],
    "charge near": [
        (Story(charged=False, more=preheat(100.0)), 20, 60),
        (Story(more=preheat(100.0)), 60, 100),  # charged
    ],
    "yellow near": [
        (Story(readings=ON_PLAN, forecasts=[(0, Forecast(yellow=EventForecast(normal(244, 4), 146, 0, 0)))]), 180, 220),
        (Story({"yellow": 230}, ON_PLAN, forecasts=[(0, Forecast(yellow=EventForecast(normal(244, 4), 146, 0, 0)))]),
         231, 240),
    ],
    "crack near": [
        (Story(YELLOW, ON_PLAN, forecasts=[(0, Forecast(first_crack=crack(487, 10)))]), 400, 440),
        (Story({"yellow": 244, "first crack": 450}, ON_PLAN, forecasts=[(0, EARLY)]), 451, 460),
    ],
    "reading due": [
        (Story(readings=ON_PLAN), 100, 250),
        (Story(readings=[plan(300)], typing=[(310, 400)]), 300, 399),
        (Story({"yellow": 244, "first crack": 487, "drop": 570}, [plan(560)]), 572, 700),
    ],
}  # fmt: skip


def ids(table: dict[str, list[tuple[Story, float, float]]]) -> list[object]:
    return [pytest.param(n, *row, id=f"{n}-{i}") for n, rows in table.items() for i, row in enumerate(rows)]


@pytest.mark.parametrize(("cue", "story", "start", "end"), ids(MUST))
def test_must_be_heard(cue: str, story: Story, start: float, end: float) -> None:
    led = lead(story, start, end)
    assert led.of(cue), sorted({n for _, n in led.sounds})


@pytest.mark.parametrize(("cue", "story", "start", "end"), ids(MUST_NOT))
def test_must_not_be_heard(cue: str, story: Story, start: float, end: float) -> None:
    assert lead(story, start, end).of(cue) == []


def test_every_sounding_cue_has_both() -> None:
    sounding = {n for n, row in CUES.items() if row.sound != "none"}
    assert set(MUST) == set(MUST_NOT) == sounding
    assert set(CONDITIONS) == set(CUES)


DIAGNOSTICS = {
    "reading doubtful": (
        Story(readings=[plan(300), (330.0, 261.0)], doubtful={330.0: "31 above"}),
        Story(readings=[plan(300), (330.0, 261.0), plan(340)], doubtful={330.0: "31 above"}),
        341.0,
    ),
    "gas moved": (Story(readings=ON_PLAN, forecasts=[(0, Forecast(gas_moved=310.0))]), Story(readings=ON_PLAN), 341.0),
    "today is unlike": (Story(readings=ON_PLAN, forecasts=[(0, Forecast(odd=("charge 20 below",)))]), Story(), 100.0),
}


@pytest.mark.parametrize("cue", DIAGNOSTICS)
def test_diagnostics_are_shown_and_never_heard(cue: str) -> None:
    shown, not_shown, t = DIAGNOSTICS[cue]
    led = lead(shown, t - 20, t)
    found = led.cue(cue, t if cue != "reading doubtful" else t - 5)
    assert found is not None
    assert found.family == "diagnostic"
    assert found.action
    assert led.of(cue) == []
    assert lead(not_shown, t - 5, t).cue(cue, t) is None
    assert {n for n, row in CUES.items() if row.sound == "none"} == set(DIAGNOSTICS)


# -- phases ----------------------------------------------------------------------------------------------------------

PHASE_MARKS: dict[str, dict[str, float]] = {
    "drying": {},
    "browning": YELLOW,
    "development": {"yellow": 244, "first crack": 400},
    "cooling": {"yellow": 244, "first crack": 400, "drop": 420},
}


@pytest.mark.parametrize("phase", ["waiting", *PHASE_MARKS])
@pytest.mark.parametrize("cue", CUES)
def test_outside_its_phases_a_cue_is_suppressed(cue: str, phase: str) -> None:
    """Whatever is forecast: each condition is there in every phase, and stands only where the table says."""
    everything = Forecast(
        first_crack=crack(450, 8), yellow=EventForecast(normal(430, 4), 146, 0, 0), drop=drop(440),
        stall=0.9, racing=0.9, gas_moved=400.0, odd=("x",), next_reading=410.0,
    )  # fmt: skip
    if phase == "waiting":
        story = Story(readings=[(t, 250.0) for t in range(380, 430, 10)], charged=False, more=preheat(425.0))
    else:
        readings = [plan(t, 40.0) for t in range(380, 430, 10)]
        story = Story(PHASE_MARKS[phase], readings, forecasts=[(0, everything)], off=40.0, tapped=(400, 390),
                      more={**due(330), **preheat(430.0)})  # fmt: skip
    state = WatchState()
    for t in (423.0, 424.0, 425.0):
        state = judge(state, story.at(t))
    assert story.at(425.0).roast.phase == phase
    if phase not in CUES[cue].phases:
        assert state.tracks[cue].state == "suppressed"
    else:
        assert state.tracks[cue].state != "suppressed"


def test_only_over_the_limit_is_left_after_drop() -> None:
    assert {n for n, row in CUES.items() if "cooling" in row.phases} == {"over safety limit"}
    assert {after for (_, event), after in PHASES.items() if event == "drop"} == {"cooling"}


# -- bands, persistence, deadband --------------------------------------------------------------------------------------


def test_two_readings_outside_and_clears_inside_three_quarters() -> None:
    story = Story(YELLOW, [plan(250, 5), plan(280, 5), plan(310, 3.2), plan(340, 2.9)])
    led = lead(story, 250, 347)
    assert led.of("too hot") == [280]
    standing = led.cue("too hot", 335.0)
    assert standing is not None  # 3.2 K: inside the band of 4, not inside three quarters of it
    assert standing.state == "unacknowledged"
    assert led.cue("too hot", 347.0) is None
    first = led.cue("too hot", 255.0)
    assert first is not None
    assert (first.family, first.priority) == ("diagnostic", "none")  # after one reading a mark on the screen


def test_a_missing_reading_clears_nothing() -> None:
    led = lead(Story(YELLOW, [plan(250, 5), plan(280, 5)]), 250, 420)
    last = led.cue("too hot", 420.0)
    assert last is not None
    assert "nothing newer is known" in last.text
    assert led.of("too hot") == [280, 340]  # once, and once more when nobody answers


def test_a_kept_out_reading_neither_raises_nor_clears() -> None:
    readings = [plan(250, 5), plan(280, 5), plan(310, -60)]
    led = lead(Story(YELLOW, readings, doubtful={310.0: "far"}), 250, 330)
    assert led.cue("too hot", 330.0) is not None
    assert led.of("too cool") == []


def test_noise_about_the_edge_never_chatters() -> None:
    """A value toggling about the edge with a noise of 1 K: once a minute at most (ISA-18.2 calls three a minute
    chattering)."""
    for seed in range(3):
        rng = np.random.default_rng(seed)
        square = [
            plan(t, 4.0 + (1.5 if (t // 30) % 2 else -1.5) + float(rng.normal(0, 1))) for t in range(250, 480, 10)
        ]
        walk = [plan(t, 4.0 + x) for t, x in zip(range(250, 480, 10), np.cumsum(rng.normal(0, 1, 23)), strict=True)]
        for readings in (square, walk):
            times = lead(Story(YELLOW, readings), 250, 480).of("too hot")
            assert all(b - a >= 60 for a, b in pairwise(times))


def test_false_alarms_of_two_in_a_row_are_the_square_of_one() -> None:
    """Readings of pure noise with the band at two sigma: p = 0.0228 a side, two in a row 5.2e-4 (binomial; the values
    are those of Xu et al. 2012's rule of n consecutive samples, recomputed)."""
    rng = np.random.default_rng(5)
    n = 40_000
    outside = rng.normal(0, 2.0, n) > 4.0
    pairs = np.count_nonzero(outside[1:] & outside[:-1])
    p = float(norm.sf(2.0))
    assert p**2 == pytest.approx(5.2e-4, rel=0.01)
    sd = float(np.sqrt(n * p**2))
    assert abs(pairs - n * p**2) < 3.5 * sd
    # the watch's own rule, over the same kind of readings
    rises = 0
    for seed in range(8):
        r = np.random.default_rng(100 + seed)
        offs = np.clip(r.normal(0, 2.0, 25), -7.9, 7.9)  # beyond twice the band one is enough: kept out here
        story = Story(YELLOW, [plan(t, float(x)) for t, x in zip(range(250, 500, 10), offs, strict=True)])
        expected = int(np.any((offs[1:] >= 4.0) & (offs[:-1] >= 4.0)))
        rises += expected
        assert bool(lead(story, 250, 485).of("too hot")) == bool(expected)


# -- what is forecast --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sd", "p", "heard"), [(25.0, 0.579, False), (12.0, 0.662, False), (8.0, 0.734, True), (4.0, 0.894, True)]
)
def test_worked_probabilities(sd: float, p: float, heard: bool) -> None:
    """Plan 500 s, tolerance 15 s, forecast N(480, sd): P(before 485) by the normal distribution; 0.70 sounds (Wickens
    and Dixon 2007)."""
    forecast = crack(480, sd, plan=500.0, tolerance=15.0)
    assert forecast.p_early == pytest.approx(p, abs=6e-4)
    led = lead(Story(readings=ON_PLAN, forecasts=[(0, Forecast(first_crack=forecast))]), 300, 347)
    assert bool(led.of("crack early")) == heard
    mark = led.cue("crack early", 347.0)
    assert mark is not None
    assert (mark.family == "alarm") == heard


def test_two_forecasts_from_different_readings_are_needed() -> None:
    led = lead(Story(readings=ON_PLAN, forecasts=[(311, EARLY)]), 300, 347)
    assert led.of("crack early") == [340]  # 310 was read before; 340 bears it out
    assert led.cue("crack early", 330.0) is not None


def test_what_is_far_ahead_is_a_silent_mark_until_it_is_nearer() -> None:
    story = Story(readings=ON_PLAN, forecasts=[(0, Forecast(first_crack=crack(430, 8)))])
    led = lead(story, 90, 170)
    assert led.of("crack early") == [160]  # 130 s is the first reading within 300 s, 160 bears it out
    mark = led.cue("crack early", 125.0)
    assert mark is not None
    assert (mark.family, mark.state) == ("diagnostic", "normal")


def test_the_further_ahead_the_surer_it_must_be() -> None:
    """0.70 up to 200 s ahead, 0.90 at 300 s: 0.78 waits until it is nearer than 240 s, 0.92 does not."""
    assert [round(RULES.sure_at(left), 3) for left in (20, 200, 250, 300, 400)] == [0.7, 0.7, 0.8, 0.9, 0.9]
    for p, heard in ((0.78, 220), (0.92, 160)):
        forecast = crack(450, 10, plan=450 + 10 * float(norm.ppf(p)) + 20, tolerance=20)
        assert forecast.p_early == pytest.approx(p)
        led = lead(Story(readings=ON_PLAN, forecasts=[(0, Forecast(first_crack=forecast))]), 150, 255)
        assert led.of("crack early")[0] == heard


def test_a_forecast_is_graver_with_a_minute_left() -> None:
    """Crack at 450 s: until 390 s there is more than a minute."""
    led = lead(Story(readings=ON_PLAN, forecasts=[(0, EARLY)]), 300, 425)
    found = {t: c.priority for t in range(347, 426) if (c := led.cue("crack early", float(t))) is not None}
    assert {p for t, p in found.items() if t < 390} == {"low"}
    assert {p for t, p in found.items() if t >= 390} == {"medium"}


def test_less_time_is_no_reason_to_ask_again_what_was_seen() -> None:
    seen = [(347.0, "crack early", "seen")]
    led = lead(Story(readings=ON_PLAN, forecasts=[(0, EARLY)], replies=seen), 300, 425)
    assert led.of("crack early") == [310]


def test_the_text_carries_the_evidence_and_the_advice_is_the_action() -> None:
    advice = Advice("gas to 1.0 now", control="gas", value=1.0, kind="move")
    led = lead(Story(readings=ON_PLAN, forecasts=[(0, EARLY)], more={"advice": advice}), 300, 347)
    cue = led.cue("crack early", 347.0)
    assert cue is not None
    assert cue.text == "crack 7:20 to 7:40, plan 8:07"
    assert cue.action == "gas to 1.0 now"
    wrong = Advice("gas to 1.8 now", control="gas", value=1.8, kind="move")
    cue = lead(Story(readings=ON_PLAN, forecasts=[(0, EARLY)], more={"advice": wrong}), 300, 347).cue(
        "crack early", 347
    )
    assert cue is not None
    assert cue.action == "less heat now"


def test_too_late_to_correct_is_said_without_a_sound() -> None:
    story = Story(YELLOW, ON_PLAN, forecasts=[(0, replace(EARLY, drop=drop()))])
    led = lead(story, 432, 445)
    cue = led.cue("crack early", 445.0)
    assert cue is not None
    assert cue.priority == "none"
    assert "too late to correct; next: drop" in cue.text


def test_fahrenheit_and_kelvin_are_not_mixed() -> None:
    """The tolerance of the drop temperature is in the profile's degrees."""
    f = PROFILE.document.model_copy(update={
        "unit": "F", "charge_temperature": 432.0, "ambient": None,
        "reference": [(t, v * 1.8 + 32) for t, v in PROFILE.document.reference],
        "milestones": [m.model_copy(update={"temperature": m.temperature * 1.8 + 32,
                                            "temperature_tolerance": m.temperature_tolerance * 1.8})
                       for m in PROFILE.document.milestones],
        "band": PROFILE.document.band.model_copy(update={"drying": 10.8, "browning": 7.2, "development": 5.4}),
        "drop": PROFILE.document.drop.model_copy(update={"by": "temperature", "temperature": 407.48,
                                                         "temperature_tolerance": 3.6}),
        "limits": PROFILE.document.limits.model_copy(update={"safety": 455.0}),
    })  # fmt: skip
    c = PROFILE.document.model_copy(update={"drop": PROFILE.document.drop.model_copy(update={"by": "temperature"})})
    story = Story(YELLOW, ON_PLAN)
    for document in (f, c):
        profile = Profile(document)
        sizes = [(t, CONDITIONS["drop now"](replace(story.at(t), profile=profile)).size) for t in range(560, 590)]
        first = next(t for t, size in sizes if size is not None and size >= 1.0)
        assert first == pytest.approx(575, abs=2)


# -- the table ---------------------------------------------------------------------------------------------------------


def test_the_table_is_whole() -> None:
    assert len(CUES) == len(TABLE), "no name stands there twice"
    for name, row in CUES.items():
        assert all((row.condition, row.action, row.consequence, row.persistence, row.deadband, row.phases)), name
        assert row.time_available > 0, name
        assert row.sound in SOUNDS, name
        for family, priority in filter(None, [(row.family, row.priority), row.later]):
            assert family in ("alarm", "prompt", "diagnostic")
            assert (row.sound == "none") == (family == "diagnostic") == (priority == "none"), name
            assert (priority == "high") == (row.sound == "act now"), name
        for other in row.masked_by:
            assert name not in CUES[other].masked_by, f"{name} and {other} mask each other"
    assert len({row.sound for row in CUES.values()} - {"none"}) <= 4  # MIL-STD-1472E 5.3.4.3.1


def test_priority_follows_from_consequence_and_time() -> None:
    """More time or a lighter consequence is never of higher priority; what is severe and at once is high."""
    order = ("none", "low", "medium", "high")
    table = [[order.index(PRIORITIES[b][s]) for s in get_args(Severity)] for b in get_args(Band)]
    assert table[0][2] == order.index("high")
    assert all(ranks == sorted(ranks) for ranks in table)
    for column in zip(*table, strict=True):
        assert list(column) == sorted(column, reverse=True)
    assert [band(t) for t in (15, 15.1, 60, 60.1)] == ["under 15 s", "15-60 s", "15-60 s", "over 60 s"]
    assert CUES["over safety limit"].priority == "high"
    assert [CUES["drop near"].priority, CUES["too hot"].priority, CUES["too hot"].later] == [
        "medium", "low", ("alarm", "medium"),
    ]  # fmt: skip
    assert CUES["today is unlike"].priority == "none"


def test_led_is_not_empty() -> None:
    """A guard for the negative cases: the same machinery hears something when there is something."""
    led: Led = lead(MUST["crack early"][0][0], 300, 347)
    assert led.sounds


def test_yellow_that_must_have_passed_without_a_mark_is_no_longer_looked_for() -> None:
    """The last forecast of yellow is withdrawn when the probe stands above it; a quarter of a minute on it is asked for
    no more, instead of standing until the crack."""
    soon = Forecast(yellow=EventForecast(normal(244, 4), 146, 0, 0))
    story = Story(readings=ON_PLAN, forecasts=[(0, soon), (250, Forecast())])
    goal = PROFILE.goals["yellow"]
    assert yellow_near(story.at(240)).size == 1.0
    assert yellow_near(story.at(252)).size is None
    past = next(t for t in range(252, 480) if PROFILE.curve.value(t) > goal.temperature + 15.0)
    assert past < 330
    assert yellow_near(story.at(past)).size == 0.0
