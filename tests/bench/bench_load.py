"""A reading a second for twenty minutes, with corrections: python tests/bench/bench_load.py [MINUTES] [CORRECTIONS]

Prints what an entry and a tick cost (processor time of this thread) by quarter of the roast, and what a correction
costs by how far back it reaches: until it can be painted, as the screen takes it, and until all is folded.  Nothing but
the coach: no disk, no screen (bench_keys.py has both).
"""

from __future__ import annotations

import random
import resource
import sys
import time
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parents[2]))

from coach.app.screens.roasting import IN_PARTS
from coach.roast.entries import Correction, Header, Mark, Move, Reading
from coach.session.coach import Coach
from coach.session.profile_files import load_profile


def p99(values: list[float]) -> float:
    """The value that one of a hundred passes."""
    return sorted(values)[min(int(0.99 * len(values)), len(values) - 1)]


def run(minutes: float = 20.0, corrections: int = 300) -> dict[str, list[tuple[float, float]]]:
    """The roast; for each kind of cost (roast time s, or age s of what was corrected; ms)."""
    profile, rng = load_profile("larch-hill"), random.Random(3)
    coach = Coach(profile, Header(id="load", started="2026-11-02T08:00:00+00:00"))
    coach.receive(Mark(at=0.0, event="charge"))
    steps = sorted(profile.steps, key=lambda s: s.time)
    cost: dict[str, list[tuple[float, float]]] = {"tick": [], "reading": [], "painted": [], "correction": []}
    seconds, lines = int(minutes * 60), []
    stretch = seconds / (profile.curve.end + 30.0)  # as slow a roast as fits
    due = set(rng.sample(range(20, seconds), min(corrections, seconds - 20)))
    for t in range(1, seconds):
        while steps and steps[0].time * stretch < t:
            step = steps.pop(0)
            coach.receive(Move(at=float(t) - 0.5, typed=float(t), control=step.control, value=step.shown))
        began = time.thread_time()
        coach.advance(float(t))
        then = time.thread_time()
        value = float(round(min(profile.curve.value(t / stretch), 215.0) + rng.uniform(-1, 1)))
        line = coach.receive(Reading(at=float(t), temperature=value)).line
        after = time.thread_time()
        lines.append((t, line))
        cost["tick"].append((t, 1000 * (then - began)))
        cost["reading"].append((t, 1000 * (after - then)))
        if t in due:
            age, of = rng.choice(lines[-30:])
            began = time.thread_time()
            fix = Correction(at=float(t), of=of, replace={"temperature": value - 1.0})
            coach.take(coach.prepare(fix), most=1)
            while coach.behind and time.thread_time() - began < IN_PARTS:
                coach.catch_up()
            cost["painted"].append((t - age, 1000 * (time.thread_time() - began)))
            while coach.behind:
                coach.catch_up()
            cost["correction"].append((t - age, 1000 * (time.thread_time() - began)))
    return cost


def main(argv: list[str]) -> int:
    """Measure and print."""
    minutes, corrections = float(argv[0]) if argv else 20.0, int(argv[1]) if len(argv) > 1 else 300
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    cost = run(minutes, corrections)
    print(f"a reading a second for {minutes:g} min, {len(cost['correction'])} corrections; ms of processor time")
    for kind in ("tick", "reading"):
        for quarter in range(4):
            part = [c for t, c in cost[kind] if quarter <= t / (minutes * 15) < quarter + 1]
            print(
                f"  {kind:9} quarter {quarter + 1}: median {median(part):6.2f}  p99 {p99(part):6.2f}  most {max(part):6.2f}"  # noqa: E501
            )
    for low, top in ((0, 5), (5, 15), (15, 30)):
        part = [c for age, c in cost["correction"] if low <= age < top]
        if part:
            shown = [c for age, c in cost["painted"] if low <= age < top]
            print(
                f"  correction of a reading {low}-{top} s old: can be painted after median {median(shown):5.1f}  "
                f"p99 {p99(shown):5.1f}, folded after median {median(part):6.1f}  p99 {p99(part):6.1f}"
            )
    print(f"  memory: +{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024 - before:.0f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
