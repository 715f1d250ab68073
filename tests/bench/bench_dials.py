"""The same roasts read off their dials in three ways, on three roasters: whole degrees typed, turns timed, tenths
typed; what earlier roasts bring; and what readings cost the person.

Run: python tests/bench/bench_dials.py [--places 50] [--live 3] [--watched 30] [--seed 71] [--size 1]

Prints, for each roaster and way of reading, with four earlier roasts: error of first crack by lead beside the floor
(somebody who knew the probe's whole way, and not when the beans crack), cover of the 80 % range, CRPS; with none, four
and fourteen on the same days; early cracks warned of, beside that somebody; presses and seconds a roast.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Final

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import sys

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parent))

import other_roaster
import third_roaster
from bench_targets import EARLY, known
from dials import STYLES, Dial, Style, reread
from workshops import Day, Workshop, workshop

from coach.forecast.knowledge import Knowledge
from coach.forecast.learning import Lesson, from_lessons, lesson
from coach.forecast.predictor import Outlook
from coach.forecast.turned_readings import LEAST
from coach.roast.profile import Profile
from coach.roast.roast import Probe, effective, fold
from coach.roast.units import from_celsius, to_celsius
from coach.verification.hindcast import cases

Array = NDArray[np.float64]
LEADS: Final = (150, 120, 90, 60, 30)
AMOUNTS: Final[dict[Style, tuple[int, ...]]] = {"whole": (0, 4), "turned": (0, 4, 14), "tenths": (4,)}
"""How many earlier roasts are learnt from."""
MOST: Final = 14
THRESHOLDS: Final = (0.5, 0.6, 0.7, 0.8)
MAKE: Final[dict[str, Callable[..., Workshop | other_roaster.Place | None]]] = {
    "project": workshop,
    "other": other_roaster.place,
    "third": third_roaster.place,
}
KEYSTROKE: Final = 0.28
READY: Final = 1.35
HOMING: Final = 0.4
"""Seconds of a keystroke, of getting ready for it, and of a hand that goes to the keyboard: the keystroke-level model
(Card, Moran and Newell, The Psychology of Human-Computer Interaction, 1983, chapter 8; the figures from memory)."""


@dataclass(frozen=True)
class Told:
    """Of one live roast: misses (leads,) s, CRPS (leads,) s, whether the 80 % range held (leads,), and misses of the
    floor (leads,), s; nan where nothing was said."""

    off: Array
    crps: Array
    held: Array
    floor: Array


@dataclass(frozen=True)
class Spent:
    """Of one way of asking for readings: how many until the crack, keys pressed, seconds spent, misses (leads,) s."""

    readings: int
    keys: int
    seconds: float
    off: Array


@dataclass(frozen=True)
class Warned:
    """How early a crack came, s (negative: early); the probability of an early one, two forecasts running and at least
    a minute before, at its highest; and the same for somebody who knew the probe's whole way."""

    off: float
    said: float
    known: float


def told(profile: Profile, knowledge: Knowledge, day: Day) -> Told:
    """The forecasts of one day."""
    off, score, held, floor = np.full((4, len(LEADS)), np.nan)
    found = cases(profile, knowledge, day.header, day.entries, (), (day.times, day.probe), crack_leads=LEADS,
                  drop_leads=())  # fmt: skip
    for c in found:
        if c.said is None:
            continue
        i = LEADS.index(c.lead)
        off[i], score[i] = c.said.median - c.happened, c.said.crps
        held[i] = c.said.q10 <= c.happened <= c.said.q90
        floor[i] = c.others.get("floor", np.nan) - c.happened
    return Told(off, score, held, floor)


def warned(w: Workshop, knowledge: Knowledge, day: Day) -> Warned:
    """What was said of an early crack of one day."""
    crack, goal = day.roast.marks["first crack"], w.profile.goals["first crack"].time
    outlook, base = Outlook(w.profile, knowledge, day.roast.rounding), day.roast.charge_at or 0.0
    said = [0.0]
    for t in np.arange(180.0, crack - 60.0, 10.0):
        seen = fold(day.header, effective([n for n in day.entries if n.entry.came <= base + t]))
        _, f = outlook.at(float(t), seen, asking=False)
        said.append(0.0 if f.first_crack is None else f.first_crack.time.cdf(goal - EARLY))
    return Warned(crack - goal, max(min(a, b) for a, b in pairwise([*said, 0.0])), known(w, knowledge, day))


