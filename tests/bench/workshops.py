"""Simulated workshops for the benchmarks: a machine, a probe, a coffee, a plan, and days that differ.

The estimator sees the entries and nothing else.  Machines, lots and plans are drawn around the four shipped ones; what
differs from day to day, and by how much, stands in ``_day``.  ``size`` multiplies the days' differences.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from simulated_operator import Habits, roast_once

from coach.forecast.knowledge import Knowledge
from coach.forecast.learning import HISTORY, from_lessons, lesson, usable
from coach.logbook.adopt import AdoptOptions, adopt
from coach.roast.entries import Entry, Header, Move, Reading
from coach.roast.profile import Profile
from coach.roast.roast import Numbered, Roast, effective, fold
from coach.roast.units import Control, from_celsius
from coach.session.profile_files import names_in
from coach.simulator.beans import LOTS, Beans, load_beans
from coach.simulator.machine import Machine, load_machine, machine_names
from coach.simulator.roaster import SimulatedRoaster

DEVELOPMENT = 11
"""Seed of the workshops that the priors and rules were made on."""
REPORT = 20261
"""Seed of the workshops that are reported: nothing was chosen by looking at them."""


@dataclass(frozen=True)
class Day:
    """One live roast: its entries in the order typed, their fold, and what nobody sees: the way of the dial
    without its flicker (roast time s, °C; (n,) each) when the crack truly began and
    when beans popped (roast time, s)."""

    header: Header
    entries: tuple[Numbered, ...]
    roast: Roast
    times: NDArray[np.float64]
    probe: NDArray[np.float64]
    onset: float
    pops: tuple[float, ...] = ()


@dataclass(frozen=True)
class Workshop:
    """One person's place: the proven roast as a profile, the days before and the days to be forecast."""

    profile: Profile
    earlier: list[Day]
    live: list[Day]
    machine: Machine
    beans: Beans
    habits: Habits


def from_roasts(profile: Profile, roasts: Sequence[Roast]) -> Knowledge:
    """Knowledge from earlier roasts (oldest first), of those that can and may serve as evidence."""
    counted = [r for r in roasts if r.teaches and usable(r)][-HISTORY:]
    return from_lessons(profile, [lesson(profile, r) for r in counted])


@dataclass(frozen=True)
class Weather:
    """What differs from day to day and nobody logs."""

    seed: int
    batch: float
    ambient: float
    soak: float
    moisture: float
    supply: float
    offset: float
    shift: float

    @classmethod
    def draw(cls, machine: Machine, beans: Beans, rng: np.random.Generator, size: float) -> Weather:
        """One day, ``size`` times as different as usual."""
        plan = machine.demo_plan
        return cls(
            seed=int(rng.integers(1 << 30)),
            batch=plan.batch_kg * float(1 + size * rng.normal(0, 0.015)),
            ambient=22.0 + size * float(rng.normal(0, 3)),
            soak=plan.soak + size * float(rng.normal(0, 4)),
            moisture=float(np.clip(beans.moisture + size * rng.normal(0, 0.003), 0.07, 0.15)),
            supply=float(np.exp(size * rng.normal(0, 0.02))),
            offset=size * float(rng.normal(0, 0.3)),
            shift=size * float(rng.normal(0, 0.7)),
        )

    def roaster(self, machine: Machine, beans: Beans) -> SimulatedRoaster:
        """The roaster as it is on that day."""
        return SimulatedRoaster(
            machine, beans, seed=self.seed, batch_kg=self.batch, ambient=self.ambient, drum_soak=self.soak,
            moisture=self.moisture, gas_supply=self.supply, probe_offset=self.offset, crack_shift=self.shift,
        )  # fmt: skip


def _around(rng: np.random.Generator, sd: float) -> float:
    return float(np.exp(rng.normal(0, sd)))


def _machine(rng: np.random.Generator) -> Machine:
    names = machine_names()
    table = load_machine(names[int(rng.integers(len(names)))]).model_dump()
    for part, name, sd in (
        ("drum", "metal", 0.2),
        ("drum", "contact", 0.08),
        ("drum", "jacket", 0.06),
        ("drum", "airborne", 0.08),
        ("drum", "loss", 0.2),
        ("burner", "full_heat", 0.05),
        ("burner", "lag", 0.3),
        ("probe", "lag", 0.35),
        ("probe", "gas_share", 0.3),
    ):
        table[part][name] *= _around(rng, sd)
    table["probe"]["lag"] = min(table["probe"]["lag"], 88.0)  # the model holds no slower one
    _vary(table, rng)
    return Machine.model_validate(table)


