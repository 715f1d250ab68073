"""A whole roast by the simulated person, without a screen: the entries of a journal."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from coach.roast.entries import Entry
from coach.roast.profile import Step
from coach.roast.units import Control
from coach.simulator.batch import Run
from coach.simulator.beans import Beans
from coach.simulator.machine import Machine
from coach.simulator.person import LIFT, Habits, Person, Recipe, mistyped
from coach.simulator.roaster import SimulatedRoaster

__all__ = ["Habits", "mistyped", "roast_once", "run_of"]

CHARGE_AT = 60.0
"""Seconds from the start to the charge."""
LONGEST = 1100.0
"""Seconds after charge at which the person gives up."""


def recipe_of_machine(machine: Machine, *, charge_at: float) -> Recipe:
    """The machine's demo plan, charged at a time (s since the roaster's start)."""
    steps = tuple(Step(m.control, m.value, m.value, m.at) for m in machine.demo_plan.moves)
    return Recipe(steps, development=90.0, charge_at=charge_at)


def run_of(machine: Machine, beans: Beans) -> Run:
    """The machine's demo plan as a run."""
    plan = machine.demo_plan
    return Run(machine, beans, batch_kg=plan.batch_kg, metal=plan.soak, gas=plan.gas, air=plan.air, drum=plan.drum,
               moves=plan.moves)  # fmt: skip


def roast_once(
    machine: Machine,
    roaster: SimulatedRoaster,
    habits: Habits,
    rng: np.random.Generator,
    extra: Sequence[tuple[float, Control, float]] = (),
) -> list[Entry]:
    """The entries of one roast, charge at 60 s, in the order of ``at``; ``extra`` moves, made on time: (roast time,
    control, value in kPa or on the dial)."""
    person = Person(habits, recipe_of_machine(machine, charge_at=CHARGE_AT), rng)
    coming = sorted(extra)
    out: list[Entry] = []
    t = CHARGE_AT - LIFT
    while t <= CHARGE_AT + LONGEST and "drop" not in person.marks:
        roaster.advance(t)
        while person.charged is not None and coming and person.charged + coming[0][0] <= t:
            _, control, value = coming.pop(0)
            roaster.set(control, value)
            out.append(person.move(t, control, value))
        out += person.second(t, roaster)
        t += 1.0
    return sorted(out, key=lambda e: e.at)