def spent(profile: Profile, knowledge: Knowledge, day: Day, *, turns: bool, asked: bool) -> Spent:
    """A day read when it is asked for, or every 30 s: by turns (watched for from 3 s before, as one is offered), or
    typed 2 to 6 s after it was due."""
    rng = np.random.default_rng([len(day.entries), round(day.onset), turns])
    crack, unit = day.roast.marks["first crack"], day.roast.header.unit
    outlook, dial = Outlook(profile, knowledge, day.roast.rounding), Dial(day, crack + 60.0, rng)
    readings: list[Probe] = []
    off, due, leads, keys, seconds = np.full(len(LEADS), np.nan), 90.0, list(LEADS), 0, 0.0
    while True:
        at, value = due + float(rng.uniform(2, 6)), 0.0
        turn = dial.press(due + LEAST) if turns else None
        if turn is not None and turn.turned:
            at, value = turn.at, turn.temperature
        else:
            at += 20.0 if turns else 0.0
            value = round(from_celsius(float(np.interp(at - 2.0, day.times, day.probe)) + rng.normal(0, 0.15), unit))
        for lead in [x for x in leads if crack - x < at]:  # what is said before the reading that comes next
            leads.remove(lead)
            _, f = outlook.at(crack - lead, replace(day.roast, readings=tuple(readings)).until(crack - lead),
                              asking=False)  # fmt: skip
            if f.first_crack is not None:
                off[LEADS.index(lead)] = f.first_crack.time.median - crack
        if at >= crack:
            return Spent(len(readings), keys, seconds, off)
        timed = turn is not None and turn.turned is True
        readings.append(Probe(at, to_celsius(value, unit), 100 + len(readings), at, value, turned=timed))
        typed = 1 if timed else len(f"{value:.0f}") + 1
        keys += typed
        seconds += READY + HOMING + typed * KEYSTROKE + (at - due if timed else 0.0)
        due = max(due + 30.0, at + 8.0)
        if asked:
            _, f = outlook.at(at, replace(day.roast, readings=tuple(readings)).until(at))
            due = at + 30.0 if f.next_reading is None else max(f.next_reading, at + 8.0)


@dataclass(frozen=True)
class Found:
    """Of one place: what was told by way of reading and number of earlier roasts, warnings by way of reading, and what
    was spent by (turns, asked)."""

    told: dict[tuple[Style, int], list[Told]]
    warned: dict[Style, list[Warned]]
    spent: dict[tuple[bool, bool], list[Spent]]


def one(roaster: str, seed: int, size: float, number: int, live: int, watched: bool) -> Found | None:
    """One place, whose days differ ``size`` times as much as usual."""
    w = MAKE[roaster](seed, number, MOST, live, size)
    if w is None or len(w.live) < live:
        return None
    rng = np.random.default_rng([seed, number, 77])
    found = Found({}, {}, {})
    for style in STYLES:
        days = w.live if style == "whole" else [reread(d, style, rng) for d in w.live]
        earlier = w.earlier if style == "whole" else [reread(d, style, rng) for d in w.earlier]
        lessons = [lesson(w.profile, d.roast) for d in earlier[MOST - max(AMOUNTS[style]) :]]
        for n in AMOUNTS[style]:
            knowledge = _after(w.profile, lessons, n)
            found.told[style, n] = [told(w.profile, knowledge, d) for d in days]
        if watched and style != "tenths":
            knowledge = _after(w.profile, lessons, 4)
            found.warned[style] = [warned(w, knowledge, d) for d in days]  # type: ignore[arg-type]
            for asked in (False, True):
                turns = style == "turned"
                found.spent[turns, asked] = [
                    spent(w.profile, knowledge, d, turns=turns, asked=asked) for d in days
                ]  # fmt: skip
    return found


def _after(profile: Profile, lessons: list[Lesson], count: int) -> Knowledge:
    return from_lessons(profile, lessons[len(lessons) - count :])


