"""Every figure the forecast is held to, from one run on workshops that nothing was chosen on.

Run: python tests/bench/bench_targets.py [--workshops 200] [--live 5] [--smaller 60] [--jobs 2] [--development]

Prints: errors by lead with four earlier roasts; none, four and twenty on the same days; big days; readings every 60 s;
the warning of an early crack over thresholds; what one mistype does; readings typed only when asked for.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from scipy.stats import t as student

sys.path.insert(0, str(Path(__file__).parent))

from bench_forecast import gather, show
from best_spread import best_baseline_crps
from workshops import DEVELOPMENT, REPORT, Day, Workshop, from_roasts, workshop

from coach.forecast.forecast_values import READ_BEFORE
from coach.forecast.knowledge import Knowledge
from coach.forecast.predictor import Outlook
from coach.roast.roast import Probe, effective, fold
from coach.roast.units import from_celsius, to_celsius
from coach.verification.aggregate import ScoredForecast, tally
from coach.verification.hindcast import _floor, cases

EARLY = 20.0
THRESHOLDS = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)


def cases_of(w: Workshop, earlier: int) -> list[ScoredForecast]:
    """The cases of a workshop's live days with its last so many earlier roasts."""
    past = [d.roast for d in w.earlier[len(w.earlier) - earlier :]]
    knowledge = from_roasts(w.profile, past)
    return [c for d in w.live for c in cases(w.profile, knowledge, d.header, d.entries, past, (d.times, d.probe))]


def amounts(job: tuple[int, int, int]) -> dict[int, list[ScoredForecast]]:
    """None, four and twenty earlier roasts, on the same days."""
    w = workshop(job[0], job[1], 20, job[2])
    return {} if w is None else {n: cases_of(w, n) for n in (0, 4, 20)}


def known(w: Workshop, knowledge: Knowledge, d: Day) -> float:
    """The probability of an early crack for someone who knew the probe's whole way, and not the beans."""
    floor, threshold = _floor(knowledge, (d.times, d.probe), READ_BEFORE), knowledge.thresholds["first crack"]
    if floor is None:
        return 0.0
    rate = float(np.interp(floor + 15, d.times, d.probe) - np.interp(floor - 15, d.times, d.probe)) / 30.0
    late = floor - (w.profile.goals["first crack"].time - EARLY)
    return float(student.sf(late * max(rate, 0.02) / threshold.scale, threshold.df))


def warnings(job: tuple[int, int, int]) -> list[tuple[float, list[tuple[float, float]], float]]:
    """For each live day: how early the crack came (s, negative early), (time left, p_early) every 10 s, and what
    someone who knew the probe's whole way would say."""
    w = workshop(job[0], job[1], 4, job[2])
    if w is None:
        return []
    knowledge = from_roasts(w.profile, [d.roast for d in w.earlier])
    goal = w.profile.goals["first crack"]
    out = []
    for d in w.live:
        crack, outlook = d.roast.marks["first crack"], Outlook(w.profile, knowledge, d.roast.rounding)
        said = []
        for t in np.arange(180.0, crack, 10.0):
            seen = fold(d.header, effective([n for n in d.entries if n.entry.came <= (d.roast.charge_at or 0.0) + t]))
            outlook.keep(0)
            _, f = outlook.at(float(t), seen)
            if f.first_crack is not None and f.first_crack.p_early is not None:
                said.append((crack - float(t), f.first_crack.time.cdf(goal.time - EARLY)))
        out.append((crack - goal.time, said, known(w, knowledge, d)))
    return out


