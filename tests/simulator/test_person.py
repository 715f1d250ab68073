"""The simulated person: habits show in what is typed, and a second person can take over."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from simulated_operator import CHARGE_AT, Habits, roast_once

from coach.roast.entries import Entry, Header, Mark, Move, Reading
from coach.roast.profile import Step
from coach.roast.roast import Numbered, effective, fold
from coach.simulator.machine import load_machine
from coach.simulator.person import Person, Recipe, mistyped
from coach.simulator.roaster import SimulatedRoaster

MACHINE = load_machine("brambleforge-1")


def roast(habits: Habits, seed: int = 1) -> tuple[list[Entry], SimulatedRoaster]:
    roaster = SimulatedRoaster(MACHINE, seed=seed)
    return roast_once(MACHINE, roaster, habits, np.random.default_rng(seed)), roaster


def mark(entries: list[Entry], event: str) -> float:
    return next(e.at for e in entries if isinstance(e, Mark) and e.event == event)


def test_a_roast_folds_and_follows_the_plan() -> None:
    entries, roaster = roast(Habits(late=0.0))
    header = Header(id="x", started="2026-01-01T00:00:00+00:00")
    folded = fold(header, effective(Numbered(i + 2, e) for i, e in enumerate(entries)))
    assert folded.phase == "cooling"
    assert folded.charge_at == CHARGE_AT
    assert not roaster.loaded
    made = [(m.t, m.control, m.value) for m in folded.moves if m.t > 0]
    assert made == [(m.at, m.control, m.value) for m in MACHINE.demo_plan.moves]


def test_intervals_lateness_and_calls_are_the_habits() -> None:
    gaps, calls, develops, moves = [], [], [], []
    for seed in range(30):
        entries, roaster = roast(Habits(every=25.0, jitter=2.0, late=20.0, call_delay=10.0, call_sd=2.0), seed)
        times = [e.at for e in entries if isinstance(e, Reading) and e.at > CHARGE_AT]
        gaps += [b - a for a, b in pairwise(times)]
        truth = roaster.truth
        assert truth.first_crack is not None
        calls.append(mark(entries, "first crack") - truth.first_crack)
        develops.append(mark(entries, "drop") - mark(entries, "first crack"))
        moves += [e.at - CHARGE_AT - 330.0 for e in entries if isinstance(e, Move) and e.value == 1.2]
    assert np.mean(gaps) == pytest.approx(25.5, abs=1.0)
    assert np.mean(calls) == pytest.approx(10.5, abs=1.5)
    assert np.mean(develops) == pytest.approx(90.0, abs=3.0)
    assert 0.0 <= min(moves) < 6.0
    assert 14.0 < max(moves) <= 21.0


def test_mistypes_are_as_frequent_as_said() -> None:
    wrong = total = 0
    for seed in range(30):
        entries, roaster = roast(Habits(typo=0.2, delay=0.0), seed)
        dial = {round(s.time): s.state.probe for s in roaster.history}
        for e in entries:
            if isinstance(e, Reading) and e.at > CHARGE_AT:
                total += 1
                wrong += abs(e.temperature - dial[round(e.at)]) > 8.0
    assert 0.1 < wrong / total < 0.25  # a swap of like digits changes little or nothing
    assert all(mistyped(198.0, np.random.default_rng(s)) >= 0 for s in range(50))


def test_moves_by_dial_and_by_mark() -> None:
    recipe = Recipe(
        (
            Step("gas", 1.1, 1.1, 400.0, temperature=170.0),
            Step("gas", 0.7, 0.7, 600.0, event="first crack", after=20.0),
        ),
        development=60.0,
        charge_at=30.0,
    )
    roaster = SimulatedRoaster(MACHINE)
    person = Person(Habits(late=0.0), recipe, np.random.default_rng(2))
    entries: list[Entry] = []
    for t in range(20, 900):
        roaster.advance(float(t))
        dial = roaster.display()
        new = person.second(float(t), roaster)
        if any(isinstance(e, Move) and e.value == 1.1 for e in new):
            assert 169.0 <= dial <= 171.0
        entries += new
    late = next(e.at for e in entries if isinstance(e, Move) and e.value == 0.7)
    assert late - mark(entries, "first crack") == pytest.approx(20.0, abs=1.0)


def test_a_dial_in_fahrenheit_is_typed_in_fahrenheit() -> None:
    celsius, _ = roast(Habits())
    fahrenheit, _ = roast(Habits(unit="F"))
    pairs = zip(
        [e for e in celsius if isinstance(e, Reading)], [e for e in fahrenheit if isinstance(e, Reading)], strict=True
    )
    assert all(abs(f.temperature - (c.temperature * 1.8 + 32)) < 2.0 for c, f in pairs)


def test_a_second_person_takes_over() -> None:
    recipe = Recipe(
        tuple(Step(m.control, m.value, m.value, m.at) for m in MACHINE.demo_plan.moves), 90.0, charge_at=60.0
    )
    roaster = SimulatedRoaster(MACHINE)
    first = Person(Habits(late=0.0), recipe, np.random.default_rng(1))
    second = Person(Habits(late=0.0), recipe, np.random.default_rng(2), by="next shift")
    entries: list[Entry] = []
    for t in range(50, 900):
        roaster.advance(float(t))
        if t == 360:
            made = [(e.control, e.value) for e in entries if isinstance(e, Move)]
            second.take_over(360.0, 60.0, {"charge": 60.0, "yellow": first.marks["yellow"]}, made)
        entries += (first if t < 360 else second).second(float(t), roaster)
    assert [e.event for e in entries if isinstance(e, Mark)] == ["charge", "yellow", "first crack", "drop"]
    moved = [(e.at - 60.0, e.value) for e in entries if isinstance(e, Move) and e.at > 61.0]
    assert moved == [(180.0, 3.0), (330.0, 1.2), (480.0, 0.8)]
    assert min(e.at for e in entries if getattr(e, "by", "") == "next shift") <= 366.0
