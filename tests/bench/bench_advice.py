"""Does following the advice help, and is what it says true?  The same days roasted in three ways (see ``ways.py``).

Run: python tests/bench/bench_advice.py [--workshops 30] [--days 3] [--seed 11 | --report] [--jobs 2] [--size 1]

Three things are measured by simulating the same day over again with other moves: whether each followed move shifted the
crack the way it said (against the plan being kept instead), whether the crack then came inside the stated 80 %, and
whether a silence was right: whether any single move then, within the gauge's range and the size that may be advised,
would have brought the crack nearer to the plan by more than 5 s.  That is judged in hindsight, every feasible move
tried on the true machine: by the day's own curve with the lot's scatter of the crack left out, which nobody can know,
and with it; and against doing nothing more, and against what was advised and done later in the same roast.  Hindsight
knows more than anybody could: so the step that the forecast itself would have taken then is tried, too.
"""

from __future__ import annotations

import argparse
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from ways import WAYS, Outcome, Said, best_left, by_forecast, effect, roast, went_on
from workshops import DEVELOPMENT, REPORT, Weather, workshop

from coach.learn import from_roasts

EVERY = 3
"""So many of the silences are looked into: every third."""
BETTER = 5.0
"""A silence was wrong where a move would have been better by more than this at the crack, s."""
Silence = tuple[str, float, float, float, float, float, float, float, float, float]
"""Kind; seconds before crack; how far off, s, with nothing done, with the best move, and as it went on: with the lot's
own scatter, then without; and with nothing and with the forecast's own best step."""


def kind_of(said: Said) -> str:
    """What sort of silence it was."""
    a = said.advice
    return "silent" if a.kind == "leave" and not a.text else "nothing helps" if a.kind == "leave" else a.kind


def one(job: tuple[int, int, int, float, bool]) -> list[tuple[list[Outcome], list[tuple[float, ...]], list[Silence]]]:
    """The days of one workshop: outcomes in all ways; stated and true effect of each followed move; silences."""
    seed, number, days, size, check = job
    w = workshop(seed, number, 4, 0, size)
    if w is None:
        return []
    knowledge = from_roasts(w.profile, [d.roast for d in w.earlier])
    rng = np.random.default_rng([seed, number, 99])
    goal, delay = w.profile.goals["first crack"].time, w.habits.call_delay
    rows = []
    for day in range(days):
        weather = Weather.draw(w.machine, w.beans, rng, size)
        found = [roast(w, knowledge, weather, 1000 * number + day, way) for way in WAYS]
        if any(f is None for f in found):
            continue
        outcomes: list[Outcome] = [f for f in found if f is not None]
        effects: list[tuple[float, ...]] = []
        silences: list[Silence] = []
        advised = outcomes[2]
        for said, at in advised.followed if check else []:
            a = said.advice
            if said.before_crack and a.crack_before is not None and a.crack_after is not None:
                without, with_it = effect(advised, said, at)
                stated = a.crack_after[1] - a.crack_before[1]
                effects.append((advised.called - at, stated, with_it - without, *a.crack_after, with_it + delay))
        went = [went_on(advised, goal, delay, scatter=s) for s in (True, False)] if check else []
        for said in advised.silences[::EVERY] if check else []:
            if said.before_crack and kind_of(said) in ("silent", "nothing helps", "recovering", "too late"):
                off = [
                    x
                    for s, on in zip((True, False), went, strict=True)
                    for x in (*best_left(advised, said, goal, delay, scatter=s), on)
                ]
                known = by_forecast(advised, said, goal, delay) or (np.nan, np.nan)
                silences.append((kind_of(said), advised.called - said.t, *off, *known))  # type: ignore[arg-type]
        for o in outcomes:
            o.followed, o.silences, o.start = [], [], None
        rows.append((outcomes, effects, silences))
    return rows


