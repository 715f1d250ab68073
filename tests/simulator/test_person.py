"""The simulated person: habits show in what is typed, and a second person can take over."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from simulated_operator import CHARGE_AT, BareHands, Habits, roast_once

from coach.roast.entries import Entry, Header, Mark, Move, Reading
from coach.roast.roast import Numbered, effective, fold
from coach.simulator.habits import habits_of, mistyped
from coach.simulator.machine import load_machine
from coach.simulator.person import Person
from coach.simulator.recipe import Recipe, RecipeStep
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
        assert truth is not None
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
            RecipeStep(400.0, "gas", 1.1, temperature=170.0),
            RecipeStep(600.0, "gas", 0.7, event="first crack", after=20.0),
        ),
        development=60.0,
        charge_at=30.0,
    )
    roaster = SimulatedRoaster(MACHINE)
    person = Person(Habits(late=0.0, development=None), recipe, np.random.default_rng(2))
    entries: list[Entry] = []
    for t in range(20, 900):
        roaster.advance(float(t))
        dial = roaster.display()
        new = person.second(float(t), BareHands(roaster))
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
    recipe = Recipe(tuple(RecipeStep(m.at, m.control, m.value) for m in MACHINE.demo_plan.moves), 90.0, charge_at=60.0)
    roaster = SimulatedRoaster(MACHINE)
    hands = BareHands(roaster)
    first = Person(Habits(late=0.0), recipe, np.random.default_rng(1))
    second = replace(first, rng=np.random.default_rng(2), by="next shift", marks={}, _todo=[], _waiting=[], _calls={})
    entries: list[Entry] = []
    for t in range(50, 900):
        roaster.advance(float(t))
        if t == 360:
            made = [RecipeStep(e.at, e.control, e.value) for e in entries if isinstance(e, Move)]
            second.take_over(360.0, 60.0, [("charge", 60.0), ("yellow", first.marks["yellow"])], made)
        entries += (first if t < 360 else second).second(float(t), hands)
    assert [e.event for e in entries if isinstance(e, Mark)] == ["charge", "yellow", "first crack", "drop"]
    moved = [(e.at - 60.0, e.value) for e in entries if isinstance(e, Move) and e.at > 61.0]
    assert moved == [(180.0, 3.0), (330.0, 1.2), (480.0, 0.8)]
    assert min(e.at for e in entries if getattr(e, "by", "") == "next shift") <= 366.0


def test_habits_in_words() -> None:
    plain = Habits()
    assert habits_of("", plain) == plain
    assert habits_of("every=20, typo=0.05 late=15", plain) == replace(plain, every=20.0, typo=0.05, late=15.0)
    for text, fault in (("speed=3", "no habit 'speed'"), ("every=often", "no number"), ("typo=2", "between 0 and 1"),
                        ("every=0", "between 1"), ("rounding=0", "above 0"), ("late=nan", "between")):  # fmt: skip
        with pytest.raises(ValueError, match=fault):
            habits_of(text, plain)


def a_dial(celsius: float) -> Any:
    """A roaster of which the dial alone is looked at, in somebody's hands."""
    roaster = SimpleNamespace(indicated=celsius, truth=SimpleNamespace(yellow=None, first_crack=None))
    roaster.display = lambda step, unit: round(roaster.indicated / step) * step
    return SimpleNamespace(roaster=roaster)


def test_turns_are_timed_a_reaction_after_the_dial_turned() -> None:
    hands = a_dial(100.0)
    person = Person(Habits(turns=1.0, every=8.0, jitter=1.0), Recipe((), 90.0), np.random.default_rng(3), charged=0.0)
    found: list[Reading] = []
    for t in range(1, 12000):
        hands.roaster.indicated = 100.0 + 0.15 * t
        found += [e for e in person.second(float(t), hands) if isinstance(e, Reading)]
    assert all(e.turned for e in found)
    late = np.array([e.at - (e.temperature - 0.5 - 100.0) / 0.15 for e in found])
    wrong = np.abs(late) > 2.0  # one degree lasts 6.7 s
    assert np.mean(wrong) == pytest.approx(0.02, abs=0.015)
    # half of the display's refresh of 0.5 s, and a reaction of 0.3 s
    assert late[~wrong].mean() == pytest.approx(0.55, abs=0.04)
    assert late[~wrong].min() > 0.05


def test_a_dial_that_does_not_turn_is_typed_as_it_stands() -> None:
    hands = a_dial(90.2)
    person = Person(Habits(turns=1.0), Recipe((), 90.0), np.random.default_rng(3), charged=0.0)
    found = [e for t in range(1, 200) for e in person.second(float(t), hands)]
    assert [(e.temperature, e.turned) for e in found if isinstance(e, Reading)] == [(90.0, None)] * len(found)
    assert len(found) >= 3
