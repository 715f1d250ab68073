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
from coach.simulator.batch import Run, simulate_many
from coach.simulator.beans import Beans
from coach.simulator.crack import crack_drive
from coach.simulator.fit import FitSheet, fitting_ranges
from coach.simulator.machine import DemoMove, Machine
from coach.simulator.roaster import SimulatedRoaster

FACTORS: Final = np.geomspace(0.3, 3.0, 41)
"""Factors on the machine's own heat that are tried."""
LOWEST, HIGHEST = 180.0, 212.0
"""Range of a lot's crack temperature that is believed [°C in the bean] (own)."""
WARMING: Final = 60.0
"""Time from the start until the drum is as hot as at the charge [s]."""


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
    runs = [_run(_heated(wide, float(f)), beans, sheet, metal, profile.charge_temperature) for f in FACTORS]
    many = simulate_many(runs, np.ceil(goal.time) + 1.0)
    reached = np.array([np.interp(goal.time, many.times, probe) for probe in many.probe])
    factor = crossing(FACTORS, reached, goal.temperature)
    if factor is None:
        return None
    hot = _heated(wide, factor)
    many = simulate_many([_run(hot, beans, sheet, metal, profile.charge_temperature)], goal.time)
    drive = float(crack_drive(bean=many.bean[:, -1], moisture=many.moisture)[0])
    if not LOWEST <= drive <= HIGHEST:
        return None
    shift = drive - beans.first.onset
    lot = beans.model_copy(
        update={
            "first": beans.first.model_copy(update={"onset": drive}),
            "second": beans.second.model_copy(update={"onset": min(beans.second.onset + shift, 250.0)}),
        }
    )
    return _with_plan(hot, sheet, metal, profile), lot


def _sheet(profile: Profile, machine: Machine) -> FitSheet | None:
    """The plan in the shape of a roast; None without a gas setting at the charge."""
    first = {s.control: s.value for s in reversed(profile.steps) if s.time <= 5.0}
    if "gas" not in first:
        return None
    moves = tuple(DemoMove(at=s.time, control=s.control, value=s.value) for s in profile.steps if s.time > 5.0)
    nothing = np.zeros(0)
    return FitSheet(
        nothing, nothing, profile.charge_temperature, first["gas"], first.get("air", machine.air.usual),
        tuple(m for m in moves if m.control in ("gas", "air")),
        profile.document.batch_kg or machine.demo_plan.batch_kg, profile.drop_time,
    )  # fmt: skip


def _run(machine: Machine, beans: Beans, sheet: FitSheet, metal: float, probe: float) -> Run:
    return Run(
        machine, beans, batch_kg=sheet.batch_kg, metal=metal, probe=probe, gas=sheet.gas, air=sheet.air,
        drum=machine.demo_plan.drum, moves=sheet.moves,
    )  # fmt: skip


def _heated(machine: Machine, factor: float) -> Machine:
    burner = machine.burner.model_copy(update={"full_heat": machine.burner.full_heat * factor})
    return machine.model_copy(update={"burner": burner})


def _metal_above_dial(machine: Machine, beans: Beans) -> float:
    """Drum metal less dial when this machine is charged by its demo plan [K]."""
    roaster = SimulatedRoaster(machine, beans, probe_noise=0.0)
    roaster.advance(WARMING)
    return roaster.state.metal - roaster.probe


def _with_plan(machine: Machine, sheet: FitSheet, metal: float, profile: Profile) -> Machine:
    soak = metal
    at_rest = metal
    for _ in range(4):
        roaster = SimulatedRoaster(machine, drum_soak=soak, gas=sheet.gas, air=sheet.air)
        at_rest = roaster.probe
        roaster.advance(WARMING)
        soak += metal - roaster.state.metal
    table = machine.model_dump()
    table["demo_plan"].update(
        batch_kg=sheet.batch_kg, soak=min(max(soak, 100.0), 300.0), charge_temperature=round(at_rest), gas=sheet.gas,
        air=sheet.air, moves=[m.model_dump() for m in sheet.moves], drop_time=sheet.drop,
        drop_temperature=round(profile.drop_temperature),
    )  # fmt: skip
    name = profile.document.machine or f"like {machine.name}"
    table.update(name=name, maker="suited", note=f"like {machine.name}, suited to the profile {profile.name}")
    return Machine.model_validate(table)
