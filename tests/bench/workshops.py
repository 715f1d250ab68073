"""Simulated workshops for the benchmarks: a machine, a coffee and days that differ.  The estimator sees none of it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from coach.adopt import adopt
from coach.entries import Entry, Header
from coach.profile import Profile
from coach.roast import Numbered, Roast, effective, fold
from coach.simulator.machine import Machine, load_machine
from coach.simulator.operator import Habits, roast_once
from coach.simulator.roaster import SimulatedRoaster


@dataclass(frozen=True)
class Day:
    """One live roast: its entries in the order typed and their fold."""

    header: Header
    entries: tuple[Numbered, ...]
    roast: Roast


def _machine(rng: np.random.Generator) -> Machine:
    table = load_machine("brambleforge-1").model_dump()
    for part, name, sd in (
        ("drum", "metal", 0.2),
        ("drum", "contact", 0.06),
        ("drum", "jacket", 0.06),
        ("burner", "full_heat", 0.04),
        ("burner", "lag", 0.3),
        ("probe", "lag", 0.3),
    ):
        table[part][name] *= float(np.exp(rng.normal(0, sd)))
    return Machine.model_validate(table)


def _day(machine: Machine, rng: np.random.Generator, habits: Habits, size: float, number: int) -> Day | None:
    plan = machine.demo_plan
    roaster = SimulatedRoaster(
        machine,
        seed=int(rng.integers(1 << 30)),
        batch_kg=plan.batch_kg * float(1 + size * rng.normal(0, 0.015)),
        ambient=22.0 + size * float(rng.normal(0, 3)),
        drum_soak=plan.soak + size * float(rng.normal(0, 4)),
        moisture=float(np.clip(0.108 + size * rng.normal(0, 0.003), 0.08, 0.14)),
        gas_supply=float(np.exp(size * rng.normal(0, 0.02))),
        probe_offset=size * float(rng.normal(0, 0.3)),
        crack_shift=size * float(rng.normal(0, 0.7)),
    )
    extra = []
    if rng.random() < 0.5 * min(size, 1.0):
        extra.append((float(rng.uniform(200, 420)), "gas", plan.gas * float(np.exp(rng.normal(0, 0.2 * size)))))
    entries = roast_once(machine, roaster, habits, rng, extra)
    if not any(getattr(e, "event", "") == "drop" for e in entries):
        return None
    return day_of(entries, habits.unit, number)


def day_of(entries: list[Entry], unit: str, number: int) -> Day:
    """A day from its entries."""
    header = Header(id=f"day-{number}", unit=unit, started=f"2026-01-{number % 28 + 1:02d}T08:00:00+00:00")  # type: ignore[arg-type]
    numbered = tuple(Numbered(i + 2, e) for i, e in enumerate(entries))
    return Day(header, numbered, fold(header, effective(numbered)))


def workshops(
    seed: int, count: int, earlier: int, live: int, size: float = 1.0
) -> Iterator[tuple[Profile, list[Day], list[Day]]]:
    """(profile, earlier days, live days) of ``count`` workshops."""
    for w in range(count):
        rng = np.random.default_rng([seed, w])
        machine = _machine(rng)
        habits = Habits(unit="F" if rng.random() < 0.4 else "C", typo=0.01, call_sd=float(rng.uniform(1, 3)))
        numbers = itertools.count(1)
        reference = _day(machine, rng, Habits(unit=habits.unit, every=20), 0.3, next(numbers))
        if reference is None:
            continue
        profile = Profile.from_document(adopt(reference.roast, f"workshop {w}"))
        days = [_day(machine, rng, habits, size, next(numbers)) for _ in range(earlier + live)]
        kept = [d for d in days if d is not None]
        yield profile, kept[:earlier], kept[earlier:]
