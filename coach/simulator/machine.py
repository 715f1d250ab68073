"""Machines of the simulator: a drum roaster, loaded from TOML, and how its controls act on the heat flows.

All machines shipped are invented, as is their maker.  No gas flow, metal mass or conductance of a small roaster has
been found in print: the numbers are our own, chosen so that roasts take the published 8 to 12 minutes.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Final, Literal

from pydantic import Field, model_validator

from coach.roast.profile import Frozen
from coach.roast.units import Control
from coach.session.profile_files import find_named, names_in, read_toml
from coach.simulator import physics
from coach.simulator.beans import Beans
from coach.simulator.physics import Conditions

MACHINES: Final = Path(__file__).parent / "machines"
"""Folder of the machines shipped."""


class Burner(Frozen):
    """A gas burner behind a gauge."""

    full_pressure: float = Field(gt=0, le=10)
    """Top of the gauge's working range [kPa]."""
    full_heat: float = Field(gt=0)
    """Heat at that pressure [kW]."""
    lag: float = Field(gt=0, le=60)
    """Time constant of its heat [s]."""
    limit: float = Field(default=290.0, gt=240, le=320)
    """Probe temperature at which the limit switch shuts the gas [°C].  Gas ovens need such an excess temperature limit
    (NFPA 86, EN 746-2; from memory); the number is our own."""


class Drum(Frozen):
    """A steel drum over the burner."""

    metal: float = Field(gt=0)
    """Mass of metal that soaks up heat [kg]."""
    diameter: float = Field(gt=0, le=3)
    """Inner diameter [m]."""
    jacket: float = Field(gt=0)
    """Conductance from flame gas to the outside of the drum at the usual air [kW/K]."""
    contact: float = Field(ge=0)
    """Conductance from drum to beans, full and at the usual speed [kW/K]."""
    airborne: float = Field(gt=0, le=1)
    """Share of the bean surface the gas reaches, full and at the usual speed (published only as a tendency:
    Al-Shemmeri et al. 2023, Food Res. Int. 163:112253)."""
    loss: float = Field(ge=0)
    """Conductance from drum to room [kW/K]."""
    slowest: float = Field(gt=0)
    fastest: float = Field(gt=0)
    usual: float = Field(gt=0)
    """Drum speed [rpm]."""


class Air(Frozen):
    """A fan with a dial."""

    lowest: float
    highest: float
    usual: float
    """Positions of the dial."""
    flow_lowest: float = Field(gt=0)
    flow_highest: float = Field(gt=0)
    """Gas drawn through at either end of the dial [kg/s]; straight between them."""
    stalled: float = Field(gt=0, lt=1)
    """Share of the lowest flow that draught alone keeps up."""

    def flow(self, dial: float) -> float:
        """Gas drawn through [kg/s] at a position of the dial."""
        share = (dial - self.lowest) / (self.highest - self.lowest)
        return self.flow_lowest + share * (self.flow_highest - self.flow_lowest)


class ProbeSpec(Frozen):
    """The bean probe."""

    lag: float = Field(gt=0, le=90)
    """Time constant among beans [s]."""
    empty_lag: float = Field(gt=0, le=180)
    """Time constant in an empty drum [s]."""
    gas_share: float = Field(ge=0, le=1)
    """Share of gas in the temperature that it feels."""


class DemoMove(Frozen):
    """One move of the demo plan."""

    at: float = Field(ge=0)
    """Roast time [s]."""
    control: Literal["gas", "air", "drum"]
    value: float


class DemoPlan(Frozen):
    """An invented recipe that roasts well on this machine with the lot it names."""

    beans: str
    batch_kg: float = Field(gt=0)
    soak: float = Field(ge=100, le=300)
    """Temperature of the drum metal at charge [°C]."""
    charge_temperature: float
    """Probe at charge [°C], to the nearest whole degree."""
    gas: float
    air: float
    drum: float
    """Controls at charge: gas [kPa], air [dial], drum [rpm]."""
    moves: tuple[DemoMove, ...]
    drop_time: float
    """Roast time of the drop [s]."""
    drop_temperature: float
    """Probe at the drop [°C], to the nearest whole degree."""