def _vary(table: dict[str, Any], rng: np.random.Generator, gas: float = 1.0) -> None:
    """Draw a machine's plan anew, about ``gas`` times the gas that it has."""
    plan, full = table["demo_plan"], table["burner"]["full_pressure"]
    plan["gas"] = min(gas * plan["gas"] * _around(rng, 0.04), full)
    plan["soak"] += float(rng.normal(0, 4))
    for move in plan["moves"]:
        move["at"] = max(move["at"] + float(rng.normal(0, 20)), 60.0)
        if move["control"] == "gas":
            move["value"] = min(gas * move["value"] * _around(rng, 0.06), full)


def _beans(name: str, rng: np.random.Generator) -> Beans:
    table = load_beans(name).model_dump()
    table["size"] *= _around(rng, 0.03)
    table["exotherm"] = min(table["exotherm"] * _around(rng, 0.3), 230.0)
    table["organic"] *= _around(rng, 0.15)
    table["moisture"] = float(np.clip(table["moisture"] + rng.normal(0, 0.006), 0.08, 0.14))
    table["first"]["onset"] += float(rng.normal(0, 2.0))
    table["first"]["spread"] *= _around(rng, 0.2)
    return Beans.model_validate(table)


def _other_day(machine: Machine, rng: np.random.Generator, size: float) -> Machine:
    """The plan as it is really made on a day: moves late by half a minute at times, and now and then left out."""
    table = machine.model_dump()
    kept = []
    for move in table["demo_plan"]["moves"]:
        if rng.random() < 0.06 * size:
            continue
        if rng.random() < 0.15 * size:
            move["at"] += float(rng.uniform(10, 40))
        kept.append(move)
    table["demo_plan"]["moves"] = kept
    return Machine.model_validate(table)


def _day(
    machine: Machine,
    beans: Beans,
    rng: np.random.Generator,
    habits: Habits,
    size: float,
    number: int,
    profile: Profile | None = None,
) -> Day | None:
    today = _other_day(machine, rng, size)
    weather = Weather.draw(machine, beans, rng, size)
    seed = int(rng.integers(1 << 30))
    corrects, looks, whim = rng.random() < 0.5, float(rng.uniform(200, 420)), size * float(rng.normal(0, 0.06))

    def roast(extra: list[tuple[float, Control, float]]) -> tuple[SimulatedRoaster, list[Entry]]:
        roaster = weather.roaster(machine, beans)
        return roaster, roast_once(today, roaster, habits, np.random.default_rng(seed), extra)

    roaster, entries = roast([])
    charge = roaster.truth.charge or 0.0
    if profile is not None and corrects:  # the person looks once how far off it is, and corrects the gas by feel
        seen = next((s.state.probe for s in roaster.history if s.time >= charge + looks), None)
        before = [m.value for m in entries if isinstance(m, Move) and m.control == "gas" and m.at <= charge + looks]
        if seen is not None and before:
            factor = float(np.exp(-0.03 * (seen + weather.offset - profile.curve.value(looks)) + whim))
            gas = min(before[-1] * factor, machine.burner.full_pressure)
            roaster, entries = roast([(looks, "gas", gas)])
    if not any(getattr(e, "event", "") == "drop" for e in entries):
        return None
    if size > 0.5 and rng.random() < 0.15:
        entries = _gap(entries, rng)
    inside = [s for s in roaster.history if s.time >= charge]
    return day_of(
        entries,
        habits.unit,
        number,
        np.array([s.time - charge for s in inside]),
        np.array([s.state.probe + weather.offset for s in inside]),
        (roaster.truth.first_crack or 0.0) - charge,
        tuple(p.time - charge for p in roaster.pops),
    )


def _gap(entries: list[Entry], rng: np.random.Generator) -> list[Entry]:
    """Without the readings of one to three minutes."""
    start = float(rng.uniform(150, 500))
    end = start + float(rng.uniform(60, 180))
    return [e for e in entries if not (isinstance(e, Reading) and start <= e.at <= end)]


