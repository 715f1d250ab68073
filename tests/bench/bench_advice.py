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
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from ways import WAYS, Outcome, best_left, by_forecast, effect, roast, went_on
from workshops import DEVELOPMENT, REPORT, Weather, Workshop, day_of, roast_once, workshop

from coach.advice.advise import CLAIMED
from coach.advice.leave_alone import BETTER
from coach.forecast.learning import from_roasts
from coach.roast.profile import Profile
from coach.roast.roast import Roast

EVERY = 3
"""So many of the silences that claim nothing are looked into: every third.  Those that claim something: each."""
CLAIMS = ("leave", "recovering", "too late")
LOOKED_INTO = ("quiet", *CLAIMS)


@dataclass(frozen=True)
class Silence:
    """What was said after a reading where it was no move, and how far off the crack then would have come, s: with
    nothing done, with the best single move, and as it went on."""

    kind: str
    left: float
    """How sure it was that no move would do clearly better; NaN where that wasn't looked at."""
    before: float
    """So long before the crack was called, s."""
    tolerance: float
    scattered: tuple[float, float, float]
    """With the lot's own scatter of the crack known."""
    by_curve: tuple[float, float, float]
    """With that left out."""
    known: tuple[float, float]
    """By the curve, with nothing done and with the forecast's own best step; NaN where it had none."""

    def right(self, *, scatter: bool, on: bool = False) -> bool:
        """Whether no move did better than doing nothing (``on``: than what was done later) by ``BETTER``."""
        off = self.scattered if scatter else self.by_curve
        return off[2 if on else 0] - off[1] <= BETTER


def air_moved(w: Workshop, rng: np.random.Generator, size: float) -> list[Roast]:
    """Six earlier roasts of the same workshop, in each of which the air was moved once besides the plan."""
    out: list[Roast] = []
    for number in range(12):
        weather = Weather.draw(w.machine, w.beans, rng, size)
        planned = [s.value for s in w.profile.steps if s.control == "air"] or [2.0]
        extra = (float(rng.uniform(150, 300)), "air", float(np.clip(planned[-1] + rng.choice([-1.5, 1.5]), 0.5, 5.0)))
        roaster = weather.roaster(w.machine, w.beans)
        entries = roast_once(w.machine, roaster, w.habits, np.random.default_rng(int(rng.integers(1 << 30))), [extra])
        if any(getattr(e, "event", "") == "drop" for e in entries):
            out.append(day_of(entries, w.habits.unit, number).roast)
        if len(out) == 6:
            break
    return out


def one(
    job: tuple[int, int, int, float, bool, str],
) -> list[tuple[list[Outcome], list[tuple[float, ...]], list[Silence]]]:
    """The days of one workshop: outcomes in all ways; stated and true effect of each followed move; silences."""
    seed, number, days, size, check, by = job
    w = workshop(seed, number, 4, 0, size)
    if w is None:
        return []
    earlier = [d.roast for d in w.earlier]
    if by:  # the air is to be known: it was moved besides the plan before
        earlier = air_moved(w, np.random.default_rng([seed, number, 55]), size)
        w = replace(w, profile=Profile.from_document(w.profile.document.model_copy(update={"advice_by": by})))
    knowledge = from_roasts(w.profile, earlier)
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
                by_air = float(a.control == "air")
                effects.append(
                    (advised.called - at, stated, with_it - without, *a.crack_after, with_it + delay, by_air)
                )
        went = [went_on(advised, goal, delay, scatter=s) for s in (True, False)] if check else []
        tolerance = w.profile.goals["first crack"].time_tolerance
        quiet = 0
        for said in advised.silences if check else []:
            kind = said.advice.kind
            quiet += kind == "quiet"
            if not said.before_crack or kind not in LOOKED_INTO or (kind == "quiet" and quiet % EVERY):
                continue
            off = [
                (*best_left(advised, said, goal, delay, scatter=s), on)
                for s, on in zip((True, False), went, strict=True)
            ]
            known = by_forecast(advised, said, goal, delay) or (np.nan, np.nan)
            left = np.nan if said.advice.left is None else said.advice.left
            silences.append(Silence(kind, left, advised.called - said.t, tolerance, off[0], off[1], known))
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
    p.add_argument("--by", choices=("gas", "air", "either"), default="", help="which control, the air being learnt")
    p.add_argument("--jobs", type=int, default=2)
    a = p.parse_args()
    seed = REPORT if a.report else a.seed
    work = [(seed, n, a.days, a.size, not a.quick, a.by) for n in range(a.workshops)]
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


