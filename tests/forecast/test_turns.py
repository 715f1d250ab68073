"""Readings timed as the dial turns over: what is offered, what is logged, and what the estimate makes of it."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.app.commands.schema import schema
from coach.forecast.estimator import Model, observe, start, summarise
from coach.forecast.forecast_values import READ_BEFORE, Estimate
from coach.forecast.kalman import update, update_any
from coach.forecast.learning import from_profile
from coach.forecast.turned_readings import AHEAD, LEAST, LONGEST_GRACE, LONGEST_WAIT, SURELY, Face, next_turn, renewed
from coach.logbook import adopt
from coach.roast.entries import Correction, Event, Header, Mark, Reading
from coach.roast.errors import EntryError
from coach.roast.roast import Numbered, Probe, Roast, dial_step, effective, fold
from coach.roast.typed_line import Typed
from coach.session.coach import Coach
from coach.session.journal import line_of, parse_entry
from coach.session.profile_files import load_profile
from coach.session.typed_entries import entry_from
from coach.simulator.rehearsal.judged import timing
from tests.helpers import ROOT

PROFILE = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
KNOWLEDGE = from_profile(PROFILE)
WHOLE = Face(1.0, 0.5)


def header(**more: object) -> Header:
    return Header(id="x", started="2026-11-02T08:00:00+00:00", **more)  # type: ignore[arg-type]


def seen(dial: float, rate: float, sd: float = 0.3) -> Estimate:
    """An estimate by which the dial stands at ``dial`` now (°C) and goes on at ``rate`` (K/s)."""
    return Estimate(300.0, dial - rate * READ_BEFORE, sd, rate, 0.01, 290.0)


# -- which number is offered ----------------------------------------------------------------------------------------


def test_the_first_turn_that_can_be_waited_for_is_offered() -> None:
    turn = next_turn(seen(180.3, 0.2), "C", WHOLE, wanted=300.0, t=300.0)
    assert turn is not None
    # in 3 s the dial stands at 180.9, past the turn to 181 at 180.5: the next one is to 182, at 181.5
    assert turn.shown == 182.0
    assert turn.due == pytest.approx(300.0 + 1.2 / 0.2)
    assert turn.words(300.0) == "182 as it turns, in 6 s"


def test_nothing_is_offered_long_before_a_reading_is_wanted() -> None:
    assert next_turn(seen(180.2, 0.2), "C", WHOLE, wanted=300.0 + AHEAD + 1, t=300.0) is None


@pytest.mark.parametrize("rate", [0.0, 0.02, -0.02])
def test_nothing_is_offered_where_the_dial_may_turn_either_way(rate: float) -> None:
    assert next_turn(seen(92.0, rate), "C", WHOLE, 300.0, 300.0) is None


def test_nothing_is_offered_where_nobody_knows_where_the_dial_stands() -> None:
    assert next_turn(seen(180.2, 0.2, sd=4.0), "C", WHOLE, 300.0, 300.0) is None


@pytest.mark.parametrize(("dial", "unit"), [("half", "C"), ("tenths", "C"), ("whole", "C"), ("whole", "F")])
def test_fine_dials_are_offered_numbers_that_have_not_turned_yet(dial: str, unit: str) -> None:
    # some time after the last reading nobody knows to a degree where the dial stands
    turn = next_turn(seen(180.2, 0.3, sd=1.0), unit, Face.of(header(dial=dial, unit=unit), 1.0), 300.0, 300.0)  # type: ignore[arg-type]
    assert turn is not None
    assert turn.due - 300.0 >= 1.5 * turn.sd
    assert turn.due - 300.0 <= 1.5 * turn.sd + 1.0 / 0.3


def test_a_falling_dial_is_offered_the_next_lower_number() -> None:
    turn = next_turn(seen(120.2, -0.4), "C", WHOLE, 300.0, 300.0)
    assert turn is not None
    # in 3 s it stands at 119.0 and has turned to 119 at 119.5; it turns to 118 at 118.5
    assert (turn.shown, turn.rising) == (118.0, False)
    assert turn.due == pytest.approx(300.0 + 1.7 / 0.4)


@pytest.mark.parametrize(
    ("dial", "step", "unit", "shown", "at"),
    [
        (None, 1.0, "C", 181.0, 180.5),
        (None, 0.1, "C", 181.0, 180.95),  # tenths: the whole degree as it comes up
        ("tenths", 1.0, "C", 181.0, 180.95),
        ("half", 1.0, "C", 180.5, 180.25),
        ("needle", 1.0, "C", 185.0, 185.0),  # a needle: the mark itself
        (None, 1.0 / 1.8, "F", 357.0, 356.5),  # 180 °C is 356 °F
    ],
)
def test_each_dial_has_its_own_numbers(dial: str | None, step: float, unit: str, shown: float, at: float) -> None:
    face = Face.of(header(dial=dial, unit=unit), step)
    rate = 0.3 if dial == "needle" else 0.05
    turn = next_turn(seen(180.0, rate, sd=0.05), unit, face, 300.0, 300.0)  # type: ignore[arg-type]
    assert turn is not None
    assert turn.shown == shown
    there = 180.0 + rate * (turn.due - 300.0)
    assert (there if unit == "C" else there * 1.8 + 32) == pytest.approx(at)


@given(st.floats(60, 230), st.floats(0.04, 0.6), st.sampled_from(["whole", "half", "tenths", "needle"]), st.booleans())
def test_an_offered_number_is_still_to_come(dial: float, rate: float, kind: str, falls: bool) -> None:
    face = Face.of(header(dial=kind), 1.0)
    turn = next_turn(seen(dial, -rate if falls else rate), "C", face, 300.0, 300.0)
    soonest = max(LEAST, SURELY * 0.3 / rate)
    if turn is None:  # it would have to be waited for too long
        assert soonest + face.every / rate > LONGEST_WAIT
        return
    assert soonest - 1e-6 <= turn.due - 300.0 <= min(soonest + face.every / rate, LONGEST_WAIT) + 1e-6
    assert (turn.shown > dial) != falls


def test_an_offered_number_stays_until_it_has_passed() -> None:
    armed = renewed(None, seen(180.2, 0.2), "C", WHOLE, 300.0, 300.0)
    assert armed is not None
    # the estimate jumps about, and a later reading is wanted: the number stays
    for dial, t in ((180.9, 301.0), (180.1, 302.0), (181.4, 303.0), (181.6, 304.0)):
        armed = renewed(armed, seen(dial, 0.2), "C", WHOLE, 400.0, t)
        assert armed is not None
        assert armed.shown == 182.0
    # the dial is surely past it: the next one is offered where a reading is still wanted, and nothing else
    assert renewed(armed, seen(184.0, 0.2), "C", WHOLE, 400.0, 316.0) is None
    then = renewed(armed, seen(184.0, 0.2), "C", WHOLE, 310.0, 316.0)
    assert then is not None
    assert then.shown == 186.0
    # whoever presses now meant the number before
    assert not then.settled(316.5)
    assert then.settled(318.0)
    assert armed.settled(304.0)


def test_an_offered_number_goes_where_the_dial_turns_back() -> None:
    armed = next_turn(seen(120.2, -0.4), "C", WHOLE, 300.0, 300.0)
    assert renewed(armed, seen(119.0, 0.01), "C", WHOLE, 400.0, armed.due + LONGEST_GRACE + 1) is None  # type: ignore[union-attr]


# -- what is logged -------------------------------------------------------------------------------------------------


def test_a_turn_stands_in_the_journal_and_old_ones_read_as_before() -> None:
    entry = Reading(at=300.0, temperature=183.0, turned=True)
    assert json.loads(line_of(entry))["turned"] is True
    assert parse_entry(line_of(entry), "x", 2) == entry
    old = '{"kind": "reading", "at": 300.0, "temperature": 183.0}'
    assert parse_entry(old, "x", 2) == Reading(at=300.0, temperature=183.0)
    assert "turned" not in line_of(Reading(at=300.0, temperature=183.0))
    with pytest.raises(Exception, match="turned"):
        parse_entry('{"kind": "reading", "at": 300.0, "temperature": 183.0, "turned": "yes"}', "x", 2)


def test_the_schema_knows_turns_and_dials() -> None:
    found = schema("journal")["$defs"]
    assert "turned" in found["Reading"]["properties"]
    assert "dial" in found["Header"]["properties"]


@pytest.mark.parametrize(
    ("changes", "turned"),
    [({"temperature": 184.0}, True), ({"at": 295.0, "typed": 310.0}, False), ({"turned": False}, False)],
)
def test_a_correction_keeps_a_turn_unless_it_gives_another_time(changes: dict[str, object], turned: bool) -> None:
    entries = [
        Numbered(2, Mark(at=0.0, event="charge")),
        Numbered(3, Reading(at=300.0, temperature=183.0, turned=True)),
        Numbered(4, Correction(at=310.0, of=3, replace=changes)),
    ]
    assert fold(header(), effective(entries)).readings[0].turned is turned


def test_a_turn_is_logged_as_it_happens() -> None:
    coach = Coach(PROFILE, header())
    coach.receive(Mark(at=0.0, event="charge"))
    entry = entry_from(coach, Typed(temperature=183.0, turned=True), 300.0)
    assert entry == Reading(at=300.0, temperature=183.0, turned=True)
    with pytest.raises(EntryError, match="as it happens"):
        entry_from(coach, Typed(temperature=183.0, turned=True, ago=10.0), 300.0)


def test_the_coach_offers_a_turn_and_takes_it_away_when_it_was_used() -> None:
    coach = Coach(PROFILE, header())
    coach.receive(Mark(at=0.0, event="charge"))
    for t in (150.0, 180.0, 210.0):
        coach.advance(t)
        coach.receive(Reading(at=t, temperature=round(PROFILE.curve.value(t))))
    t = 210.0
    while coach.situation.turn is None and t < 300.0:
        t += 1.0
        coach.advance(t)
    turn = coach.situation.turn
    assert turn is not None
    assert turn.due >= t + 2.0
    assert turn.shown == pytest.approx(PROFILE.curve.value(turn.due), abs=2.0)
    coach.advance(turn.due)
    coach.receive(Reading(at=turn.due, temperature=turn.shown, turned=True))
    assert coach.situation.turn is None
    assert coach.roast.readings[-1].turned


# -- what the estimate makes of it ----------------------------------------------------------------------------------


def model(**more: object) -> Model:
    return Model(KNOWLEDGE.bank, PROFILE.curve, 1.0, **more)  # type: ignore[arg-type]


def turn_to(shown: float, t: float) -> Probe:
    return Probe(t, shown, 9, t, shown, turned=True)


def test_digits_turn_half_a_step_before_the_middle_of_what_is_typed() -> None:
    t = 400.0
    ahead = PROFILE.curve.value(t + READ_BEFORE - 0.5)
    assert model().deviation(turn_to(183.0, t)) == pytest.approx(182.5 - ahead)
    assert model(needle=True).deviation(turn_to(183.0, t)) == pytest.approx(183.0 - ahead)
    assert model().deviation(Probe(t, 183.0, 9, t, 183.0)) == pytest.approx(183.0 - PROFILE.curve.value(t))
    falling = 20.0
    assert PROFILE.curve.slope(falling) < -0.1
    assert model().deviation(turn_to(140.0, falling)) == pytest.approx(140.5 - PROFILE.curve.value(falling + 1.5))


def test_a_turn_is_known_better_than_a_number_typed() -> None:
    m = model()
    assert np.all(m.noise(400.0, turned=True) < 0.7 * m.noise(400.0))


def test_a_press_for_a_neighbouring_number_is_a_hypothesis() -> None:
    m = replace(model(), bank=KNOWLEDGE.bank.best(1))
    state = start(m)
    for t in np.arange(150.0, 400.0, 10.0):
        state = observe(m, replace(state, t=float(t)), turn_to(PROFILE.curve.value(float(t) + 1.5) + 0.5, float(t)))
    here = summarise(m, state).temperature
    right = summarise(m, observe(m, state, turn_to(PROFILE.curve.value(state.t + 1.5) + 0.5, state.t))).temperature
    off = observe(m, state, turn_to(PROFILE.curve.value(state.t + 1.5) + 1.5, state.t))
    plain, _ = update_any(state.x, state.P, np.array([1.0]), np.ones(1), np.eye(5)[0], m.noise(state.t, turned=True))
    assert right == pytest.approx(here, abs=0.02)
    assert abs(off.x[0, 0] - state.x[0, 0]) < abs(plain.x[0, 0] - state.x[0, 0])


def test_one_of_several_measurements_is_the_mixture_of_its_updates() -> None:
    # moments of a mixture: mean of the means, mean of the covariances and of the squared distances from it
    x, P = np.array([[1.0, 0.2]]), np.array([[[0.5, 0.1], [0.1, 0.3]]])
    H, R, z, chances = np.array([1.0, 0.0]), np.array([0.2]), np.array([1.3, 0.3, 2.3]), np.array([0.9, 0.05, 0.05])
    found, log = update_any(x, P, z, chances, H, R)
    posts = [update(x, P, float(v), H, R) for v in z]
    likelihood = np.array([np.exp(-0.5 * p.y[0] ** 2 / p.S[0]) / np.sqrt(p.S[0]) for p in posts]) * chances
    w = likelihood / likelihood.sum()
    mean = sum(a * p.x[0] for a, p in zip(w, posts, strict=True))
    cov = sum(a * (p.P[0] + np.outer(p.x[0] - mean, p.x[0] - mean)) for a, p in zip(w, posts, strict=True))
    np.testing.assert_allclose(found.x[0], mean, rtol=1e-12)
    np.testing.assert_allclose(found.P[0], cov, rtol=1e-12)
    assert log[0] == pytest.approx(np.log(likelihood.sum()))


def test_a_reference_adopted_from_turns_is_as_exact_as_they_are() -> None:
    rng = np.random.default_rng(5)
    every = np.arange(0.0, 620.0, 0.25)
    runs = PROFILE.curve.at(every + READ_BEFORE)  # the dial runs ahead of what is typed by so much

    def off(turned: bool) -> float:
        readings = []
        for i, t in enumerate(np.arange(100.0, 600.0, 30.0) + rng.uniform(-5, 5, 17)):
            shown = np.round(runs + 0.15 * rng.normal())
            at = int(np.searchsorted(every, t))
            if turned:
                at += int(np.argmax(shown[at:] > shown[at]))
                readings.append(
                    Probe(every[at] + 0.25 + rng.gamma(9.0, 0.3 / 9.0), shown[at], i + 2, t, shown[at], True)
                )
            else:
                readings.append(Probe(every[at] + max(rng.normal(2.0, 1.0), 0.0), shown[at], i + 2, t, shown[at]))
        marks: dict[Event, float] = {"charge": 0.0, "drop": 600.0}
        line = adopt.smoothed(Roast(header(dial="whole"), charge_at=0.0, marks=marks, readings=tuple(readings)))
        grid = np.arange(150.0, 560.0, 10.0)
        return float(np.sqrt(np.mean((line.curve.at(grid) - PROFILE.curve.at(grid)) ** 2)))

    turns, typed = (np.mean([off(x) for _ in range(8)]) for x in (True, False))
    assert turns < 0.2
    assert turns < 0.7 * typed


def test_the_dial_says_in_which_steps_it_shows() -> None:
    readings = [Probe(0.0, 180.5, 2, 0.0, 180.5), Probe(9.0, 182.0, 3, 9.0, 182.0)]
    assert dial_step(readings, header()) == pytest.approx(0.1)
    assert dial_step(readings, header(dial="half")) == 0.5
    assert dial_step(readings, header(dial="whole", unit="F")) == pytest.approx(1 / 1.8)


# -- how well it was timed ------------------------------------------------------------------------------------------


def test_a_rehearsal_says_how_well_turns_were_timed() -> None:
    pressed = ((100.3, 150.0), (130.9, 155.0), (160.0, 170.0), (163.0, 171.0))
    readings = tuple(Probe(t, n, i + 2, t, n, turned=True) for i, (t, n) in enumerate(pressed))
    roast, dial = Roast(header(), charge_at=60.0, readings=readings), [(160.0, 150.0), (190.0, 155.0), (200.0, 160.0)]
    found = timing(roast, dial, {2, 3, 4})
    assert found is not None
    assert found.late == pytest.approx((0.3, 0.9))
    assert found.wrong == 1
    assert found.words.startswith("Turns: 1 of 3 within half a second, 0.6 s late")
    # at three times the speed the person was three times as quick
    quick = timing(roast, dial, {2, 3, 4}, 3.0)
    assert quick is not None
    assert quick.late == pytest.approx((0.1, 0.3))
    assert timing(roast, dial, ()) is None, "a simulated person's turns are not scored"
