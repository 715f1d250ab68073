"""The forecast against what a person could say, and against the best that is possible, on simulated workshops.

Run: python tests/bench/bench_forecast.py [--workshops 200] [--live 5] [--earlier 4] [--size 1] [--every 30]
     [--report] [--jobs 2]

Prints, by lead: errors of the coach, of each baseline and of the floor, coverage, CRPS, all from one run.  Without
``--report`` the workshops are those of development.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from best_spread import best_baseline_crps
from workshops import DEVELOPMENT, REPORT, from_roasts, workshop

from coach.verification.aggregate import BASELINES, ScoredForecast, tally
from coach.verification.hindcast import cases


def one(job: tuple[int, int, int, int, float, float | None]) -> tuple[list[ScoredForecast], float, float, int]:
    """The cases of one workshop; seconds spent on the forecasts and on learning; how many live roasts."""
    seed, number, earlier, live, size, every = job
    w = workshop(seed, number, earlier, live, size, every)
    if w is None:
        return [], 0.0, 0.0, 0
    t0 = time.perf_counter()
    past = [d.roast for d in w.earlier]
    knowledge = from_roasts(w.profile, past)
    t1 = time.perf_counter()
    found: list[ScoredForecast] = []
    for day in w.live:
        found += cases(w.profile, knowledge, day.header, day.entries, past, (day.times, day.probe))
    return found, time.perf_counter() - t1, t1 - t0, len(w.live)


def gather(
    seed: int, count: int, earlier: int, live: int, size: float, every: float | None, jobs: int
) -> tuple[list[ScoredForecast], float, float, int]:
    """All cases of ``count`` workshops."""
    work = [(seed, n, earlier, live, size, every) for n in range(count)]
    if jobs > 1:
        with ProcessPoolExecutor(jobs) as pool:
            results = list(pool.map(one, work, chunksize=4))
    else:
        results = [one(j) for j in work]
    found = [c for r in results for c in r[0]]
    return found, sum(r[1] for r in results), sum(r[2] for r in results), sum(r[3] for r in results)


def show(found: list[ScoredForecast]) -> None:
    """The table."""
    print("                      n silent |  coach   bias |  floor " + " ".join(f"{b[:8]:>8s}" for b in BASELINES)
          + " | in 80 % in 50 %  width | CRPS best other")  # fmt: skip
    for s in tally(found):
        best = best_baseline_crps(s, found)
        row = " ".join(f"{s.others[b]:8.2f}" for b in BASELINES)
        print(
            f"{s.what:16s} {s.lead:4d} {s.n:5d} {s.silent:4d} | {s.mae:6.2f} {s.bias:+6.2f} | "
            f"{s.others.get('floor', np.nan):6.2f} {row} | {s.in_80.value:7.3f} {s.in_50.value:7.3f} {s.width_80:6.1f}"
            f" | {s.crps:5.2f} {best:5.2f}"
        )
    for s in tally(found):
        if s.what == "first crack" and s.lead in (150, 90):
            best = min(s.others[b] for b in BASELINES if b != "straight line")
            print(
                f"ratios at {s.lead} s: to the straight line {s.mae / s.others['straight line']:.3f}, to the best "
                f"other baseline {s.mae / best:.3f}, to the floor {s.mae / s.others['floor']:.3f}"
            )


def main() -> None:
    """Run and print."""
    p = argparse.ArgumentParser()
    p.add_argument("--workshops", type=int, default=200)
    p.add_argument("--live", type=int, default=5)
    p.add_argument("--earlier", type=int, default=4)
    p.add_argument("--size", type=float, default=1.0)
    p.add_argument("--every", type=float, default=30.0, help="seconds between readings; 0 draws 15 to 60")
    p.add_argument("--report", action="store_true")
    p.add_argument("--jobs", type=int, default=2)
    a = p.parse_args()
    t0 = time.perf_counter()
    seed = REPORT if a.report else DEVELOPMENT
    found, spent, learnt, roasts = gather(seed, a.workshops, a.earlier, a.live, a.size, a.every or None, a.jobs)
    print(f"{roasts} roasts of {a.workshops} workshops, {a.earlier} earlier ones each, size {a.size:g}, "
          f"{'reporting' if a.report else 'development'} seed")  # fmt: skip
    show(found)
    print(
        f"{time.perf_counter() - t0:.0f} s in all on {a.jobs} processes; forecasts {spent:.0f} s, "
        f"learning {learnt:.0f} s"
    )


if __name__ == "__main__":
    main()