def _row(x: Array) -> str:
    return " ".join(f"{v:6.2f}" for v in x)


def show(found: list[Found]) -> None:
    """The tables of one roaster."""
    print("with four earlier roasts     " + " ".join(f"{lead:4d} s" for lead in LEADS))
    for style in STYLES:
        rows = [r for f in found for r in f.told[style, 4]]
        miss, floor = (np.abs(np.array([getattr(r, x) for r in rows])) for x in ("off", "floor"))
        floor[np.isnan(miss)] = np.nan
        mean, best = np.nanmean(miss, axis=0), np.nanmean(floor, axis=0)
        print(f"{style:7s} miss, s             {_row(mean)}")
        print(f"{style:7s} of the floor        {_row(mean / best)}   floor {best.mean():.2f} s")
        print(f"{style:7s} inside 80 %         {_row(np.nanmean([r.held for r in rows], axis=0))}")
        print(f"{style:7s} CRPS, s             {_row(np.nanmean([r.crps for r in rows], axis=0))}", flush=True)
    for style in ("whole", "turned"):
        for n in AMOUNTS[style]:
            change = [np.array([np.abs(a.off) - np.abs(b.off) for a, b in zip(f.told[style, n], f.told[style, 0],
                      strict=True)]) for f in found]  # fmt: skip
            by_place = np.array([np.nanmean(c, axis=0) for c in change])
            unsure = np.nanstd(by_place, axis=0) / np.sqrt(len(by_place))
            miss = np.nanmean([np.abs(r.off) for f in found for r in f.told[style, n]], axis=0)
            print(f"{style:7s} {n:2d} earlier: miss    {_row(miss)}")
            if n:
                print(f"        against none         {_row(np.nanmean(by_place, axis=0))}")
                print(f"        standard error       {_row(unsure)}", flush=True)
    if not any(f.warned for f in found):
        return
    for style in ("whole", "turned"):
        days = [d for f in found for d in f.warned.get(style, [])]
        early = sum(d.off < -EARLY for d in days)
        for p in THRESHOLDS:
            mine, best = ([d.off for d in days if getattr(d, x) >= p] for x in ("said", "known"))
            hit, other = (sum(off < -EARLY for off in offs) for offs in (mine, best))
            print(f"{style:7s} early cracks, p {p}: warned of {hit} of {early}, {len(mine)} warnings; knowing the "
                  f"probe's way {other}, {len(best)} warnings")  # fmt: skip
    for turns, asked in ((False, False), (False, True), (True, False), (True, True)):
        all_spent = [s for f in found for s in f.spent.get((turns, asked), [])]
        counts = np.array([(s.readings, s.keys, s.seconds) for s in all_spent]).mean(axis=0)
        miss = np.nanmean(np.abs([s.off for s in all_spent]), axis=0)
        how = f"{'turned' if turns else 'typed ':6s} {'when asked' if asked else 'every 30 s'}"
        print(f"{how}: {counts[0]:.1f} readings, {counts[1]:.1f} keys, {counts[2]:.0f} s of attention until the crack; "
              f"miss {_row(miss)}")  # fmt: skip


def main() -> None:
    """Run and print."""
    p = argparse.ArgumentParser()
    p.add_argument("--places", type=int, default=50)
    p.add_argument("--live", type=int, default=3)
    p.add_argument("--watched", type=int, default=30, help="places for warnings and for what is spent")
    p.add_argument("--seed", type=int, default=71)
    p.add_argument("--size", type=float, default=1.0, help="how much the days differ, times as much as usual")
    p.add_argument("--roasters", nargs="*", choices=list(MAKE), default=list(MAKE))
    a = p.parse_args()
    t0 = time.perf_counter()
    for roaster in a.roasters:
        job = partial(one, roaster, a.seed, a.size)
        found = [f for n in range(a.places) if (f := job(n, a.live, n < a.watched)) is not None]
        print(f"\n== {roaster}: {len(found)} places, {a.live} roasts each, seed {a.seed}, days x {a.size:g}; "
              f"{time.perf_counter() - t0:.0f} s in all")  # fmt: skip
        show(found)


if __name__ == "__main__":
    main()
