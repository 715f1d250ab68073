"""Does following the advice help on a roaster that was never met, and is what it says true?

Run: python tests/bench/bench_advice.py [--seed 31 | --report] [--places 30] [--days 3]

Three roasters (the project's own, ``other_roaster``, ``third_roaster``), usual days and days that differ twice as much;
nothing was learnt before.  A reading every 30 s in whole degrees, moves made 10 s after they were thought of.  Beside
the advice: the plan alone; a rule of thumb; a rule of two numbers; and the floor, somebody who knows roaster and day
but not the beans' scatter.  ``said/happened``: the stated shift of the crack against that of the same day roasted again
with and without the move, by the time left.  ``inside``: the crack against the range stated with the last move.
Constants were chosen on seeds 31 and 33; ``--report`` takes seed 271130, which nothing was chosen by.

``--learning``: six usual days of each place in order, the response to gas learnt from those before: what is said of
moves on the first day, the next two and the last three, and the range of the response that was known by then.
"""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import replace

import numpy as np
from closed_loop import (
    ROASTERS,
    Array,
    Coached,
    Scene,
    happened,
    knower,
    play,
    roast_of,
    scene,
    score,
    thumb,
    two_numbers,
)

from coach.forecast.gas_answer import MEMBERS, Evidence, GasAnswer
from coach.forecast.knowledge import Knowledge
from coach.forecast.learning import from_profile, gas_evidence
from coach.roast.profile import Profile

LEFT = ((0, 120), (120, 180), (180, 240), (240, 900))
"""Time left until the crack when a move was advised, s."""


def coached(s: Scene) -> list[str]:
    """The advice followed: its score, and whether what it said held."""
    plan, coach = play(s, None), Coached()
    found = play(s, coach)
    shifts = happened(s, found, coach.issued)
    said = np.array([i.after[1] - i.before[1] for i in coach.issued])
    came = found.crack + s.goal
    left = np.array([came[i.row] - i.t for i in coach.issued])
    last = {i.row: i for i in coach.issued}
    inside = np.mean([i.after[0] <= came[row] <= i.after[2] for row, i in last.items()])
    ok = np.isfinite(shifts)
    parts = []
    for a, b in LEFT:
        some = ok & (left >= a) & (left < b)
        if some.sum() > 3:
            parts.append(f"{a}-{b} s: {np.abs(said[some]).mean() / np.abs(shifts[some]).mean():.2f} of {some.sum()}")
    silent = Counter(kind for _, _, kind, p in coach.silent if p > 0.8)
    spent = np.percentile(np.array(coach.spent) * 1e3, [50, 99])
    right = np.mean(np.sign(said[ok]) == np.sign(shifts[ok]))
    return [
        score("advice", found, plan),
        f"    inside 80 % {inside:.2f} of {len(last)}; right way {right:.2f}; said/happened "
        f"{np.abs(said[ok]).sum() / np.abs(shifts[ok]).sum():.2f} ({'; '.join(parts)})",
        f"    no move while p(off) > 0.8: {dict(silent)} of {len(coach.silent)} looks; "
        f"{spent[0]:.2f} ms, p99 {spent[1]:.1f}",
    ]


def learning(s: Scene, days: int) -> list[str]:
    """What moves teach: ``days`` of each place in order, in three groups."""
    told: dict[int, list[Evidence]] = {}
    found: list[tuple[Array, Array, Array, Array]] = []
    """Of each day: stated shifts and what came of them, s; whether the crack came inside; 90 over 10 % of the size."""

    def known(profile: Profile) -> Knowledge:
        return replace(from_profile(profile), gas=GasAnswer.prior().after(told.get(id(profile), [])))

    for day in range(days):
        coach, rows = Coached(known), np.arange(day, s.n, days)
        width = [np.divide(*known(s.profiles[i]).gas.quantiles(MEMBERS.size, (0.9, 0.1))) for i in rows]
        played = play(s, coach, rows=rows)
        came = dict(zip(rows, played.crack + s.goal[rows], strict=True))
        last = {i.row: i for i in coach.issued}
        inside = [i.after[0] <= came[row] <= i.after[2] for row, i in last.items()]
        said = np.array([i.after[1] - i.before[1] for i in coach.issued])
        found.append((said, happened(s, played, coach.issued), np.array(inside), np.array(width)))
        for h in played.hands:
            told.setdefault(id(h.profile), []).append(gas_evidence(h.profile, roast_of(h)))
    out = []
    for first, end in ((0, 1), (1, 3), (3, days)):
        said, came_of_it, inside_, width_ = (np.concatenate(x) for x in zip(*found[first:end], strict=True))
        ok = np.isfinite(came_of_it)
        out.append(
            f"    days {first + 1}-{end}: said/happened {np.abs(said[ok]).sum() / np.abs(came_of_it[ok]).sum():.2f} of "
            f"{ok.sum()}; inside 80 % {inside_.mean():.2f} of {len(inside_)}; size within a factor {width_.mean():.1f}"
        )
    return out


def main() -> None:
    """Print the table."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("--seed", type=int, default=31)
    p.add_argument("--report", action="store_true")
    p.add_argument("--places", type=int, default=30)
    p.add_argument("--days", type=int, default=3)
    p.add_argument("--learning", action="store_true")
    args = p.parse_args()
    seed = 271130 if args.report else args.seed
    for roaster in ROASTERS if args.learning else ():
        print(f"{roaster}, six usual days of each place")
        for line in learning(scene(roaster, seed, args.places, 6, 1.0), 6):
            print(line, flush=True)
    for roaster in ROASTERS if not args.learning else ():
        for size in (1.0, 2.0):
            s = scene(roaster, seed, args.places, args.days, size)
            plan = play(s, None)
            print(f"{roaster}, days x {size:g}: {s.n} days, the plan alone off by {np.abs(plan.crack).mean():.1f} s")
            for name, way in (("rule of thumb", thumb), ("two numbers", two_numbers)):
                print(score(name, play(s, way), plan))
            for line in coached(s):
                print(line)
            print(score("knows roaster and day", knower(s), plan), flush=True)


if __name__ == "__main__":
    main()
