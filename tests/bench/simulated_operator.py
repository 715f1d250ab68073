"""A whole roast by the simulated person, without a screen: the entries of a journal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from coach.roast.entries import Entry
from coach.roast.units import Control
from coach.simulator.habits import Habits, mistyped
from coach.simulator.machine import Machine
from coach.simulator.person import LIFT, BareHands, Person
from coach.simulator.recipe import Step, recipe_of_machine
from coach.simulator.roaster import SimulatedRoaster

__all__ = ["Habits", "mistyped", "roast_once"]

CHARGE_AT = 60.0
"""Seconds from the start to the charge."""
LONGEST = 1100.0
"""Seconds after charge at which the person gives up."""


def roast_once(
    machine: Machine,
    roaster: SimulatedRoaster,
    habits: Habits,
    rng: np.random.Generator,
    extra: Sequence[tuple[float, Control, float]] = (),
) -> list[Entry]:
    """The entries of one roast, charge at 60 s, in the order of ``at``; ``extra`` moves, made on time: (roast time,
    control, value in kPa or on the dial)."""
    recipe = recipe_of_machine(machine, charge_at=CHARGE_AT)
    recipe = replace(recipe, exact=tuple(Step(t, control, value) for t, control, value in extra))
    person, hands = Person(habits, recipe, rng), BareHands(roaster)
    out: list[Entry] = []
    t = CHARGE_AT - LIFT
    while t <= CHARGE_AT + LONGEST and "drop" not in person.marks:
        roaster.advance(t)
        out += person.second(t, hands)
        t += 1.0
    return sorted(out, key=lambda e: e.at)
