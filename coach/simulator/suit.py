"""Adaptation of a machine of the simulator to a profile of a roaster that nobody has fitted yet.

Two things are chosen: the burner's heat, so that who follows the plan reads the profile's crack temperature at its
crack time; and the crack temperature of the lot, so that it cracks there.  Everything else stays as the machine has
it: the curve between is the simulator's, not the roaster's own.  A fit to one's own roasts does better.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from coach.roast.curve import crossing
from coach.roast.profile import Profile
from coach.simulator.batch import simulate_many
from coach.simulator.beans import Beans
from coach.simulator.crack import crack_drive
from coach.simulator.fit import WARMING, FitSheet, fitting_ranges, run_of, with_plan
from coach.simulator.machine import DemoMove, Machine
from coach.simulator.roaster import SimulatedRoaster

FACTORS: Final = np.geomspace(0.3, 3.0, 41)
"""Factors on the machine's own heat that are tried."""
LOWEST, HIGHEST = 180.0, 212.0
"""Range of a lot's crack temperature that is believed [°C in the bean] (own)."""


def suited(machine: Machine, beans: Beans, profile: Profile) -> tuple[Machine, Beans] | None:
    """Machine and lot on which the profile's plan leads to its crack; None if none of that build can.

    The machine bears the name that the profile gives, and has the profile's plan as its demo plan.
    """
    goal = profile.goals.get("first crack")
    sheet = _sheet(profile, machine)
    if goal is None or sheet is None:
        return None
    try:
        wide = fitting_ranges(machine, [sheet])
    except ValueError:
        return None
    metal = profile.charge_temperature + _metal_above_dial(wide, beans)
    many = simulate_many([run_of(_heated(wide, f), beans, sheet, metal) for f in FACTORS], np.ceil(goal.time) + 1.0)
    reached = np.array([np.interp(goal.time, many.times, probe) for probe in many.probe])
    factor = crossing(FACTORS, reached, goal.temperature)
    if factor is None:
        return None
    hot = _heated(wide, factor)
    many = simulate_many([run_of(hot, beans, sheet, metal)], goal.time)
    onset = float(crack_drive(bean=many.bean[:, -1], moisture=many.moisture[:, -1])[0])
    if not LOWEST <= onset <= HIGHEST:
        return None
    named = hot.model_copy(
        update={
            "name": profile.document.machine or f"like {machine.name}",
            "maker": "suited",
            "note": f"like {machine.name}, suited to the profile {profile.name}",
        }
    )
    return with_plan(named, beans, sheet, metal), beans.cracking_at(onset)


def _sheet(profile: Profile, machine: Machine) -> FitSheet | None:
    """The plan in the shape of a roast; None without a gas setting at the charge."""
    first = {s.control: s.value for s in reversed(profile.steps) if s.time <= 5.0}
    if "gas" not in first:
        return None
    moves = tuple(DemoMove(at=s.time, control=s.control, value=s.value) for s in profile.steps if s.time > 5.0)
    return FitSheet(
        np.array([profile.drop_time]), np.array([profile.drop_temperature]), profile.charge_temperature, first["gas"],
        first.get("air", machine.air.usual), tuple(m for m in moves if m.control in ("gas", "air")),
        profile.document.batch_kg or machine.demo_plan.batch_kg, profile.drop_time,
    )  # fmt: skip


def _heated(machine: Machine, factor: float) -> Machine:
    burner = machine.burner.model_copy(update={"full_heat": float(machine.burner.full_heat * factor)})
    return machine.model_copy(update={"burner": burner})


def _metal_above_dial(machine: Machine, beans: Beans) -> float:
    """Drum metal less dial when this machine is charged by its demo plan [K]."""
    roaster = SimulatedRoaster(machine, beans, probe_noise=0.0)
    roaster.advance(WARMING)
    return roaster.state.metal - roaster.probe
