"""Cues over whole roasts: what must sound, what must not, how often."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import pytest
from helpers import ROOT, example

from coach.cues.table import CUES
from coach.roast.entries import Reading, Reply
from coach.session.coach import Coach
from coach.session.profile_files import load_profile

PROFILE = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))


def run(change: Callable[[float, float], float], coach: Coach | None = None) -> tuple[Coach, list[tuple[float, str]]]:
    """The example roast with its readings changed by (roast time, °C) -> °C; the sounds as (roast time, cue)."""
    journal = example()
    coach = coach or Coach(PROFILE, journal.header)
    sounds: list[tuple[float, str]] = []
    charge = 60.0
    at = 0.0
    for n in journal.entries:
        while at + 1 <= n.entry.came:
            at += 1
            sounds += [(at - charge, c.name) for c in coach.advance(at)]
        entry = n.entry
        if isinstance(entry, Reading) and entry.at > charge:
            entry = entry.model_copy(update={"temperature": change(entry.at - charge, entry.temperature)})
        coach.receive(entry)
        sounds += [(n.entry.came - charge, c.name) for c in coach.cues if c.sounds]
    return coach, sounds


def names(sounds: list[tuple[float, str]]) -> set[str]:
    return {name for _, name in sounds}


def test_a_roast_on_plan_is_quiet() -> None:
    _, sounds = run(lambda t, v: v)
    assert not [n for n in names(sounds) if CUES[n].family == "alarm"]
    assert "drop near" in names(sounds)
    assert len(sounds) <= 10


def test_sounds_are_spaced() -> None:
    _, sounds = run(lambda t, v: v + (0.03 * max(t - 120, 0) if t < 480 else 10))
    times = sorted(t for t, _ in sounds)
    assert len(times) >= 4
    assert min(b - a for a, b in itertools.pairwise(times)) >= 5
    for name in names(sounds):
        mine = [t for t, n in sounds if n == name]
        gap = 20 if CUES[name].priority == "high" else 60
        assert all(b - a >= gap - 1e-6 for a, b in itertools.pairwise(mine)), name


def test_early_crack_is_said_in_time_and_late_crack_not() -> None:
    _, sounds = run(lambda t, v: v + 0.03 * max(t - 120, 0))
    early = [t for t, n in sounds if n == "crack early"]
    assert early
    assert early[0] < 487 - 60 - 60
    assert "crack late" not in names(sounds)


def test_late_crack_is_said() -> None:
    _, sounds = run(lambda t, v: v - 0.03 * max(t - 120, 0))
    assert "crack late" in names(sounds)
    assert "crack early" not in names(sounds)


def test_one_mistype_raises_no_safety_alarm_but_a_true_excess_does() -> None:
    spoiled = iter([True])
    coach, sounds = run(lambda t, v: 261.0 if t > 300 and next(spoiled, False) else v)
    assert "over safety limit" not in names(sounds)
    assert len(coach.situation.estimate.doubtful) >= 1  # type: ignore[union-attr]
    _, sounds = run(lambda t, v: v if t < 520 else 238 + (t - 520) * 0.1)
    assert "over safety limit" in names(sounds)


def test_shelved_cue_keeps_quiet() -> None:
    journal = example()
    coach = Coach(PROFILE, journal.header)
    coach.receive(Reply(at=0.0, cue="crack early", answer="shelved"))
    _, sounds = run(lambda t, v: v + 0.03 * max(t - 120, 0), coach)
    assert "crack early" not in names(sounds)


@pytest.mark.parametrize("cue", list(CUES.values()), ids=lambda c: c.name)
def test_every_sounding_cue_asks_for_something(cue: object) -> None:
    row = CUES[cue.name]  # type: ignore[attr-defined]
    if row.sound == "none":
        assert row.family == "diagnostic"
    else:
        assert row.action
        assert row.consequence
        assert row.time_available > 0
