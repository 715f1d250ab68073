"""Cues over simulated roasts: how many, how spaced, how often right.

    python tests/bench/bench_cues.py [roasts] [earlier roasts learnt from] [processes] [--development] [--after-crack]

The rules were made while looking at the workshops of DEVELOPMENT; figures are told of those of REPORT, by which nothing
was chosen.
Workshops as in workshops.py; the plain third of them reads every 30 s, another third at an interval of its own between
15 and 60 s on days that differ twice as much, and the noisy third mistypes one reading in twelve, adds noise to the
probe and leaves stretches of two minutes without a reading.  Every sound is judged from the finished roast (see
coach/ledger_outcome.py); the simulated person does not hear the cues.  Limits beside the figures: ANSI/ISA-18.2-2016,
16.4.3 (ten in ten minutes) and 16.4.8 (priorities 80 / 15 / 5, over alarms); the others are this project's own.
With --after-crack: roasts that stall or race after the crack, which the usual days never do (see after_crack.py).
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from statistics import median

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))
sys.path.insert(0, str(Path(__file__).parent))

from after_crack import SCENARIOS, came, gone_wrong
from simulated_operator import mistyped
from workshops import Day, from_roasts, workshop

from coach.cues.situation import ActiveCue
from coach.cues.table import CUES
from coach.forecast.knowledge import Knowledge
from coach.roast.entries import OUTCOMES, Entry, Reading
from coach.roast.profile import Profile
from coach.roast.roast import Numbered
from coach.session.coach import Coach
from coach.verification.cue_outcomes import OutcomeLine, judged, missed_window
from coach.verification.replay import walk

KINDS = ("plain", "varied", "noisy")
DEVELOPMENT = 20261125
"""Seed of the workshops that the rules were made on."""
REPORT = 520117
"""Seed of the workshops that are reported."""


@dataclass(frozen=True)
class Seen:
    """One roast: the sounds (time, cue, priority, family), its ledger, its real misses, and breaches of the rules."""

    kind: str
    sounds: tuple[tuple[float, str, str, str], ...]
    ledger: tuple[OutcomeLine, ...]
    missed: tuple[str, ...]
    breaches: tuple[str, ...]


def noisy(day: Day, rng: np.random.Generator) -> tuple[Numbered, ...]:
    """The day's entries with mistypes, a noisy probe and silent stretches."""
    holes = [float(rng.uniform(100, 600)) for _ in range(int(rng.integers(0, 3)))]
    charge = day.roast.charge_at or 0.0
    out: list[Entry] = []
    for n in day.entries:
        entry = n.entry
        if isinstance(entry, Reading) and entry.at > charge:
            if any(0 <= entry.at - charge - h < 120 for h in holes):
                continue
            value = float(round(entry.temperature + rng.normal(0, 1.0)))
            entry = entry.model_copy(update={"temperature": mistyped(value, rng) if rng.random() < 1 / 12 else value})
        out.append(entry)
    return tuple(Numbered(i + 2, e) for i, e in enumerate(out))


class Ear:
    """Hears what sounds in a replay: each sound with its time (``at`` axis, s)."""

    def __init__(self) -> None:
        self.sounds: list[tuple[float, ActiveCue]] = []

    def __call__(self, coach: Coach) -> None:
        """Hear the coach at one step."""
        at = coach.heard.all[-1] if coach.heard.all else None
        if at is not None and (not self.sounds or self.sounds[-1][0] != at):
            self.sounds += [(at, c) for c in coach.cues if c.sounds]


