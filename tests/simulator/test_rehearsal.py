"""A rehearsal behind the screen: it hears moves, marks and corrections, jumps, pauses and shows the trier."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent))

from helpers import ROOT

from coach.entries import Correction, Entry, Header, Mark, Move, Reading
from coach.library import load_profile
from coach.session import Coach
from coach.simulator.clock import RehearsalClock
from coach.simulator.machine import load_machine
from coach.simulator.rehearsal import HELPER, Rehearsal

PROFILE = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
MACHINE = load_machine("brambleforge-1")


class Stage:
    """A coach, a rehearsal and a clock in the test's hand; enters as the screen does."""

    def __init__(self, *, auto: bool = False, seed: int = 1) -> None:
        self.real = 0.0
        self.clock = RehearsalClock(lambda: self.real)
        self.clock.begin()
        self.coach = Coach(PROFILE, Header(id="x", profile=PROFILE.name, started="2026-01-01T00:00:00+00:00"))
        self.source = Rehearsal(MACHINE, seed=seed, auto=auto, clock=self.clock)
        self.typed: list[Entry] = []

    def enter(self, entry: Entry) -> None:
        self.coach.receive(entry)
        self.typed.append(entry)
        self.source.hear(entry, self.coach)

    def pulse(self) -> None:
        for entry in self.source.advance(self.clock(), self.coach):
            self.enter(entry)

    def wait(self, seconds: float, step: float = 10.0) -> None:
        end = self.real + seconds
        while self.real < end:
            self.real = min(end, self.real + step)
            self.pulse()


def test_moves_and_marks_act_on_the_roaster() -> None:
    s = Stage()
    s.wait(60)
    s.enter(Move(at=60.0, control="gas", value=1.2))
    s.enter(Mark(at=60.0, event="charge"))
    s.wait(100)
    assert s.source.roaster.setting("gas") == 1.2
    assert s.source.roaster.loaded
    s.enter(Move(at=160.0, control="gas", value=9.0))
    assert s.source.roaster.setting("gas") == MACHINE.burner.full_pressure
    s.wait(440)
    s.enter(Mark(at=600.0, event="first crack"))
    s.enter(Mark(at=600.0, event="drop"))
    assert not s.source.roaster.loaded


def test_a_withdrawn_charge_never_happened() -> None:
    s, plain = Stage(), Stage()
    s.wait(40)
    s.enter(Mark(at=40.0, event="charge"))
    s.wait(20)
    assert s.source.roaster.display() < 200.0
    s.enter(Correction(at=60.0, of=2, replace=None))
    plain.wait(60)
    assert not s.source.roaster.loaded
    assert s.source.roaster.display() == plain.source.roaster.display()
    assert "charge at 222" in s.source.line(s.coach)
    for stage in (s, plain):
        stage.enter(Mark(at=60.0, event="charge"))
        stage.wait(300)
    assert s.source.roaster.probe == plain.source.roaster.probe


def test_a_withdrawn_drop_leaves_the_beans_in_the_drum() -> None:
    s, plain = Stage(), Stage()
    for stage in (s, plain):
        stage.wait(60)
        stage.enter(Mark(at=60.0, event="charge"))
        stage.wait(500)
    s.enter(Mark(at=560.0, event="first crack"))
    s.enter(Mark(at=560.0, event="drop"))
    assert "charge at" not in s.source.line(s.coach)
    for stage in (s, plain):
        stage.wait(30)
    s.enter(Correction(at=590.0, of=4, replace=None))
    assert s.source.roaster.loaded
    assert s.source.roaster.bean == plain.source.roaster.bean
    assert s.source.roaster.pops_until() == plain.source.roaster.pops_until()


def test_a_charge_told_late_acts_when_it_happened() -> None:
    late, plain = Stage(), Stage()
    plain.wait(50)
    plain.enter(Mark(at=50.0, event="charge"))
    plain.wait(20)
    late.wait(70)
    late.enter(Mark(at=50.0, typed=70.0, event="charge"))
    assert late.source.roaster.probe == plain.source.roaster.probe


def test_a_withdrawn_or_amended_move_sets_the_control_back() -> None:
    s = Stage()
    s.wait(30)
    s.enter(Move(at=30.0, control="gas", value=1.4))
    s.enter(Mark(at=30.0, event="charge"))
    s.wait(100)
    s.enter(Move(at=130.0, control="gas", value=0.3))
    s.wait(10)
    s.enter(Correction(at=140.0, of=4, replace={"value": 1.3}))
    assert s.source.roaster.setting("gas") == 1.3
    s.enter(Correction(at=140.0, of=4, replace=None))
    assert s.source.roaster.setting("gas") == 1.4
    s.enter(Correction(at=140.0, of=2, replace=None))
    assert s.source.roaster.setting("gas") == MACHINE.demo_plan.gas


@pytest.mark.parametrize("step", [0.3, 4.0, 37.0])
def test_any_tick_the_same_journal(step: float) -> None:
    usual, other = Stage(auto=True, seed=3), Stage(auto=True, seed=3)
    usual.wait(700, step=1.0)
    other.wait(700, step=step)
    assert [e.model_dump() for e in usual.typed] == [e.model_dump() for e in other.typed]
    assert [e.event for e in usual.typed if isinstance(e, Mark)] == ["charge", "yellow", "first crack", "drop"]
    assert usual.coach.roast.phase == "cooling"


def test_jump_to_a_minute_before_crack_with_an_honest_journal() -> None:
    s = Stage()
    s.wait(60)
    s.enter(Mark(at=60.0, event="charge"))
    s.wait(30)
    assert "minute before" in s.source.jump(s.coach)
    s.pulse()
    now = s.clock()
    assert s.source.roaster.time == now
    jumped = [e for e in s.typed if getattr(e, "by", "") == HELPER]
    assert len([e for e in jumped if isinstance(e, Reading)]) > 8
    assert {e.event for e in jumped if isinstance(e, Mark)} == {"yellow"}
    assert {e.value for e in jumped if isinstance(e, Move)} >= {3.0, 1.2}
    assert "less than a minute" in s.source.jump(s.coach)
    count = len(s.typed)
    s.wait(75)
    assert len(s.typed) == count
    onset = s.source.roaster.first_crack_onset
    assert onset is not None
    assert onset - now == pytest.approx(60.0, abs=1.5)
    s.enter(Mark(at=s.clock(), event="first crack"))
    assert "past" in s.source.jump(s.coach)


def test_jump_before_the_charge_charges_too() -> None:
    s = Stage()
    s.wait(5)
    s.source.jump(s.coach)
    s.pulse()
    assert {e.event for e in s.typed if isinstance(e, Mark)} == {"charge", "yellow"}
    assert all(getattr(e, "by", "") == HELPER for e in s.typed)


def test_pause_stops_clock_and_roaster() -> None:
    s = Stage()
    s.wait(30)
    s.source.toggle_pause()
    assert s.source.paused
    s.wait(100)
    assert s.source.roaster.time == 30.0
    assert "PAUSED" in s.source.line(s.coach)
    s.source.toggle_pause()
    s.wait(10)
    assert s.source.roaster.time == 40.0


def test_the_trier_shows_the_beans() -> None:
    s = Stage()
    assert "empty" in s.source.look(s.coach).words
    s.wait(60)
    s.enter(Mark(at=60.0, event="charge"))
    s.wait(60)
    assert "green" in s.source.look(s.coach).words
    assert s.source.look(s.coach) == s.source.look(s.coach)
    s.wait(440)
    assert "brown" in s.source.look(s.coach).words
