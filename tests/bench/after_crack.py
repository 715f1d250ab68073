"""Roasts in which the rise dies or runs away after first crack, for the benchmark of cues.

The same day is roasted twice: once as the person would, to see when the crack comes, and once with what goes wrong.
Each scenario changes one thing, by an amount drawn for each roast; what was done is logged in half of the roasts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Final

import numpy as np
from simulated_operator import roast_once
from workshops import Day, Weather, Workshop, day_of

from coach.forecast.projection import rise_limits
from coach.roast.entries import Entry, Move
from coach.roast.profile import Profile
from coach.roast.units import Control
from coach.simulator.roaster import SimulatedRoaster

Extra = list[tuple[float, Control, float]]
Change = Callable[[float, float, float, np.random.Generator], tuple[Extra, float]]
"""From the crack (roast time, s), the gas then and the most there is (kPa): moves, and the factor to the batch."""


def _heat_after(crack: float, gas: float, most: float, rng: np.random.Generator) -> tuple[Extra, float]:
    return [(crack + float(rng.uniform(8, 30)), "gas", min(gas * float(rng.uniform(1.5, 2.2)), most))], 1.0


def _heat_before(crack: float, gas: float, most: float, rng: np.random.Generator) -> tuple[Extra, float]:
    return [(crack - float(rng.uniform(60, 150)), "gas", most * float(rng.uniform(0.85, 1.0)))], 1.0


def _low_before(crack: float, gas: float, most: float, rng: np.random.Generator) -> tuple[Extra, float]:
    return [(crack - float(rng.uniform(40, 120)), "gas", gas * float(rng.uniform(0.15, 0.45)))], 1.0


def _off_at_crack(crack: float, gas: float, most: float, rng: np.random.Generator) -> tuple[Extra, float]:
    return [(crack + float(rng.uniform(2, 20)), "gas", 0.0)], 1.0


def _small_batch(crack: float, gas: float, most: float, rng: np.random.Generator) -> tuple[Extra, float]:
    return [(crack - float(rng.uniform(120, 200)), "gas", most * float(rng.uniform(0.85, 1.0)))], float(
        rng.uniform(0.6, 0.8)
    )


def _large_batch(crack: float, gas: float, most: float, rng: np.random.Generator) -> tuple[Extra, float]:
    return [], float(rng.uniform(1.15, 1.35))


SCENARIOS: Final[dict[str, Change]] = {
    "gas up after crack": _heat_after,
    "gas full before crack": _heat_before,
    "gas left low": _low_before,
    "gas off at crack": _off_at_crack,
    "charged too little, gas full": _small_batch,
    "charged too much": _large_batch,
}


def gone_wrong(made: Workshop, name: str, count: int, rng: np.random.Generator) -> Iterator[Day]:
    """Up to ``count`` roasts of a workshop that go wrong in one way."""
    change, plan = SCENARIOS[name], made.machine.demo_plan
    for n in range(count):
        weather = Weather.draw(made.machine, made.beans, rng, 1.0)
        seed = int(rng.integers(1 << 30))

        def roast(extra: Extra, weather: Weather, seed: int = seed) -> tuple[SimulatedRoaster, list[Entry]]:
            roaster = weather.roaster(made.machine, made.beans)
            return roaster, roast_once(made.machine, roaster, made.habits, np.random.default_rng(seed), extra)

        _, entries = roast([], weather)
        charge, crack = (
            next((e.at for e in entries if getattr(e, "event", "") == event), None)
            for event in ("charge", "first crack")
        )
        if charge is None or crack is None:
            continue
        gas = [e.value for e in entries if isinstance(e, Move) and e.control == "gas" and e.at <= crack]
        now = gas[-1] if gas else plan.gas
        extra, factor = change(crack - charge, now, made.machine.burner.full_pressure, rng)
        roaster, entries = roast(extra, replace(weather, batch=weather.batch * factor))
        if not any(getattr(e, "event", "") == "drop" for e in entries):
            continue
        if extra and rng.random() < 0.5:
            entries = [e for e in entries if not (isinstance(e, Move) and _same(e, extra, charge))]
        inside = [s for s in roaster.history if s.time >= charge]
        times, probe = np.array([s.time - charge for s in inside]), np.array([s.state.probe for s in inside])
        yield day_of(entries, made.habits.unit, n, times, probe)


def came(day: Day, profile: Profile) -> tuple[str, ...]:
    """What came, by the probe's true rise in the last minute before drop."""
    drop = day.roast.marks["drop"]
    then, before = (float(np.interp(t, day.times, day.probe)) for t in (drop, drop - 60.0))
    floor, ceiling = rise_limits(profile)
    rate = (then - before) / 60.0
    return ("stalling",) * (rate < floor) + ("racing",) * (rate > ceiling)


def _same(move: Move, extra: Extra, charge: float) -> bool:
    """Whether a logged move is the one that was added."""
    return any(
        move.control == control and abs(move.at - charge - t) < 3.0 and abs(move.value - value) < 0.05 * max(value, 1.0)
        for t, control, value in extra
    )
