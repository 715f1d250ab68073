"""A second profile on a known machine: does what the roasts of another profile teach pay in the first ones of it?

Run: python tests/bench/bench_profiles.py [--places 14] [--live 4] [--seed 71] [--roasters project other third]

Same roaster and person; another lot (with its own crack temperature), another batch weight and gas plan.  With none
and with one earlier roast of the profile itself: what is learnt today (nothing; that one), and beside it what four and
ten roasts of the other profile would teach: the weights of the bank's members; those and the level of the crack, taken
to differ by ``BETWEEN`` from profile to profile.  Turned readings, every 30 s.  Paired over the same days; standard
errors by place.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parent))

import other_roaster
import third_roaster
import workshops
from bench_dials import MAKE
from dials import reread

from coach.forecast.event_threshold import REFERENCE, SCATTER
from coach.forecast.knowledge import Knowledge
from coach.forecast.learning import Lesson, from_lessons, lesson
from coach.roast.profile import Profile
from coach.verification.hindcast import cases

Array = NDArray[np.float64]
SECOND: Final[dict[str, Callable[..., Any]]] = {
    "project": workshops.second,
    "other": other_roaster.second,
    "third": third_roaster.second,
}
OTHERS: Final = (4, 10)
"""How many roasts of the other profile are learnt from."""
OWN: Final = (0, 1)
BETWEEN: Final = 2.5
"""Standard deviation of the crack's temperature from profile to profile, K."""
LEADS: Final = (150, 90, 30)


def weighed(profile: Profile, own: Sequence[Lesson], others: Sequence[Lesson]) -> Knowledge:
    """What a profile's own roasts taught, with the bank's members weighed by those of another profile, too."""
    return replace(from_lessons(profile, own), bank=from_lessons(profile, [*own, *others]).bank)


def levelled(known: Knowledge, other: Knowledge) -> Knowledge:
    """The crack's level drawn to that of another profile: the mean of two normals of unknown mean that differ by
    ``BETWEEN`` (Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, section 5.4)."""
    mine, theirs = known.thresholds["first crack"], other.thresholds["first crack"]
    own = mine.count - 1 + REFERENCE
    worth = 1 / ((BETWEEN / SCATTER["first crack"]) ** 2 + 1 / (theirs.count - 1 + REFERENCE))
    centre = (own * mine.centre + worth * theirs.centre) / (own + worth)
    scale = mine.scale * float(np.sqrt((1 + 1 / (own + worth)) / (1 + 1 / own)))
    return replace(known, thresholds={**known.thresholds, "first crack": replace(mine, centre=centre, scale=scale)})


def one(roaster: str, seed: int, number: int, live: int) -> dict[str, Array] | None:
    """Misses (s), CRPS (s) and whether the 80 % range held, (3, days, leads), of one place by what was learnt."""
    first = MAKE[roaster](seed, number, max(OTHERS), 0)
    if first is None:
        return None
    second = SECOND[roaster](first, seed, number, max(OWN), live)
    if second is None or len(second.live) < live:
        return None
    rng = np.random.default_rng([seed, number, 77])
    theirs = [lesson(first.profile, reread(d, "turned", rng).roast) for d in first.earlier]
    mine = [lesson(second.profile, reread(d, "turned", rng).roast) for d in second.earlier]
    after: dict[str, Knowledge] = {}
    for n in OWN:
        after[f"{n} own"] = from_lessons(second.profile, mine[:n])
        for m in OTHERS:
            some = theirs[-m:]
            after[f"{n} own, {m} others: weights"] = weighed(second.profile, mine[:n], some)
        after[f"{n} own, {m} others: weights, level"] = levelled(
            weighed(second.profile, mine[:n], some), from_lessons(first.profile, some)
        )
    days = [reread(d, "turned", rng) for d in second.live]
    out = {name: np.full((3, live, len(LEADS)), np.nan) for name in after}
    for name, known in after.items():
        for i, d in enumerate(days):
            for c in cases(second.profile, known, d.header, d.entries, crack_leads=LEADS, drop_leads=()):
                if (f := c.said) is not None:
                    told = abs(f.median - c.happened), f.crps, f.q10 <= c.happened <= f.q90
                    out[name][:, i, LEADS.index(c.lead)] = told
    return out


def main() -> None:
    """Run and print."""
    p = argparse.ArgumentParser()
    p.add_argument("--places", type=int, default=14)
    p.add_argument("--live", type=int, default=4)
    p.add_argument("--seed", type=int, default=71)
    p.add_argument("--roasters", nargs="*", choices=list(SECOND), default=list(SECOND))
    a = p.parse_args()
    for roaster in a.roasters:
        found = [x for n in range(a.places) if (x := one(roaster, a.seed, n, a.live)) is not None]
        print(f"\n== {roaster}: {len(found)} places, {a.live} roasts each, seed {a.seed}; at {LEADS} s")
        for name in found[0]:
            miss, crps, held = np.nanmean([x[name] for x in found], axis=(0, 2))
            row = f"{name:32s} miss {_row(miss)} CRPS {_row(crps)} 80 % {_row(held)}"
            today = f"{name[0]} own"
            if name != "0 own":
                base = "0 own" if name == today else today
                change = np.array([np.nanmean(x[name] - x[base], axis=1) for x in found])
                mean, unsure = np.nanmean(change, axis=0), np.nanstd(change, axis=0) / np.sqrt(len(found))
                row += f"\n{'':20s} against {base} miss {_row(mean[0])} ± {_row(unsure[0])} CRPS {_row(mean[1])}"
            print(row, flush=True)


def _row(x: Array) -> str:
    return " ".join(f"{v:5.2f}" for v in x)


if __name__ == "__main__":
    main()