def mistyped(job: tuple[int, int, int]) -> list[tuple[float, float]]:
    """For each live day: how far one gross mistype moves the crack's median at the next reading, and the 80 % width."""
    w = workshop(job[0], job[1], 4, job[2])
    if w is None:
        return []
    knowledge = from_roasts(w.profile, [d.roast for d in w.earlier])
    rng = np.random.default_rng(job[:2])
    out = []
    for d in w.live:
        readings = [r for r in d.roast.readings if 60 < r.t < d.roast.marks["first crack"] - 30]
        if len(readings) < 4:
            continue
        at = int(rng.integers(1, len(readings) - 1))
        wrong, after = readings[at], readings[at + 1]
        value = wrong.celsius + float(rng.choice([-1, 1])) * float(rng.uniform(15, 90))
        spoilt = tuple(replace(r, celsius=value) if r.line == wrong.line else r for r in d.roast.readings)
        without = tuple(r for r in d.roast.readings if r.line != wrong.line)
        said = []
        for kept in (spoilt, without):
            roast = replace(d.roast, readings=kept).until(after.t)
            _, f = Outlook(w.profile, knowledge, d.roast.rounding).at(after.t, roast)
            said.append(f.first_crack)
        if said[0] is not None and said[1] is not None:
            out.append((abs(said[0].time.median - said[1].time.median), said[1].time.q90 - said[1].time.q10))
    return out


def typed_when(d: Day, w: Workshop, knowledge: Knowledge, asked: bool) -> tuple[int, list[tuple[float, float]], bool]:
    """Readings of a day typed when they are asked for (or every 30 s), 2 to 6 s after; how many, (lead, error), and
    whether an early crack was warned of (two forecasts running at 0.7, 60 s or more to act)."""
    rng = np.random.default_rng([len(d.entries), round(d.onset)])
    crack, unit = d.roast.marks["first crack"], d.roast.header.unit
    outlook = Outlook(w.profile, knowledge, d.roast.rounding)
    readings: list[Any] = []
    errors: list[tuple[float, float]] = []
    due, leads, sure = 90.0, [150, 120, 90, 60, 30], [0.0]
    goal, warned = w.profile.goals["first crack"].time, False
    t = 60.0
    while t < crack:
        if t >= due:
            shown = round(from_celsius(float(np.interp(t, d.times, d.probe)) + float(rng.normal(0, 0.15)), unit))
            readings.append(Probe(t, to_celsius(shown, unit), 100 + len(readings), t, shown))
            due = t + 30.0
        roast = replace(d.roast, readings=tuple(readings)).until(t)
        if readings and (t == readings[-1].t or (leads and crack - t <= leads[0])):
            _, f = outlook.at(t, roast)
            if asked and t == readings[-1].t and f.next_reading is not None:
                due = f.next_reading + float(rng.uniform(2, 6))
            if f.first_crack is not None and t == readings[-1].t and crack - t >= 60.0:
                sure.append(f.first_crack.time.cdf(goal - EARLY))
                warned = warned or min(sure[-2:]) >= 0.7
            if leads and crack - t <= leads[0]:
                lead = leads.pop(0)
                if f.first_crack is not None:
                    errors.append((lead, f.first_crack.time.median - crack))
        t += 1.0
    return len(readings), errors, warned


def asking(job: tuple[int, int, int]) -> list[tuple[Any, Any]]:
    """Both ways of typing on the same days."""
    w = workshop(job[0], job[1], 4, job[2])
    if w is None:
        return []
    knowledge = from_roasts(w.profile, [d.roast for d in w.earlier])
    return [(typed_when(d, w, knowledge, False), typed_when(d, w, knowledge, True)) for d in w.live]


def mae(found: list[ScoredForecast], lead: int) -> float:
    """The coach's error of first crack at a lead."""
    return next(s.mae for s in tally(found) if s.what == "first crack" and s.lead == lead)