def main() -> None:
    """Run and print."""
    p = argparse.ArgumentParser()
    p.add_argument("--workshops", type=int, default=30)
    p.add_argument("--days", type=int, default=3)
    p.add_argument("--size", type=float, default=1.0)
    p.add_argument("--seed", type=int, default=DEVELOPMENT)
    p.add_argument("--report", action="store_true")
    p.add_argument("--quick", action="store_true", help="without simulating over again")
    p.add_argument("--jobs", type=int, default=2)
    a = p.parse_args()
    seed = REPORT if a.report else a.seed
    work = [(seed, n, a.days, a.size, not a.quick) for n in range(a.workshops)]
    with ProcessPoolExecutor(a.jobs) as pool:
        found = [r for rs in pool.map(one, work) for r in rs]
    rows = [r[0] for r in found]
    print(f"{len(rows)} days, each roasted three ways; seed {seed}, {a.workshops} workshops of 4 earlier roasts")
    crack = {}
    for i, way in enumerate(WAYS):
        o = [r[i] for r in rows]
        crack[way] = float(np.mean([abs(x.crack) for x in o]))
        print(
            f"{way:14s} crack off {crack[way]:5.2f} s   drop off {np.mean([abs(x.drop) for x in o]):.2f} K   "
            f"development off {np.mean([abs(x.development) for x in o]):.1f} s   "
            f"moves: median {np.median([x.moves for x in o]):.0f}, mean {np.mean([x.moves for x in o]):.2f}, "
            f"most {max(x.moves for x in o)}   "
            f"stalls {np.mean([x.stall for x in o]):.3f}   races {np.mean([x.race for x in o]):.3f}"
        )
    print(f"crack error to plan only {crack['advice'] / crack['plan']:.3f}, "
          f"to the rule of thumb {crack['advice'] / crack['rule of thumb']:.3f} "
          f"({_ratio_error(rows):.3f} standard error, by workshop days drawn again)")  # fmt: skip
    stated = [s for r in rows for s in (r[2].stated[-1:])]
    if stated:
        inside = [low <= crack <= high for _, low, _, high, crack in stated]
        print(
            f"the last followed advice of a roast: crack inside the stated 80 % in {np.mean(inside):.3f} "
            f"of {len(inside)}"
        )
    _truth([e for _, es, _ in found for e in es], [s for _, _, ss in found for s in ss])
    spent = np.array([x for r in rows for x in r[2].spent])
    print(
        f"estimate, forecast and advice, processor time: median {1000 * np.median(spent):.1f} ms, "
        f"p99 {1000 * np.quantile(spent, 0.99):.1f}, most {1000 * spent.max():.1f}; load {os.getloadavg()[0]:.1f}"
    )
    kinds = [k for r in rows for k in r[2].kinds]
    print({k: kinds.count(k) for k in sorted(set(kinds))})


def _ratio_error(rows: list[list[Outcome]]) -> float:
    errors = np.array([[abs(o.crack) for o in r] for r in rows])
    rng = np.random.default_rng(1)
    drawn = errors[rng.integers(len(errors), size=(500, len(errors)))].mean(axis=1)
    return float(np.std(drawn[:, 2] / drawn[:, 1]))


def _truth(effects: list[tuple[float, ...]], silences: list[Silence]) -> None:
    """What was said against the same days simulated over again."""
    if effects:
        e = np.array(effects)
        right = np.sign(e[:, 1]) == np.sign(e[:, 2])
        inside = (e[:, 3] <= e[:, 6]) & (e[:, 6] <= e[:, 5])
        low, mid, high = (float(np.mean(x)) for x in (e[:, 6] < e[:, 3], inside, e[:, 6] > e[:, 5]))
        print(
            f"followed moves before crack, plan kept after each: {len(e)}; moved the crack the way stated in "
            f"{right.mean():.3f}; true effect over stated, median {np.median(e[:, 2] / e[:, 1]):.2f}; crack inside the "
            f"stated 80 % in {mid:.3f} (before {low:.3f}, after {high:.3f}), half width "
            f"{np.mean(e[:, 5] - e[:, 3]) / 2:.1f} s; made {np.median(e[:, 0]):.0f} s before crack in the median"
        )
    for kind in ("silent", "recovering", "nothing helps", "too late"):
        s = np.array([x[1:] for x in silences if x[0] == kind])
        if len(s):
            hind, fair = (np.mean(s[:, i] - s[:, i + 1] <= BETTER) for i in (1, 4))
            later = np.mean(s[:, 6] - s[:, 5] <= BETTER)
            print(
                f"{kind:14s} said after {len(s):4d} readings: no move better by {BETTER:.0f} s in {fair:.3f} by the "
                f"day's curve ({hind:.3f} with the crack's own scatter known), {later:.3f} against how it went on; off "
                f"{np.mean(s[:, 4]):.1f} s, with the best move {np.mean(s[:, 5]):.1f} s, as it went on "
                f"{np.mean(s[:, 6]):.1f} s; {np.median(s[:, 0]):.0f} s before crack"
            )
            gained = (s[:, 7] - s[:, 8])[~np.isnan(s[:, 7])]
            if len(gained):
                print(
                    f"    the forecast's own best step then: better by {BETTER:.0f} s in "
                    f"{np.mean(gained > BETTER):.3f}, worse by as much in {np.mean(gained < -BETTER):.3f}, gain "
                    f"{np.mean(gained):+.1f} s in the mean ({len(gained)})"
                )
            for low, high in ((0, 120), (120, 240), (240, 1000)) if kind == "silent" else ():
                x = s[(s[:, 0] >= low) & (s[:, 0] < high)]
                if len(x):
                    left, on = (np.mean(x[:, i] - x[:, 5] <= BETTER) for i in (4, 6))
                    print(f"    {low} to {high} s before crack: {len(x)}, {left:.3f}, {on:.3f} against how it went on")


if __name__ == "__main__":
    main()