def breaches(gone: Coach, sounds: Sequence[tuple[float, ActiveCue]]) -> Iterator[str]:
    """What must not be."""
    times = [t for t, _ in sounds]
    for (a, x), (b, y) in pairwise(sounds):
        if b - a < 5.0 - 1e-6:
            yield f"{x.name} and {y.name} {b - a:.1f} s apart at {a:.0f}"
    for t in times:
        count = sum(1 for u in times if t <= u < t + 600.0)
        if count > 10:
            yield f"{count} sounds in ten minutes from {t:.0f}"
    for name, row in CUES.items():
        mine = [t for t, c in sounds if c.name == name]
        gap = 20.0 if row.priority == "high" else 60.0
        if any(b - a < gap - 1e-6 for a, b in pairwise(mine)) and not _passed_the_limit(sounds, name):
            yield f"{name} twice within {gap:.0f} s"
        if any(sum(1 for u in mine if t <= u < t + 60.0) > 2 for t in mine):
            yield f"{name} three times in a minute"
    for e in gone.record.episodes:
        if CUES[e.cue].priority == "high" and not e.sounds and e.until - e.since > 6.0:
            yield f"{e.cue} at {e.since:.0f} was never heard"


def _passed_the_limit(sounds: Sequence[tuple[float, ActiveCue]], name: str) -> bool:
    """Drop now speaks again at once when it is past its tolerance: a prompt has become an alarm."""
    return len({c.family for _, c in sounds if c.name == name}) > 1


def seen(kind: str, profile: Profile, day: Day, entries: Sequence[Numbered], knowledge: Knowledge | None) -> Seen:
    """One roast gone through."""
    ear = Ear()
    gone = walk(Coach(profile, day.header, knowledge), entries, each=ear)
    return Seen(
        kind,
        tuple((t, c.name, c.priority, c.family) for t, c in ear.sounds),
        judged(gone.record.episodes, gone.roast, profile),
        (*filter(None, [missed_window(gone.roast, profile)]), *(came(day, profile) if kind in SCENARIOS else ())),
        tuple(breaches(gone, ear.sounds)),
    )


def workshop_seen(job: tuple[int, int, int, int]) -> list[Seen]:
    """All live roasts of one workshop."""
    seed, number, earlier, live = job
    kind = KINDS[number % 3]
    made = workshop(seed, number, earlier, live, 2.0 if kind == "varied" else 1.0, None if kind == "varied" else 30.0)
    if made is None:
        return []
    knowledge = from_roasts(made.profile, [d.roast for d in made.earlier]) if earlier else None
    rng = np.random.default_rng([seed, 7, number])
    out = []
    for day in made.live:
        entries = noisy(day, rng) if kind == "noisy" else day.entries
        out.append(seen(kind, made.profile, day, entries, knowledge))
    return out


def report(name: str, roasts: list[Seen]) -> None:
    """Print the figures of some roasts."""
    counts = [len(r.sounds) for r in roasts]
    unplanned = [sum(1 for s in r.sounds if s[3] == "alarm") for r in roasts]
    ten = [max((sum(1 for u in r.sounds if s[0] <= u[0] < s[0] + 600) for s in r.sounds), default=0) for r in roasts]
    gaps = [b[0] - a[0] for r in roasts for a, b in pairwise(r.sounds)]
    wrong = [x for r in roasts for x in r.breaches]
    print(f"{name}: {len(roasts)} roasts")
    print(f"  sounds a roast: median {median(counts):.0f}, most {max(counts)}")
    print(f"  most in any ten minutes {max(ten)} (limit 10)")
    print(
        f"  unplanned (alarms) a roast: median {median(unplanned):.0f} (limit 2), mean {np.mean(unplanned):.2f},"
        f" nine in ten {np.quantile(unplanned, 0.9):.0f}, most {max(unplanned)}"
    )
    print(f"  shortest time between two sounds {min(gaps):.1f} s (limit 5)")
    print(f"  breaches of the rules: {len(wrong)}" + "".join(f"\n    {w}" for w in wrong[:10]))


