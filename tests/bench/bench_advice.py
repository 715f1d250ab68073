"""Does following the advice help?  The same days roasted three ways: by the plan only, by a rule of thumb, by advice.

Run: python tests/bench/bench_advice.py [--workshops 30] [--days 3] [--report] [--jobs 2] [--size 1]

The person who follows advice makes the move 5 to 20 s after it is given.  The rule of thumb changes the gas of the plan
by 3 % for each kelvin off the reference, once a minute at most, outside 2 K.  Everything else is the same.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from workshops import DEVELOPMENT, REPORT, Weather, Workshop, workshop

from coach.advice import advise
from coach.entries import Entry, Header, Move
from coach.knowledge import Knowledge
from coach.learn import from_roasts
from coach.outlook import Outlook
from coach.roast import Numbered, Roast, effective, fold
from coach.simulator.person import BareHands, Person
from coach.simulator.recipe import recipe_of_machine
from coach.situation import Advice

WAYS = ("plan", "rule of thumb", "advice")
CHARGE = 60.0


@dataclass
class Outcome:
    """One roast: errors against the plan (crack s, drop K, development s), moves besides the plan, what was stated."""

    crack: float
    drop: float
    development: float
    moves: int
    stall: bool
    race: bool
    stated: list[tuple[float, float, float, float]] = field(default_factory=list)
    """For each followed move that speaks of crack: before, q10, after, q90 as said, s."""
    kinds: list[str] = field(default_factory=list)
    last_shift: float = 0.0
    spent: list[float] = field(default_factory=list)


def roast(w: Workshop, knowledge: Knowledge, weather: Weather, seed: int, way: str) -> Outcome | None:
    """One day, one way."""
    rng = np.random.default_rng([seed, 7])
    roaster = weather.roaster(w.machine, w.beans)
    hands = BareHands(roaster)
    person = Person(w.habits, recipe_of_machine(w.machine, charge_at=CHARGE), np.random.default_rng(seed))
    header = Header(id="d", unit=w.habits.unit, started="2026-01-01T08:00:00+00:00")
    outlook = Outlook(w.profile, knowledge, 1.0)
    entries: list[Numbered] = []
    folded = Roast(header)
    standing: Advice | None = None
    todo: tuple[float, float, Advice] | None = None
    last_own, moves = -1e9, 0
    out = Outcome(0, 0, 0, 0, False, False)
    t = CHARGE - 5.0
    while "drop" not in person.marks and t < CHARGE + 1100:
        roaster.advance(t)
        new: list[Entry] = list(person.second(t, hands))
        now = t - CHARGE
        if todo is not None and t >= todo[0]:
            hands.set("gas", min(todo[1], w.machine.burner.full_pressure))
            new.append(Move(at=t, control="gas", value=round(todo[1], 4)))
            a = todo[2]
            if a.crack_before is not None and a.crack_after is not None and "first crack" not in person.marks:
                out.stated.append((a.crack_before[1], *a.crack_after))
            moves += 1
            last_own, todo = t, None
        if new:
            entries += [Numbered(len(entries) + 2 + i, e) for i, e in enumerate(new)]
            before, folded = folded, fold(header, effective(entries))
            if before.moves != folded.moves and before.charge_at is not None:
                first = min(m.t for m in folded.moves if m not in before.moves)
                outlook.keep(sum(1 for r in folded.readings if r.t < first))
            if before.charge_at is None:
                outlook.keep(0)
        if way == "advice" and now > 100 and (new or t % 10 == 0) and folded.readings and "drop" not in person.marks:
            t0 = time.perf_counter()
            estimate, forecast = outlook.at(now, folded)
            standing = advise(outlook, now, folded, forecast, None if estimate is None else estimate.age, standing)
            out.spent.append(time.perf_counter() - t0)
            if standing is not None and standing.text:
                out.kinds.append(standing.kind)
            if standing is not None and standing.kind == "move" and todo is None and standing.value is not None:
                todo = (t + float(rng.uniform(5, 20)), standing.value, standing)
        elif way == "rule of thumb" and new and now > 150 and "first crack" not in person.marks and folded.readings:
            off = folded.readings[-1].celsius - w.profile.curve.value(folded.readings[-1].t)
            planned = [s.value for s in w.profile.steps if s.control == "gas" and s.time <= now]
            if 2 < abs(off) < 20 and planned and t - last_own > 60 and todo is None:
                todo = (t + float(rng.uniform(5, 20)), max(planned[-1] * (1 - 0.03 * off), 0.0), Advice(""))
        t += 1.0
    truth = roaster.truth
    if "drop" not in person.marks or truth is None or truth.first_crack is None:
        return None
    goal = w.profile.goals["first crack"]
    crack, drop = person.marks["first crack"] - CHARGE, person.marks["drop"] - CHARGE
    inside = [s for s in roaster.history if s.time >= truth.charge]
    times = np.array([s.time - truth.charge for s in inside])
    probe = np.array([s.state.probe for s in inside]) + weather.offset
    grid = np.arange(crack, drop + 0.5, 1.0)
    v = np.interp(grid, times, probe)
    rates = (v[20:] - v[:-20]) / 20 if len(v) > 40 else np.array([0.1])
    plan = w.profile.curve.slope(w.profile.drop_time - 30.0, 60.0)
    out.crack = crack - goal.time
    out.drop = float(np.interp(drop, times, probe)) - w.profile.drop_temperature
    out.development = drop - crack - (w.profile.development or 90.0)
    out.moves = moves
    out.stall, out.race = bool(rates.min() < 0.35 * plan), bool(rates.max() > 1.9 * max(plan, 0.05))
    out.stated = [(*s, crack) for s in out.stated]  # type: ignore[misc]
    return out


def one(job: tuple[int, int, int, float]) -> list[tuple[Outcome, Outcome, Outcome]]:
    """The days of one workshop, each roasted in all ways."""
    seed, number, days, size = job
    w = workshop(seed, number, 4, 0, size)
    if w is None:
        return []
    knowledge = from_roasts(w.profile, [d.roast for d in w.earlier])
    rng = np.random.default_rng([seed, number, 99])
    rows = []
    for day in range(days):
        weather = Weather.draw(w.machine, w.beans, rng, size)
        found = [roast(w, knowledge, weather, 1000 * number + day, way) for way in WAYS]
        if all(f is not None for f in found):
            rows.append(tuple(found))
    return rows  # type: ignore[return-value]


def main() -> None:
    """Run and print."""
    p = argparse.ArgumentParser()
    p.add_argument("--workshops", type=int, default=30)
    p.add_argument("--days", type=int, default=3)
    p.add_argument("--size", type=float, default=1.0)
    p.add_argument("--report", action="store_true")
    p.add_argument("--jobs", type=int, default=2)
    a = p.parse_args()
    work = [(REPORT if a.report else DEVELOPMENT, n, a.days, a.size) for n in range(a.workshops)]
    with ProcessPoolExecutor(a.jobs) as pool:
        rows = [r for rs in pool.map(one, work) for r in rs]
    print(f"{len(rows)} days, each roasted three ways; {'reporting' if a.report else 'development'} seed")
    crack = {}
    for i, way in enumerate(WAYS):
        o = [r[i] for r in rows]
        crack[way] = float(np.mean([abs(x.crack) for x in o]))
        print(
            f"{way:14s} crack off {crack[way]:5.1f} s   drop off {np.mean([abs(x.drop) for x in o]):.2f} K   "
            f"development off {np.mean([abs(x.development) for x in o]):.1f} s   "
            f"moves: median {np.median([x.moves for x in o]):.0f}, most {max(x.moves for x in o)}   "
            f"stalls {np.mean([x.stall for x in o]):.3f}   races {np.mean([x.race for x in o]):.3f}"
        )
    print(f"crack error to plan only {crack['advice'] / crack['plan']:.3f}, "
          f"to the rule of thumb {crack['advice'] / crack['rule of thumb']:.3f}")  # fmt: skip
    stated = [s for r in rows for s in (r[2].stated[-1:])]
    if stated:
        inside = [low <= crack <= high for _, low, _, high, crack in stated]
        print(
            f"the last followed advice of a roast: crack inside the stated 80 % in {np.mean(inside):.3f} "
            f"of {len(inside)}"
        )
    spent = np.array([x for r in rows for x in r[2].spent])
    print(
        f"estimate, forecast and advice: median {1000 * np.median(spent):.1f} ms, "
        f"p99 {1000 * np.quantile(spent, 0.99):.1f}"
    )
    kinds = [k for r in rows for k in r[2].kinds]
    print({k: kinds.count(k) for k in sorted(set(kinds))})


if __name__ == "__main__":
    main()