class Machine(Frozen):
    """One drum roaster."""

    name: str
    maker: str
    note: str = ""
    capacity_kg: float = Field(gt=0)
    burner: Burner
    drum: Drum
    air: Air
    probe: ProbeSpec
    demo_plan: DemoPlan

    @model_validator(mode="after")
    def _plan_fits(self) -> Machine:
        plan = self.demo_plan
        first = [("gas", plan.gas), ("air", plan.air), ("drum", plan.drum)]
        for control, value in first + [(m.control, m.value) for m in plan.moves]:
            low, high = self.range(control)  # type: ignore[arg-type]
            if not low <= value <= high:
                raise ValueError(f"demo plan sets {control} to {value:g}, outside {low:g} to {high:g}")
        return self

    def range(self, control: Control) -> tuple[float, float]:
        """Lowest and highest setting: gas [kPa], air [dial], drum [rpm]."""
        if control == "gas":
            return 0.0, self.burner.full_pressure
        if control == "air":
            return self.air.lowest, self.air.highest
        return self.drum.slowest, self.drum.fastest


def machine_names() -> list[str]:
    """Names of the machines shipped, for :func:`load_machine`."""
    return names_in(MACHINES)


def load_machine(name: str | Path) -> Machine:
    """A machine shipped, by name, or one from a TOML file of one's own, by path.  Raises FileError in words."""
    file = find_named(str(name), (MACHINES,), "machine")
    machine = read_toml(file, Machine, "machine")
    plan = machine.demo_plan
    if not plan.beans.endswith(".toml"):
        return machine
    beside = plan.model_copy(update={"beans": str(file.parent / plan.beans)})  # a lot of one's own
    return machine.model_copy(update={"demo_plan": beside})


def conditions(
    machine: Machine,
    beans: Beans,
    *,
    batch_kg: float,
    moisture: float,
    gas: float,
    air: float,
    drum: float,
    ambient: float,
    gas_supply: float = 1.0,
    fan_stalled: bool = False,
) -> Conditions[float]:
    """Conditions that the controls and the day set.

    batch_kg of green, 0 for an empty drum; its moisture, wet basis; gas [kPa], air [dial], drum [rpm]; ambient [°C];
    gas_supply multiplies the pressure that reaches the orifice.
    """
    flow = machine.air.flow(air)
    usual_flow = machine.air.flow(machine.air.usual)
    if fan_stalled:
        flow = machine.air.stalled * machine.air.flow_lowest
    capacity_rate = flow * physics.AIR_HEAT_CAPACITY
    jacket = machine.drum.jacket * (flow / usual_flow) ** 0.6
    bed, contact = 0.0, 0.0
    if batch_kg > 0.0:
        bed, contact = _exchange(machine, beans, batch_kg=batch_kg, flow=flow, drum=drum)
    bed_left = physics.unexchanged(conductance=bed, capacity_rate=capacity_rate)
    return Conditions(
        dry_mass=batch_kg * (1.0 - moisture),
        size=beans.size,
        exotherm=beans.exotherm,
        organic=beans.organic,
        burner_set=physics.burner_heat(
            pressure=gas * gas_supply,
            full_pressure=machine.burner.full_pressure,
            full_heat=machine.burner.full_heat,
        ),
        burner_lag=machine.burner.lag,
        ambient=ambient,
        capacity_rate=capacity_rate,
        jacket_left=physics.unexchanged(conductance=jacket, capacity_rate=capacity_rate),
        bed_left=bed_left,
        bed_mean=(1.0 - bed_left) * capacity_rate / bed if bed > 0.0 else 1.0,
        contact=contact,
        metal_capacity=machine.drum.metal * physics.STEEL_HEAT_CAPACITY,
        loss=machine.drum.loss,
        probe_lag=machine.probe.lag if batch_kg > 0.0 else machine.probe.empty_lag,
        gas_share=machine.probe.gas_share,
    )


def _exchange(machine: Machine, beans: Beans, *, batch_kg: float, flow: float, drum: float) -> tuple[float, float]:
    """Conductances gas to beans and metal to beans [kW/K].

    The gas reaches the surface of the beans in the air; the fuller the drum the smaller their share, and there is a
    best drum speed a little above the usual one.  Exponents are our own; that the share depends on speed and fill is
    published (Al-Shemmeri et al. 2023).
    """
    fill = batch_kg / machine.capacity_kg
    relative = drum / machine.drum.usual
    section = 0.25 * math.pi * machine.drum.diameter**2
    speed = flow / (physics.AIR_DENSITY * section)
    film = physics.film_coefficient(speed=speed, size=beans.size)
    area = 6000.0 * batch_kg / (beans.density * beans.size)
    airborne = machine.drum.airborne * fill**-0.35 * max(0.3, 1.01 - (relative - 1.1) ** 2)
    contact = machine.drum.contact * fill**0.67 * relative**0.5
    return film * area * min(airborne, 1.0), contact