def day_of(
    entries: list[Entry],
    unit: str,
    number: int,
    times: NDArray[np.float64] | None = None,
    probe: NDArray[np.float64] | None = None,
    onset: float = 0.0,
    pops: tuple[float, ...] = (),
) -> Day:
    """A day from its entries."""
    header = Header(id=f"day-{number}", unit=unit, started=f"2026-01-{number % 28 + 1:02d}T08:00:00+00:00")  # type: ignore[arg-type]
    numbered = tuple(Numbered(i + 2, e) for i, e in enumerate(entries))
    nothing = np.zeros(0)
    return Day(
        header,
        numbered,
        fold(header, effective(numbered)),
        nothing if times is None else times,
        nothing if probe is None else probe,
        onset,
        pops,
    )


def invented_profile(roast: Roast, name: str) -> Profile:
    """The profile of a simulated roast, with a charge temperature as it was read last and a safety limit that the
    bench states: 15 K above its drop, from 230 to 285 °C."""
    unit, drop = roast.header.unit, roast.marks["drop"]
    hot = max(r.celsius for r in roast.readings if r.t <= drop)
    charge = next((r.celsius for r in reversed(roast.preheat)), 200.0)
    given = AdoptOptions(
        charge=round(from_celsius(charge, unit), 1), safety=round(from_celsius(min(max(hot + 15, 230.0), 285.0), unit)),
        batch_kg=roast.batch_kg or 1.0,
    )  # fmt: skip
    return Profile(adopt(roast, name, given=given).document)


def workshop(
    seed: int, number: int, earlier: int, live: int, size: float = 1.0, every: float | None = 30.0
) -> Workshop | None:
    """One workshop, always the same for the same arguments; None where the recipe drawn doesn't roast.

    ``every``: seconds between readings; None draws it from 15 to 60 for each workshop.
    """
    rng = np.random.default_rng([seed, number])
    for _ in range(20):
        machine = _machine(rng)
        beans = _beans(machine.demo_plan.beans, rng)
        unit: str = "F" if rng.random() < 0.4 else "C"
        interval = float(rng.uniform(15, 60)) if every is None else every
        habits = Habits(unit=unit, every=interval, jitter=interval / 5, typo=0.01, call_sd=float(rng.uniform(1, 3)))  # type: ignore[arg-type]
        found = _roasted(machine, beans, habits, rng, f"workshop {number}", earlier, live, size)
        if found is not None:
            return found
    return None


def second(first: Workshop, seed: int, number: int, earlier: int, live: int) -> Workshop | None:
    """The same machine and person with another profile: another coffee in another weight, and another gas plan."""
    rng = np.random.default_rng([seed, number, 4])
    for _ in range(20):
        table = first.machine.model_dump()
        plan, weight = table["demo_plan"], _around(rng, 0.15)
        weight = min(weight, first.machine.capacity_kg / plan["batch_kg"])
        plan["batch_kg"] *= weight
        _vary(table, rng, weight**1.3)
        names = names_in(LOTS)
        beans = _beans(names[int(rng.integers(len(names)))], rng)
        machine = Machine.model_validate(table)
        found = _roasted(machine, beans, first.habits, rng, f"workshop {number}, second", earlier, live, 1.0)
        if found is not None:
            return found
    return None


def _roasted(machine: Machine, beans: Beans, habits: Habits, rng: np.random.Generator, name: str, earlier: int,
             live: int, size: float) -> Workshop | None:  # fmt: skip
    """The days of one profile; None where its plan doesn't roast."""
    reference = _day(machine, beans, rng, Habits(unit=habits.unit, every=20), 0.3, 0)
    if reference is None or not 390 <= reference.roast.marks["first crack"] <= 780:
        return None
    profile = invented_profile(reference.roast, name)
    days: list[Day] = []
    for tried in range(1, 3 * (earlier + live)):
        day = _day(machine, beans, rng, habits, size, tried, profile)
        if day is not None:
            days.append(day)
        if len(days) == earlier + live:
            break
    return Workshop(profile, days[:earlier], days[earlier:], machine, beans, habits)


def workshops(
    seed: int, count: int, earlier: int, live: int, size: float = 1.0, every: float | None = 30.0
) -> Iterator[tuple[Profile, list[Day], list[Day]]]:
    """(profile, earlier days, live days) of ``count`` workshops."""
    for number in range(count):
        w = workshop(seed, number, earlier, live, size, every)
        if w is not None:
            yield w.profile, w.earlier, w.live