def _over(e: np.ndarray) -> float:
    """The true effect over the stated one, in the median of those that state any."""
    some = e[(np.abs(e[:, 1]) > 0.0) & np.isfinite(e[:, 2])]
    return float(np.median(some[:, 2] / some[:, 1])) if len(some) else float("nan")


def _truth(effects: list[tuple[float, ...]], silences: list[Silence]) -> None:
    """What was said against the same days simulated over again."""
    if effects:
        e = np.array(effects)
        air = e[e[:, 7] > 0]
        if len(air):
            print(
                f"of them moves of the air: {len(air)}; the way stated in "
                f"{np.mean(np.sign(air[:, 1]) == np.sign(air[:, 2])):.3f}, true effect over stated, median "
                f"{_over(air):.2f}; inside the stated 80 % in "
                f"{np.mean((air[:, 3] <= air[:, 6]) & (air[:, 6] <= air[:, 5])):.3f}"
            )
        right = np.sign(e[:, 1]) == np.sign(e[:, 2])
        inside = (e[:, 3] <= e[:, 6]) & (e[:, 6] <= e[:, 5])
        low, mid, high = (float(np.mean(x)) for x in (e[:, 6] < e[:, 3], inside, e[:, 6] > e[:, 5]))
        print(
            f"followed moves before crack, plan kept after each: {len(e)}; moved the crack the way stated in "
            f"{right.mean():.3f}; true effect over stated, median {_over(e):.2f}; crack inside the "
            f"stated 80 % in {mid:.3f} (before {low:.3f}, after {high:.3f}), half width "
            f"{np.mean(e[:, 5] - e[:, 3]) / 2:.1f} s; made {np.median(e[:, 0]):.0f} s before crack in the median"
        )
    for kind in LOOKED_INTO:
        of_kind = [x for x in silences if x.kind == kind]
        if not of_kind:
            continue
        _rights(f"{kind} said after {len(of_kind)} readings", of_kind)
        gained = np.array([x.known[0] - x.known[1] for x in of_kind if not np.isnan(x.known[0])])
        if len(gained):
            print(
                f"    the forecast's own best step then: better by {BETTER:.0f} s in {np.mean(gained > BETTER):.3f}, "
                f"worse by as much in {np.mean(gained < -BETTER):.3f}, gain {np.mean(gained):+.1f} s in the mean "
                f"({len(gained)})"
            )
        if kind == "recovering":
            print(f"    crack inside tolerance with nothing done in "
                  f"{np.mean([x.scattered[0] <= x.tolerance for x in of_kind]):.3f}")  # fmt: skip
        for low, high in ((0, 120), (120, 240), (240, 1000)):
            part = [x for x in of_kind if low <= x.before < high]
            if part:
                _rights(f"    {low} to {high} s before crack: {len(part)}", part)
    claims = [x for x in silences if x.kind in CLAIMS and x.left >= CLAIMED]
    if claims:
        _rights(f"all claims that no move would do clearly better: {len(claims)}", claims)
    print("how sure it was that no move would do clearly better, and how often that came true:")
    edges = (0.0, 0.2, 0.4, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 1.001)
    for low, high in pairwise(edges):
        part = [x for x in silences if low <= x.left < high]
        if part:
            _rights(
                f"    {low:.2f} to {min(high, 1.0):.2f} (mean {np.mean([x.left for x in part]):.3f}): {len(part)}", part
            )


def _rights(head: str, part: list[Silence]) -> None:
    """In how many of these no move did better."""
    fair, hind, on = (
        float(np.mean([x.right(scatter=s, on=o) for x in part]))
        for s, o in ((False, False), (True, False), (False, True))
    )
    off = np.mean([x.by_curve for x in part], axis=0)
    print(
        f"{head}: no move better by {BETTER:.0f} s in {hind:.3f}; by the day's curve {fair:.3f}, {on:.3f} against how "
        f"it went on; off {off[0]:.1f} s, with the best move {off[1]:.1f}, as it went on {off[2]:.1f}; "
        f"{np.median([x.before for x in part]):.0f} s before crack"
    )


if __name__ == "__main__":
    main()
