"""Does the first gas setting proposed for another batch weight help?  The same simulated days over again.

Run: python tests/bench/bench_first_gas.py [--workshops 20] [--seed 11 | --report] [--jobs 2] [--measure]

Each day is roasted with the plan's weight, and then with others: with the plan's gas, with the first gas setting as
proposed before charge, with the charge temperature as proposed, and as ``coach charge`` says (the charge temperature
only where the gas has no room).  Nothing else is corrected.  What counts
is how far the crack then is from where it comes on the same day with the plan's weight.  With ``--measure``: how the
time to the crack goes with the weight and with the first gas, from which the first guess was taken (development seeds).
"""

from __future__ import annotations

import argparse
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from ways import Outcome, again, roast
from workshops import DEVELOPMENT, REPORT, Weather, Workshop, workshop

from coach.advice.charge_temperature import Today, propose
from coach.advice.first_gas import first_gas
from coach.simulator.machine import DemoMove

WEIGHTS = (0.8, 0.9, 1.1, 1.2)
LONGEST = 1100.0
FIRST = 20.0
"""What is set until then is the first setting, s."""
NUDGE = 0.05


def crack(day: Outcome, *, weight: float = 1.0, gas: float = 1.0, hotter: float = 0.0) -> float:
    """When the crack truly comes on a day (s), with so many times the weight and the first gas, and the drum and the
    probe so much hotter at charge (K)."""
    assert day.start is not None
    start, top = day.start, day.start.machine.burner.full_pressure
    run = replace(start, batch_kg=start.batch_kg * weight, metal=start.metal + hotter,
                  probe=None if start.probe is None else start.probe + hotter,
                  gas=min(start.gas * gas, top))  # fmt: skip
    moves = tuple(
        DemoMove(at=m.at, control=m.control, value=min(m.value * gas, top))
        if m.control == "gas" and m.at <= FIRST else m
        for m in day.made
    )  # fmt: skip
    return float(again(run, [moves], LONGEST)[0])


def day_of(seed: int, number: int) -> tuple[Workshop, Outcome] | None:
    """One day of a workshop, roasted by the plan."""
    w = workshop(seed, number, 0, 0)
    if w is None:
        return None
    weather = Weather.draw(w.machine, w.beans, np.random.default_rng([seed, number, 31]), 1.0)
    day = roast(w, weather, number)
    return None if day is None else (w, day)


def one(job: tuple[int, int, bool]) -> list[tuple[float, ...]]:
    """For each weight: how far off the crack is (s) in each way; or the exponents."""
    there = day_of(*job[:2])
    if there is None:
        return []
    w, day = there
    usual = crack(day)
    if job[2]:
        up, down = crack(day, weight=1 + NUDGE), crack(day, weight=1 - NUDGE)
        more, less = crack(day, gas=(1 + NUDGE) ** 2), crack(day, gas=(1 - NUDGE) ** 2)
        return [((up - down) / usual / (2 * NUDGE), -(more - less) / usual / (2 * NUDGE))]
    rows = []
    for weight in WEIGHTS:
        p = propose(w.profile, Today(batch_kg=weight * w.profile.document.batch_kg))
        found = first_gas(w.profile, weight * w.profile.document.batch_kg)
        gas = 1.0 if found is None else found.ratio
        ways = ((1.0, 0.0), (gas, 0.0), (1.0, p.change), (gas, p.change if found is None or found.at_limit else 0.0))
        off = [crack(day, weight=weight, gas=g, hotter=h) - usual for g, h in ways]
        rows.append((weight, gas, p.change, *off))
    return rows


def main() -> None:
    """Run and print."""
    p = argparse.ArgumentParser()
    p.add_argument("--workshops", type=int, default=20)
    p.add_argument("--seed", type=int, default=DEVELOPMENT)
    p.add_argument("--report", action="store_true")
    p.add_argument("--measure", action="store_true")
    p.add_argument("--jobs", type=int, default=2)
    a = p.parse_args()
    seed = REPORT if a.report else a.seed
    with ProcessPoolExecutor(a.jobs) as pool:
        rows = np.array([r for rs in pool.map(one, [(seed, n, a.measure) for n in range(a.workshops)]) for r in rs])
    if a.measure:
        print(f"seed {seed}, {len(rows)} days; by how much the time to the crack goes, share for share:")
        for name, v in (("weight", rows[:, 0]), ("first gas (its root)", rows[:, 1])):
            print(f"  {name:22s} mean {v.mean():.3f}, sd {v.std():.3f}, {v.min():.3f} to {v.max():.3f}")
        print(
            f"  their quotient: mean {np.mean(rows[:, 0] / rows[:, 1]):.3f}, sd {np.std(rows[:, 0] / rows[:, 1]):.3f}"
        )
        return
    print(f"seed {seed}, {len(rows) // len(WEIGHTS)} days; crack off by, s, from the same day with the plan's weight")
    for weight in WEIGHTS:
        x = rows[np.isclose(rows[:, 0], weight)]
        names = ("as planned", "first gas", "charge", "as said")
        told = "  ".join(f"{n} {np.mean(np.abs(x[:, 3 + i])):5.1f}" for i, n in enumerate(names))
        worse = np.mean(np.abs(x[:, 4]) > np.abs(x[:, 3]))
        print(f"  weight x {weight:.1f}: {told}   (gas x {x[:, 1].mean():.2f}, charge {x[:, 2].mean():+.1f} K; "
              f"with the gas further off than as planned in {worse:.2f})")  # fmt: skip


if __name__ == "__main__":
    main()
