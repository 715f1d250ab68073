"""One simulated day roasted by the plan, and the same day over again with other moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from workshops import Weather, Workshop

from coach.roast.curve import crossing
from coach.roast.entries import Entry, Header
from coach.roast.roast import Numbered, Roast, effective, fold
from coach.simulator.batch import Run, simulate_many
from coach.simulator.beans import Beans
from coach.simulator.crack import crack_drive
from coach.simulator.machine import DemoMove
from coach.simulator.person import Person, Recipe, recipe_of_profile
from coach.simulator.physics import KELVIN

CHARGE = 60.0
DEVELOPMENT = 90.0
LONGEST = 1100.0


@dataclass(frozen=True)
class Outcome:
    """One roast: the error of its crack against the plan (s), when it was called (roast time, s), the day as it was at
    charge, and every move that was made."""

    crack: float
    called: float
    start: Run
    made: tuple[DemoMove, ...]


def recipe_of(w: Workshop) -> Recipe:
    """The profile's moves: the person follows the profile, whatever the days before it were like."""
    return replace(recipe_of_profile(w.profile), charge_at=CHARGE, charge_temperature=None, development=DEVELOPMENT)


def roast(w: Workshop, weather: Weather, seed: int) -> Outcome | None:
    """One day; None where it is not roasted to the end."""
    roaster = weather.roaster(w.machine, w.beans)
    person = Person(w.habits, recipe_of(w), np.random.default_rng(seed))
    entries: list[Entry] = []
    t = CHARGE - 5.0
    while "drop" not in person.marks and t < CHARGE + LONGEST:
        roaster.advance(t)
        entries += person.second(t, roaster)
        t += 1.0
    truth = roaster.truth
    if "drop" not in person.marks or truth.first_crack is None:
        return None
    header = Header(id="d", unit=w.habits.unit, started="2026-01-01T08:00:00+00:00")
    folded: Roast = fold(header, effective([Numbered(i + 2, e) for i, e in enumerate(entries)]))
    called = person.marks["first crack"] - CHARGE
    inside = [x for x in roaster.history if x.time >= CHARGE]
    demo = w.machine.demo_plan
    start = Run(
        w.machine, shifted(w.beans, weather.shift), weather.batch, inside[0].state.metal, demo.gas, demo.air, demo.drum,
        probe=inside[0].state.probe, ambient=weather.ambient, moisture=weather.moisture,
        gas_supply=weather.supply,
    )  # fmt: skip
    made = tuple(DemoMove(at=max(m.t, 0.0), control=m.control, value=m.value) for m in folded.moves)
    return Outcome(called - w.profile.goals["first crack"].time, called, start, made)


def again(start: Run, moves: Sequence[tuple[DemoMove, ...]], until: float) -> NDArray[np.float64]:
    """The true onset of crack (roast time, s) of a day for each list of moves; NaN where it does not come by then."""
    found = simulate_many([replace(start, moves=m) for m in moves], until)
    drive = crack_drive(bean=np.maximum(found.bean, 120.0), moisture=found.moisture)
    hottest = np.maximum.accumulate(np.where(found.bean > 120.0, drive, -KELVIN), axis=1)
    came = [crossing(found.times, x, start.beans.first.onset) for x in hottest]
    return np.array([np.nan if t is None else t for t in came])


def shifted(beans: Beans, shift: float) -> Beans:
    """The lot, its first crack that much hotter [K]."""
    first = beans.first.model_copy(update={"onset": beans.first.onset + shift})
    return beans.model_copy(update={"first": first})
