"""A coach, a rehearsal and a clock in the test's hand."""

from __future__ import annotations

from helpers import ROOT

from coach.roast.entries import Entry, Header
from coach.session.coach import Coach
from coach.session.profile_files import load_profile
from coach.simulator.machine import load_machine
from coach.simulator.rehearsal.clock import RehearsalClock
from coach.simulator.rehearsal.model import Drill
from coach.simulator.rehearsal.rehearsal import Rehearsal

PROFILE = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
MACHINE = load_machine("brambleforge-1")


class Stage:
    """Enters as the screen does; what the coach says of it is computed when it is asked to go on (``advance``)."""

    def __init__(self, *, auto: bool = False, seed: int = 1, drill: Drill | None = None, stage: str = "") -> None:
        self.real = 0.0
        self.clock = RehearsalClock(lambda: self.real)
        self.clock.begin()
        self.coach = Coach(PROFILE, Header(id="x", profile=PROFILE.name, started="2026-01-01T00:00:00+00:00"))
        self.source = Rehearsal(
            MACHINE, seed=seed, auto=auto, clock=self.clock, profile=PROFILE, drill=drill, stage=stage
        )
        self.typed: list[Entry] = []

    def enter(self, entry: Entry) -> None:
        self.coach.take(self.coach.prepare(entry), most=0)
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