def main() -> None:
    """Run and print."""
    p = argparse.ArgumentParser()
    p.add_argument("--workshops", type=int, default=200)
    p.add_argument("--live", type=int, default=5)
    p.add_argument("--smaller", type=int, default=60, help="workshops for all but the first table")
    p.add_argument("--jobs", type=int, default=2)
    p.add_argument("--development", action="store_true")
    a = p.parse_args()
    seed = DEVELOPMENT if a.development else REPORT
    print(f"seed: {'development' if a.development else 'reporting'}")
    t0 = time.perf_counter()
    print("\n== four earlier roasts, a reading about every 30 s")
    found, _, _, roasts = gather(seed, a.workshops, 4, a.live, 1.0, 30.0, a.jobs)
    print(f"{roasts} roasts; {time.perf_counter() - t0:.0f} s in all")
    show(found)
    better = [s.crps < best_baseline_crps(s, found) for s in tally(found)]
    print(f"mean CRPS better than every baseline with its own best spread: {sum(better)} of {len(better)} rows")
    jobs = [(seed, n, a.live) for n in range(a.smaller)]
    with ProcessPoolExecutor(a.jobs) as pool:
        print("\n== none, four and twenty earlier roasts on the same days")
        results = [r for r in pool.map(amounts, jobs) if r]
        by = {n: [c for r in results for c in r[n]] for n in (0, 4, 20)}
        for lead in (150, 90):
            m = {n: mae(by[n], lead) for n in by}
            print(f"{lead} s before: {m[0]:.2f}, {m[4]:.2f}, {m[20]:.2f} s; none to four {m[0] / m[4]:.3f}, "
                  f"twenty to four {m[20] / m[4]:.3f}")  # fmt: skip
        for n in by:
            rows = [s for s in tally(by[n]) if s.what == "first crack"]
            print(f"{n:2d} earlier: in 80 % " + " ".join(f"{s.lead}: {s.in_80.value:.3f}" for s in rows))

        print("\n== an early crack, warned of (two forecasts running at the threshold, 60 s or more to act)")
        days = [d for r in pool.map(warnings, jobs) for d in r]
        early = sum(1 for off, _, _ in days if off < -EARLY)
        for threshold in THRESHOLDS:
            warned = [
                (
                    off,
                    any(x[1] >= threshold and y[1] >= threshold and y[0] >= 60 for x, y in pairwise(s)),
                )
                for off, s, _ in days
            ]
            sure = [off for off, _, p in days if p >= threshold]
            given = [off for off, w in warned if w]
            caught = sum(1 for off, w in warned if w and off < -EARLY)
            true = caught / len(given) if given else float("nan")
            best = sum(1 for off in sure if off < -EARLY)
            print(f"p {threshold:.1f}: warned of {caught} of {early} early ones; {len(given)} warnings, "
                  f"{true:.2f} true; knowing the probe's whole way "
                  f"{best}; {len(sure)}, {best / max(len(sure), 1):.2f}")  # fmt: skip

        print("\n== one gross mistype")
        moved = [m for r in pool.map(mistyped, jobs) for m in r]
        shares = np.array([x / w for x, w in moved])
        print(f"{len(moved)} roasts: the median moves by {shares.mean():.3f} of the width in the mean, "
              f"{np.quantile(shares, 0.95):.3f} in the 95th percentile; "
              f"under 0.05 in {np.mean(shares < 0.05):.3f} of roasts")  # fmt: skip

        print("\n== readings when asked for, beside every 30 s")
        pairs = [x for r in pool.map(asking, jobs) for x in r]
        counts = np.array([(x[0], y[0]) for x, y in pairs]).mean(axis=0)
        print(f"readings until crack: {counts[0]:.1f} and {counts[1]:.1f} ({1 - counts[1] / counts[0]:.0%} fewer)")
        for lead in (120, 90, 60, 30):
            each = [(dict(a[1]), dict(b[1])) for a, b in pairs]
            e = np.abs([(a[lead], b[lead]) for a, b in each if lead in a and lead in b])
            unsure = (e[:, 1] - e[:, 0]).std() / np.sqrt(len(e)) / e[:, 0].mean()
            print(f"{lead} s before: {e[:, 0].mean():.2f} and {e[:, 1].mean():.2f} s, "
                  f"{e[:, 1].mean() / e[:, 0].mean():.3f} (standard error {unsure:.3f})")  # fmt: skip
        print(f"early cracks warned of: {sum(x[2] for x, _ in pairs)} and {sum(y[2] for _, y in pairs)} warnings")
    print("\n== big days: everything doubled")
    show(gather(seed, a.smaller, 4, a.live, 2.0, 30.0, a.jobs)[0])
    print("\n== a reading every 60 s, and every 30 s on the same workshops")
    slow, usual = (gather(seed, a.smaller, 4, a.live, 1.0, x, a.jobs)[0] for x in (60.0, 30.0))
    for lead in (150, 90, 60):
        one, other = mae(slow, lead), mae(usual, lead)
        print(f"{lead} s before: {one:.2f} and {other:.2f} s, {one / other:.3f}")
    print(f"\n{time.perf_counter() - t0:.0f} s in all on {a.jobs} processes")


if __name__ == "__main__":
    main()
