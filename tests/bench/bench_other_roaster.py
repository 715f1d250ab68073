"""The forecast on a roaster of another build than the project's own simulator: the same tables.

Run: python tests/bench/bench_other_roaster.py [--places 100] [--live 5] [--size 1] [--every 30] [--seed 1] [--jobs 2]
"""

from __future__ import annotations

import argparse
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

sys.path.insert(0, str(Path(__file__).parent))

from bench_forecast import show
from other_roaster import place
from workshops import from_roasts

from coach.verification.aggregate import ScoredForecast, tally
from coach.verification.hindcast import cases


def one(job: tuple[int, int, int, float, float]) -> dict[int, list[ScoredForecast]]:
    """The cases of one place, with none and with four earlier roasts."""
    seed, number, live, size, every = job
    w = place(seed, number, 4, live, size, every)
    out: dict[int, list[ScoredForecast]] = {0: [], 4: []}
    if w is None:
        return out
    for earlier in out:
        past = [d.roast for d in w.earlier[:earlier]]
        knowledge = from_roasts(w.profile, past)
        for d in w.live:
            out[earlier] += cases(w.profile, knowledge, d.header, d.entries, past, (d.times, d.probe))
    return out


def main() -> None:
    """Run and print."""
    p = argparse.ArgumentParser()
    p.add_argument("--places", type=int, default=100)
    p.add_argument("--live", type=int, default=5)
    p.add_argument("--size", type=float, default=1.0)
    p.add_argument("--every", type=float, default=30.0)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--jobs", type=int, default=2)
    a = p.parse_args()
    work = [(a.seed, n, a.live, a.size, a.every) for n in range(a.places)]
    with ProcessPoolExecutor(a.jobs) as pool:
        results = list(pool.map(one, work, chunksize=4))
    found = {n: [c for r in results for c in r[n]] for n in (0, 4)}
    print(f"{a.places} places of another build, {a.live} roasts each, size {a.size:g}, four earlier roasts")
    show(found[4])
    for lead in (150, 90):
        none, four = (
            next(s.mae for s in tally(found[n]) if s.what == "first crack" and s.lead == lead) for n in (0, 4)
        )
        print(f"{lead} s before, none to four earlier roasts: {none / four:.3f}")


if __name__ == "__main__":
    main()