def by_cue(roasts: list[Seen]) -> None:
    """Print each cue's sounds and outcomes."""
    print(
        "  cue                sounds  episodes  " + "  ".join(f"{o:>14}" for o in OUTCOMES) + "   right   lead of right"
    )
    for name in CUES:
        lines = [x for r in roasts for x in r.ledger if x.cue == name and x.counts]
        if not lines:
            continue
        found = Counter(x.outcome for x in lines)
        scored = found["useful"] + found["late"] + found["false"]
        leads = [x.lead for x in lines if x.outcome == "useful" and x.lead is not None]
        print(
            f"  {name:18} {sum(x.heard for x in lines):6}  {len(lines):8}  "
            + "  ".join(f"{found[o]:14}" for o in OUTCOMES)
            + f"   {found['useful'] / scored if scored else float('nan'):5.2f}"
            + (f"   {median(leads):.0f} s" if leads else "")
        )
    mix = Counter(s[2] for r in roasts for s in r.sounds if s[3] == "alarm")
    total = max(sum(mix.values()), 1)
    shares = ", ".join(f"{p} {100 * mix[p] / total:.0f} %" for p in ("high", "medium", "low"))
    print(f"  alarms by priority: {shares} (the standard's split, high to low: 5, 15, 80 %)")
    real = Counter(m for r in roasts for m in r.missed)
    for cue in ("crack early", "crack late"):
        warned = sum(1 for r in roasts if cue in r.missed and any(s[1] == cue for s in r.sounds))
        print(f"  {real[cue]} roasts with crack outside its window on the side of '{cue}', {warned} of them warned of")


def wrong_seen(job: tuple[int, int, int, int]) -> list[Seen]:
    """What goes wrong after the crack, in one workshop, in each way."""
    seed, number, earlier, each = job
    made = workshop(seed, number, earlier, 1)
    if made is None:
        return []
    knowledge = from_roasts(made.profile, [d.roast for d in made.earlier]) if earlier else None
    rng = np.random.default_rng([seed, 8, number])
    return [
        seen(name, made.profile, day, day.entries, knowledge)
        for name in SCENARIOS
        for day in gone_wrong(made, name, each, rng)
    ]


def after_crack(found: list[Seen]) -> None:
    """Print how 'stalling' and 'racing' did, by what went wrong."""
    print(f"\n{'':30}roasts" + "".join(f"   {c}: came  warned  right  false  unknown" for c in ("stalling", "racing")))
    for name in (*SCENARIOS, "all"):
        mine = [r for r in found if name in (r.kind, "all")]
        line = f"{name:30}{len(mine):6}"
        for cue in ("stalling", "racing"):
            real = [r for r in mine if cue in r.missed]
            warned = sum(1 for r in real if any(s[1] == cue for s in r.sounds))
            out = Counter(x.outcome for r in mine for x in r.ledger if x.cue == cue and x.counts and x.heard)
            good = out["useful"] + out["late"]
            line += (
                f"   {len(real):14}  {warned:6}  {good:5}  {out['false']:5}  {out['unknown'] + out['already acting']:7}"
            )
        print(line)


def main() -> None:
    """Print all figures."""
    numbers = [int(a) for a in sys.argv[1:] if not a.startswith("--")]
    seed = DEVELOPMENT if "--development" in sys.argv else REPORT
    count, earlier, processes = [*numbers, *(210, 6, 1)[len(numbers) :]]
    processes = min(processes, 2)
    jobs = [(seed, w, earlier, 5) for w in range(-(-count // 5))]
    print(f"workshops of seed {seed}")
    wrong = "--after-crack" in sys.argv
    if wrong:  # one roast of each kind in each workshop
        jobs = [(seed, w, earlier, 1) for w in range(-(-count // len(SCENARIOS)))]
    work = wrong_seen if wrong else workshop_seen
    if processes > 1:
        with ProcessPoolExecutor(processes) as pool:
            found = [s for part in pool.map(work, jobs) for s in part]
    else:
        found = [s for job in jobs for s in work(job)]
    if wrong:
        report("gone wrong after the crack", found)
        by_cue(found)
        after_crack(found)
        return
    for kind in KINDS:
        mine = [s for s in found if s.kind == kind]
        if mine:
            report(kind, mine)
    report("all", found)
    by_cue(found)


if __name__ == "__main__":
    main()
