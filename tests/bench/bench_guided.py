"""What the coach is worth to a beginner: ``python tests/bench/bench_guided.py [seeds] [first] [drill ...]``.

The same simulated beginner (late, sparse readings, mistypes) rehearses each drill twice: following the plan alone, and
doing besides what the coach says, ten seconds after it stands: the move it advises at an alarm, a reading when one is
due.  Points by the same score.  How far a real beginner obeys, nobody
here knows.
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import perf_counter

from people import NOVICE

from coach.cues.table import CUES
from coach.roast.entries import Entry, Header, Move, Reading
from coach.roast.errors import EntryError
from coach.roast.profile import Profile
from coach.roast.roast import effective
from coach.roast.units import from_kpa
from coach.session.coach import Coach
from coach.session.profile_files import load_profile
from coach.simulator.machine import Machine, load_machine
from coach.simulator.rehearsal.model import Drill, bundled_drills, load_drill
from coach.simulator.rehearsal.rehearsal import Rehearsal
from coach.simulator.rehearsal.score import Score, score

ROOT = Path(__file__).parent.parent.parent
REACTION = 10.0
AGAIN = 60.0
INSTEAD = 60.0
"""An advised move stands in for a planned one that is due within this [s]."""


class Beginner:
    """One rehearsal by the simulated beginner, with or without an ear for the coach."""

    def __init__(self, drill: Drill, profile: Profile, machine: Machine, seed: int, *, listens: bool) -> None:
        self.profile = profile
        header = Header(
            id=f"b-{seed}", started="2026-01-01T08:00:00+00:00", profile=profile.name, unit=profile.unit,
            pressure_unit=profile.document.pressure_unit, run="rehearsal",
        )  # fmt: skip
        self.coach = Coach(profile, header)
        self.source = Rehearsal(machine, profile=profile, seed=seed, auto=True, drill=drill, habits=NOVICE)
        self.listens = listens
        self.since: dict[str, float] = {}
        self.moved = -1e9

    def enter(self, entry: Entry) -> None:
        """As the screen does."""
        self.coach.receive(entry)
        self.source.hear(entry, self.coach)

    def run(self) -> Score:
        """The whole rehearsal."""
        t = 0.0
        while t < 1000.0 and self.coach.roast.phase != "cooling":
            t += 1.0
            for entry in self.source.advance(t, self.coach):
                self.enter(entry)
            t = max(t, self.source.roaster.time)
            self.coach.advance(t)
            phase: str = self.coach.roast.phase
            if self.listens and self.coach.roast.charge_at is not None and phase != "cooling":
                self.obey(t)
        entries = effective(self.coach.entries)
        own = [n.line for n in self.coach.entries if getattr(n.entry, "by", "") != "simulated colleague"]
        return score(self.coach.roast, entries, self.source.truth, self.profile, self.source.drill, own=own)

    def obey(self, t: float) -> None:
        """Do what stands long enough."""
        standing = {c.name for c in self.coach.cues if c.state == "unacknowledged" and c.family != "diagnostic"}
        self.since = {n: self.since.get(n, t) for n in standing}
        for name in [n for n, s in self.since.items() if t - s >= REACTION]:
            answer = CUES[name].answer
            if name == "reading due":
                shown = self.source.roaster.display(1.0, self.profile.unit)
                self.try_to(Reading(at=t, temperature=shown))
                self.since.pop(name)
            elif answer in ("less heat", "more heat", "gas off") and t - self.moved >= AGAIN:
                self.move(t, answer)

    def move(self, t: float, answer: str) -> None:
        """The advised move, if there is one."""
        advice = self.coach.situation.advice
        if answer == "gas off":
            value = 0.0
        elif advice is not None and advice.kind == "move" and advice.control == "gas" and advice.value is not None:
            value = advice.value
        else:  # wait, leave it, or nothing to say
            return
        self.moved = t
        if (person := self.source.person) is not None:  # "1.6, not 1.2": in place of the planned move
            person.todo = [(due, s) for due, s in person.todo if s.control != "gas" or due > t + INSTEAD]
        value = min(value, self.source.machine.burner.full_pressure)
        shown = round(from_kpa(value, self.profile.document.pressure_unit), 2)
        self.try_to(Move(at=t, control="gas", value=shown))

    def try_to(self, entry: Entry) -> None:
        """A refused entry is dropped."""
        try:
            self.enter(entry)
        except EntryError as error:
            print(f"refused: {error}")


def main(seeds: int, first: int, names: list[str]) -> None:
    """Print mean points of both, drill by drill."""
    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    machine = load_machine("brambleforge-1")
    begun = perf_counter()
    sums = [0.0, 0.0]
    count = better = 0
    print(f"seeds {first} to {first + seeds - 1}\n{'drill':22} plan alone   with the coach   better in")
    for name in names:
        drill = load_drill(name)
        pairs = [
            [Beginner(drill, profile, machine, s, listens=ear).run().points for ear in (False, True)]
            for s in range(first, first + seeds)
        ]
        alone, coached = (sum(p[i] for p in pairs) / seeds for i in (0, 1))
        ahead = sum(b > a for a, b in pairs)
        sums[0], sums[1] = sums[0] + alone, sums[1] + coached
        count, better = count + 1, better + ahead
        print(f"{name:22} {alone:8.1f} {coached:14.1f} {ahead:10}/{seeds}", flush=True)
    print(f"{'mean':22} {sums[0] / count:8.1f} {sums[1] / count:14.1f} {better:10}/{count * seeds}")
    print(f"{perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    numbers = [int(a) for a in sys.argv[1:] if a.isdigit()]
    chosen = [a for a in sys.argv[1:] if not a.isdigit()]
    every = [p.stem for p in sorted(bundled_drills().glob("*.toml")) if load_drill(str(p)).kind != "safety"]
    main(numbers[0] if numbers else 4, numbers[1] if len(numbers) > 1 else 1000, chosen or every)
