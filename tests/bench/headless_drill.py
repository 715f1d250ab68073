"""A drill without a screen: a scripted person, the roaster, the journal that comes of it, and its score."""

from __future__ import annotations

from dataclasses import dataclass

from people import person_of

from coach.roast.entries import Entry, Header, Move
from coach.roast.profile import Profile
from coach.roast.roast import Numbered, Roast, effective, fold
from coach.roast.units import to_kpa
from coach.simulator.machine import Machine
from coach.simulator.rehearsal.inject import COLLEAGUE, Injector, Truth, colleague_of, is_over, roaster_of, truth_of
from coach.simulator.rehearsal.model import Drill
from coach.simulator.rehearsal.score import Score, score

LONGEST = 1300.0
"""Seconds from the start after which nobody goes on."""


@dataclass(frozen=True)
class Done:
    """One drill done."""

    entries: tuple[Numbered, ...]
    roast: Roast
    truth: Truth
    score: Score


def run_drill(drill: Drill, profile: Profile, machine: Machine, who: str, seed: int) -> Done:
    """Let the 'expert' or the 'novice' go through a drill; the same every time for a seed."""
    roaster = roaster_of(machine, drill, seed=seed, profile=profile)
    injector = Injector(drill.inject, seed)
    person, mind = person_of(who, profile, drill, seed)
    colleague = colleague_of(drill.handover, profile, seed) if drill.handover is not None else None
    entries: list[Entry] = []
    t = 0.0
    while t < LONGEST and "drop" not in person.marks and not mind.stopped:
        t += 1.0
        roaster.advance(t)
        injector.second(t, roaster)
        if drill.handover is not None and colleague is not None:
            entries += colleague.second(t, roaster)
            if is_over(drill.handover, colleague, t):
                assert colleague.charged is not None
                made = [(e.control, hands_value(e, profile)) for e in entries if isinstance(e, Move)]
                person.take_over(t, colleague.charged, colleague.marks, made)
                colleague = None
            continue
        entries += mind.think(t, person, roaster)
        if not mind.stopped:
            entries += person.second(t, roaster)
    ordered = sorted(entries, key=lambda e: e.at)
    numbered = tuple(Numbered(i + 2, e) for i, e in enumerate(ordered))
    document = profile.document
    header = Header(
        id=f"drill-{seed}", started="2026-01-01T08:00:00+00:00", unit=profile.unit,
        pressure_unit=document.pressure_unit, profile=profile.name, run="rehearsal", person=who,
    )  # fmt: skip
    roast = fold(header, effective(numbered))
    truth = truth_of(roaster, injector.happened)
    own = [n.line for n in numbered if getattr(n.entry, "by", "") != COLLEAGUE]
    return Done(numbered, roast, truth, score(roast, numbered, truth, profile, drill, own=own))


def hands_value(move: Move, profile: Profile) -> float:
    """The value of a move, kPa or as on the dial."""
    return to_kpa(move.value, profile.document.pressure_unit) if move.control == "gas" else move.value
