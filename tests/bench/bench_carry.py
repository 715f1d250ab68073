"""Does the proposal before charge help, batch after batch?  Simulated sessions of three batches in a row.

Run: python tests/bench/bench_carry.py [--workshops 16] [--seed 11] [--jobs 2]

A session is one day of a simulated workshop: the first batch goes into a rested drum, as the profile's reference did.
Before each further one the gas is off for a gap; then it is charged at the charge temperature, in one of two ways:

- falling: as the dial comes down to it, the gas relit at the last moment;
- rising: the drum is let cool further, the gas relit, and charged as the dial comes up to it again.

Three sessions by the plan are learnt from; then two more are run by the plan's charge, as proposed from the priors
alone, and as proposed from what was learnt, all else the same.  Nothing else is corrected in a roast.
"""

from __future__ import annotations

import argparse
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from workshops import DEVELOPMENT, Weather, Workshop, workshop

from coach.advice.charge_temperature import Today, early_off, propose
from coach.roast.entries import Entry, Header
from coach.roast.roast import Numbered, Roast, effective, fold
from coach.simulator.person import LIFT, Person, recipe_of_profile
from coach.simulator.roaster import SimulatedRoaster

BATCHES = 3
LASTS = 90.0
"""Development aimed at, s."""
GAPS = (60.0, 180.0, 420.0)
"""Shortest times from a drop to the next charge, one of them drawn for each, s."""
BELOW = 25.0
"""For a charge on the rise the dial is let come down so far under the charge temperature first, K."""
USUAL_GAP = 180.0
"""What the person takes for the gap when the charge is proposed, at least, s."""
PATIENCE = 900.0
"""The dial is waited for so long, s."""


@dataclass(frozen=True)
class Batch:
    """One batch: its roast, seconds since the drop before (None for the first), how much hotter it was charged than the
    plan has it (K), how far off the reference it ran early on (K), and crack against the plan (s)."""

    roast: Roast
    since: float | None
    change: float
    early: float | None
    crack: float


def session(
    w: Workshop, weather: Weather, seed: int, day: int, earlier: list[Roast] | None, rising: bool
) -> list[Batch]:
    """Three batches in a row; charged as proposed from ``earlier`` roasts, or as the plan has it (None)."""
    rng = np.random.default_rng([seed, day])
    roaster = weather.roaster(w.machine, w.beans)
    plan = w.machine.demo_plan
    started = datetime(2026, 3, 1 + day, 8, tzinfo=UTC)
    out: list[Batch] = []
    dropped: float | None = None
    for number in range(BATCHES):
        gap = float(rng.choice(GAPS))
        opened = 0.0 if dropped is None else dropped + 1.0
        change = 0.0
        if dropped is None:
            charge_at = 60.0
        else:
            if earlier is not None:
                today = Today(since_drop=max(gap, USUAL_GAP))
                change = propose(w.profile, today, earlier).change
            charge_at = _wait(roaster, dropped + gap, w.profile.charge_temperature + change, plan.gas, rising)
        recipe = replace(recipe_of_profile(w.profile), charge_at=charge_at, charge_temperature=None, development=LASTS)
        person = Person(w.habits, recipe, np.random.default_rng([seed, day, number]))
        entries: list[Entry] = []
        t = roaster.time
        t = max(float(np.ceil(t)), charge_at - LIFT - 1.0)
        while "drop" not in person.marks and t < charge_at + 1100:
            roaster.advance(t)
            entries += person.second(t, roaster)
            t += 1.0
        if "drop" not in person.marks:
            break
        begun = started + timedelta(seconds=opened)
        header = Header(id=f"d{day}-{number}", unit=w.habits.unit, started=begun.isoformat())
        moved = [e.model_copy(update={"at": e.at - opened}) for e in sorted(entries, key=lambda e: e.at)]
        roast = fold(header, effective([Numbered(i + 2, e) for i, e in enumerate(moved)]))
        since = None if dropped is None else person.marks["charge"] - dropped
        crack = roast.marks["first crack"] - w.profile.goals["first crack"].time
        out.append(Batch(roast, since, change, early_off(w.profile, roast), crack))
        dropped = person.marks["drop"]
    return out


def _wait(roaster: SimulatedRoaster, at_least: float, goal: float, gas: float, rising: bool) -> float:
    """Gas off until the gap has passed and the dial has come down, then as the plan begins; when to charge, s."""
    roaster.set("gas", 0.0)
    t, lit = float(np.ceil(roaster.time)) + 5.0, False
    end = at_least + PATIENCE
    while t < end:
        roaster.advance(t)
        dial = roaster.display(1.0)
        if not lit and t >= at_least - LIFT:
            if dial <= goal - (BELOW if rising else 1.0):  # let come down, or colder already: up to it again
                lit = True
                roaster.set("gas", gas)
            elif not rising and dial <= goal + 1.0:
                break
        elif lit and dial >= goal - 1.0:
            break
        t += 1.0
    roaster.set("gas", gas)
    return t + LIFT + 1.0


def one(job: tuple[int, int, bool]) -> list[tuple[list[Batch], ...]]:
    """The two sessions of one workshop, each in all ways: as planned, proposed from priors, proposed from roasts."""
    seed, number, rising = job
    w = workshop(seed, number, 0, 0)
    if w is None:
        return []
    rng = np.random.default_rng([seed, number, 77])
    days = [Weather.draw(w.machine, w.beans, rng, 1.0) for _ in range(5)]
    past = [b.roast for d in range(3) for b in session(w, days[d], number, d, None, rising)]
    rows = []
    for d in (3, 4):
        ways = tuple(session(w, days[d], number, d, earlier, rising) for earlier in (None, [], past))
        if all(len(x) == BATCHES for x in ways):
            rows.append(ways)
    return rows


def main() -> None:
    """Run and print."""
    p = argparse.ArgumentParser()
    p.add_argument("--workshops", type=int, default=16)
    p.add_argument("--seed", type=int, default=DEVELOPMENT)
    p.add_argument("--jobs", type=int, default=2)
    a = p.parse_args()
    for rising in (False, True):
        with ProcessPoolExecutor(a.jobs) as pool:
            rows = [r for rs in pool.map(one, [(a.seed, n, rising) for n in range(a.workshops)]) for r in rs]
        first = [abs(r[0][0].crack) for r in rows]
        print(
            f"charged on the {'rise' if rising else 'fall'}: {len(rows)} sessions of {BATCHES} batches, seed {a.seed}; "
            f"first batches' crack off {np.mean(first):.1f} s"
        )
        for i, way in enumerate(("as planned", "by priors alone", "as learnt")):
            b = [x for r in rows for x in r[i][1:]]
            early = np.array([x.early for x in b if x.early is not None])
            nearer = [abs(q.crack) < abs(p.crack) for r in rows for p, q in zip(r[0][1:], r[i][1:], strict=True)]
            print(
                f"  later batches {way:16s} crack off {np.mean([abs(x.crack) for x in b]):5.1f} s (mean "
                f"{np.mean([x.crack for x in b]):+6.1f}), early on {np.mean(early):+.1f} K (off by "
                f"{np.mean(abs(early)):.1f}); charged {np.mean([x.change for x in b]):+.1f} K, "
                f"{np.mean([x.since or 0 for x in b]):.0f} s after drop; nearer than as planned {np.mean(nearer):.2f}"
            )


if __name__ == "__main__":
    main()
