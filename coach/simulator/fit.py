"""Fit of a machine of the simulator to somebody's own roasts, or to a profile alone.

A few factors of a like machine are found by least squares on all typed readings, with priors that keep factors without
evidence where they were.  The drum metal's temperature at charge is not logged: it is taken to lie a fixed distance
from the last reading before the charge (fitted), give or take a few K for each roast (fitted as well).  Readings that
jump away and back are left out; a loss that grows linearly for large errors bounds the pull of the mistypes that
remain.  Priors and spreads are our own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from coach.roast.curve import crossing
from coach.roast.profile import Profile
from coach.roast.reading_checks import plausible
from coach.roast.roast import Roast
from coach.simulator.batch import Run, simulate_many
from coach.simulator.beans import Beans
from coach.simulator.crack import crack_drive
from coach.simulator.machine import DemoMove, Machine
from coach.simulator.roaster import SimulatedRoaster

Floats = NDArray[np.float64]

FACTORS: Final[tuple[tuple[str, str, float], ...]] = (
    ("burner", "full_heat", 0.15),
    ("drum", "metal", 0.30),
    ("drum", "jacket", 0.15),
    ("drum", "contact", 0.25),
    ("drum", "airborne", 0.30),
    ("probe", "lag", 0.30),
)
"""Part and name of each fitted factor, with the sd of its logarithm about the like machine's."""
OFFSET_SD: Final = 15.0
"""Standard deviation of the distance from the reading at charge to the drum metal [K]."""
SOAK_SD: Final = 3.0
"""Standard deviation of the drum metal's temperature from roast to roast [K]."""
READING_SD: Final = 1.5
"""Standard deviation of a reading from the model [K]: rounding, lateness, and what no model catches."""
FROM: Final = 15.0
"""Roast time from which on readings count [s]: before, the probe falls faster than anybody types."""
FEWEST: Final = 3
"""Fewest roasts for a fit."""
WARMING: Final = 60.0
"""Time from the start until the drum is as hot as at the charge [s]."""
HEATS: Final = np.geomspace(0.3, 3.0, 41)
"""Factors on the heat of a machine that are tried to suit it to a profile."""
LOWEST, HIGHEST = 180.0, 212.0
"""Range of a lot's crack temperature that is believed then [°C in the bean] (own)."""


@dataclass(frozen=True)
class FitSheet:
    """One roast as the fit needs it.  Times s after charge, °C, kg; gas kPa."""

    times: Floats
    """Times of the readings [s], (n,)."""
    readings: Floats
    """Temperatures of the readings [°C], (n,)."""
    charge: float
    """The last reading before the charge [°C]."""
    gas: float
    air: float
    moves: tuple[DemoMove, ...]
    batch_kg: float
    drop: float
    crack: float | None = None


@dataclass(frozen=True)
class Fit:
    """A machine that fits, and how well.

    ``factors`` against the like machine; ``offset`` drum metal at charge less the reading [K]; ``soak`` each roast's
    own deviation from that [K], (n,); ``rmse`` of the readings it was fitted to [K]; ``onset`` bean temperature at
    first crack [°C], None without a mark.
    """

    machine: Machine
    beans: Beans
    factors: dict[str, float]
    offset: float
    soak: Floats
    rmse: float
    onset: float | None


def sheet_of(roast: Roast, *, batch_kg: float | None = None, air: float | None = None) -> FitSheet | str:
    """A roast as the fit needs it, or why it can't be used.  ``batch_kg`` and ``air`` where the journal has none.

    Readings that jump away from both their neighbours and back are mistypes and left out.
    """
    drop = roast.marks.get("drop")
    if roast.charge_at is None or drop is None:
        return "no charge or no drop"
    readings = plausible(tuple(r for r in roast.readings if FROM <= r.t <= drop))
    if len(readings) < 6:
        return "fewer than six readings"
    charge = roast.charge_reading
    if charge is None:
        return "no reading in the 20 s before charge"
    gas, dial = roast.setting("gas", 5.0), roast.setting("air", 5.0)
    if gas is None:
        return "the gas at charge was never logged"
    if dial is None:
        dial = air
    if dial is None:
        return "the air at charge was never logged"
    batch = roast.batch_kg or batch_kg
    if batch is None:
        return "no batch weight"
    moves = tuple(
        DemoMove(at=m.t, control=m.control, value=m.value)
        for m in roast.moves
        if 5.0 < m.t < drop and m.control in ("gas", "air")
    )
    return FitSheet(
        np.array([r.t for r in readings]),
        np.array([r.celsius for r in readings]),
        charge.celsius,
        gas,
        dial,
        moves,
        batch,
        drop,
        roast.marks.get("first crack"),
    )


def fitting_ranges(machine: Machine, sheets: Sequence[FitSheet]) -> Machine:
    """The machine with gauge and dial wide enough for what was logged; heat at a pressure and flow stay as they were.

    ValueError if a roast is larger than the drum.
    """
    gas = [v for s in sheets for v in (s.gas, *(m.value for m in s.moves if m.control == "gas"))]
    air = [v for s in sheets for v in (s.air, *(m.value for m in s.moves if m.control == "air"))]
    table = machine.model_dump()
    top = max([machine.burner.full_pressure, *(1.05 * g for g in gas)])
    table["burner"]["full_heat"] *= (top / machine.burner.full_pressure) ** 0.5
    table["burner"]["full_pressure"] = top
    low, high = min(air), max(air)
    if low < machine.air.lowest or high > machine.air.highest:  # another dial: stretched over the same flows
        table["air"].update(lowest=low, highest=max(high, low + 1.0), usual=float(np.median(air)))
        for move in table["demo_plan"]["moves"]:
            move["value"] = table["air"]["usual"] if move["control"] == "air" else move["value"]
        table["demo_plan"]["air"] = table["air"]["usual"]
    largest = max(s.batch_kg for s in sheets)
    if largest > 1.1 * machine.capacity_kg:
        raise ValueError(f"a batch of {largest:g} kg does not go into {machine.capacity_kg:g} kg")
    return Machine.model_validate(table)


def fit_machine(like: Machine, beans: Beans, sheets: Sequence[FitSheet], start: Fit | None = None) -> Fit:
    """The machine of the same build as ``like`` that comes nearest to the roasts.  ValueError with too few.

    The search begins at ``start``, a fit to the same build, where there is one: quicker, the end is the same.
    """
    if len(sheets) < FEWEST:
        raise ValueError(f"a fit needs {FEWEST} roasts, there are {len(sheets)}")
    problem = FitProblem(like, beans, tuple(sheets))
    begin = np.zeros(problem.size)
    if start is not None:
        begin[: len(FACTORS)] = np.log([start.factors[name] for _, name, _ in FACTORS])
        begin[len(FACTORS)] = start.offset
    found = least_squares(
        problem.residuals, begin, jac=problem.jacobian, loss="soft_l1", f_scale=2.0, max_nfev=20,
        x_scale=problem.scale, ftol=1e-3, xtol=1e-3, gtol=1e-3,
    )  # fmt: skip
    x = np.asarray(found.x)
    machine = problem.machine(x)
    onset = _onset(problem.runs(x), sheets)
    factors = {name: float(np.exp(v)) for (_, name, _), v in zip(FACTORS, x, strict=False)}
    n = len(FACTORS)
    return Fit(machine, beans, factors, float(x[n]), x[n + 1 :], rmse(machine, beans, sheets, x[n], x[n + 1 :]), onset)


def rmse(
    machine: Machine, beans: Beans, sheets: Sequence[FitSheet], offset: float, soak: Floats | None = None
) -> float:
    """Root mean square of readings less model [K] on some roasts; ``soak`` zero where it is not known."""
    deviations = np.zeros(len(sheets)) if soak is None else soak
    problem = FitProblem(machine, beans, tuple(sheets))
    model = problem.readings([np.concatenate([np.zeros(len(FACTORS)), [offset], deviations])])[0]
    return float(np.sqrt(np.mean((problem.typed - model) ** 2)))


def run_of(machine: Machine, beans: Beans, sheet: FitSheet, metal: float) -> Run:
    """The roast of a sheet on a machine whose drum metal is at ``metal`` [°C] at the charge."""
    return Run(
        machine, beans, batch_kg=sheet.batch_kg, metal=metal, probe=sheet.charge, gas=sheet.gas, air=sheet.air,
        drum=machine.demo_plan.drum, moves=sheet.moves,
    )  # fmt: skip


@dataclass(frozen=True)
class FitProblem:
    """Residuals over factors, offset and one soak for each roast; the unknowns in that order."""

    like: Machine
    beans: Beans
    sheets: tuple[FitSheet, ...]

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return len(FACTORS) + 1 + len(self.sheets)

    @property
    def scale(self) -> Floats:
        """Standard deviation of each unknown about zero."""
        return np.array([sd for _, _, sd in FACTORS] + [OFFSET_SD] + [SOAK_SD] * len(self.sheets))

    def machine(self, x: Floats) -> Machine:
        """The machine that the factors make."""
        table: dict[str, Any] = self.like.model_dump()
        for (part, name, _), value in zip(FACTORS, x, strict=False):
            table[part][name] *= float(np.exp(value))
        table["drum"]["airborne"] = min(table["drum"]["airborne"], 1.0)
        table["probe"]["lag"] = min(table["probe"]["lag"], 90.0)
        return Machine.model_validate(table)

    def runs(self, x: Floats) -> list[Run]:
        """Every roast, as these unknowns make it."""
        machine, n = self.machine(x), len(FACTORS)
        metal = [s.charge + float(x[n] + x[n + 1 + i]) for i, s in enumerate(self.sheets)]
        return [run_of(machine, self.beans, s, m) for s, m in zip(self.sheets, metal, strict=True)]

    @property
    def typed(self) -> Floats:
        """Readings of all roasts after one another [°C], (n,)."""
        return np.concatenate([s.readings for s in self.sheets])

    def readings(self, choices: Sequence[Floats]) -> Floats:
        """The model's readings [°C] under several choices of the unknowns, (choices, n), all in one batch."""
        runs, count = [run for x in choices for run in self.runs(x)], len(self.sheets)
        many = simulate_many(runs, float(np.ceil(max(s.drop for s in self.sheets))) + 1.0)
        found = [np.interp(self.sheets[i % count].times, many.times, probe) for i, probe in enumerate(many.probe)]
        return np.concatenate(found).reshape(len(choices), -1)

    def residuals(self, x: Floats) -> Floats:
        """Errors in their standard deviations; then the unknowns in theirs."""
        return np.concatenate([(self.readings([x])[0] - self.typed) / READING_SD, x / self.scale])

    def jacobian(self, x: Floats) -> Floats:
        """Jacobian by differences; each roast's soak moves in the same run, being its own alone."""
        shared, count, small = len(FACTORS) + 1, len(self.sheets), 0.02 * self.scale
        steps = [*np.diag(small)[:shared], np.where(np.arange(self.size) < shared, 0.0, small)]
        base, *moved = self.readings([x, *(x + step for step in steps)])
        slopes = (np.array(moved) - base).T / small[: shared + 1]
        roast = np.repeat(np.arange(count), [len(s.times) for s in self.sheets])
        own = np.where(roast[:, None] == np.arange(count), slopes[:, shared:], 0.0)
        return np.concatenate([np.hstack([slopes[:, :shared], own]) / READING_SD, np.diag(1.0 / self.scale)])


def _onset(runs: list[Run], sheets: Sequence[FitSheet]) -> float | None:
    """Bean temperature (with steam) at which first crack was marked: the median over the roasts that have a mark."""
    marked = [(run, s.crack) for run, s in zip(runs, sheets, strict=True) if s.crack is not None]
    if not marked:
        return None
    many = simulate_many([run for run, _ in marked], max(crack for _, crack in marked) + 1.0)
    bean, moisture = (
        np.array([np.interp(crack, many.times, x[i]) for i, (_, crack) in enumerate(marked)])
        for x in (many.bean, many.moisture)
    )
    return float(np.clip(np.median(crack_drive(bean=bean, moisture=moisture)), 150.0, 250.0))


def plan_of(fit: Fit, sheets: Sequence[FitSheet], *, beans: str) -> Machine:
    """The fitted machine with the roast of middle length as its demo plan, and ``beans`` as its lot."""
    ordered = sorted(range(len(sheets)), key=lambda i: sheets[i].drop)
    i = ordered[len(ordered) // 2]
    metal = sheets[i].charge + fit.offset + float(fit.soak[i])
    return with_plan(fit.machine, fit.beans, sheets[i], metal, beans=beans)


def with_plan(machine: Machine, lot: Beans, sheet: FitSheet, metal: float, **more: object) -> Machine:
    """The machine with a sheet's roast as its demo plan, ``more`` of which is given by name.

    The drum starts so much cooler that a minute at the first gas brings it to ``metal`` [°C] for the charge.
    """
    soak = metal
    for _ in range(4):
        roaster = SimulatedRoaster(machine, lot, drum_soak=soak, gas=sheet.gas, air=sheet.air)
        roaster.advance(WARMING)
        soak += metal - roaster.state.metal
    soak = round(min(max(soak, 100.0), 300.0), 1)
    at_rest = SimulatedRoaster(machine, lot, drum_soak=soak, gas=sheet.gas, air=sheet.air).probe
    table = machine.model_dump()
    table["demo_plan"].update(
        batch_kg=sheet.batch_kg, soak=soak, charge_temperature=round(at_rest),
        gas=sheet.gas, air=sheet.air, moves=[m.model_dump() for m in sheet.moves], drop_time=round(sheet.drop, 1),
        drop_temperature=round(float(sheet.readings[-1])), **more,
    )  # fmt: skip
    return Machine.model_validate(table)


def lot_of(fit: Fit) -> Beans:
    """The lot, cracking where the person marked it."""
    if fit.onset is None:
        return fit.beans
    lot = fit.beans.cracking_at(round(fit.onset, 1))
    return lot.model_copy(update={"name": f"{fit.beans.name}, crack as marked"})


# ── a machine for a profile of a roaster that nobody has fitted yet ─────────────────────────────────────────────────


def suited(machine: Machine, beans: Beans, profile: Profile) -> tuple[Machine, Beans] | None:
    """Machine and lot on which the profile's plan leads to its crack; None if none of that build can.

    Two things are chosen: the burner's heat, so that who follows the plan reads the profile's crack temperature at its
    crack time; and the crack temperature of the lot, so that it cracks there.  Everything else stays as the machine has
    it: the curve between is the simulator's, not the roaster's own.  The machine bears the name that the profile gives,
    and has the profile's plan as its demo plan.
    """
    goal = profile.goals.get("first crack")
    sheet = _sheet_of_plan(profile, machine)
    if goal is None or sheet is None:
        return None
    try:
        wide = fitting_ranges(machine, [sheet])
    except ValueError:
        return None
    metal = profile.charge_temperature + _metal_above_dial(wide, beans)
    many = simulate_many([run_of(_heated(wide, f), beans, sheet, metal) for f in HEATS], np.ceil(goal.time) + 1.0)
    reached = np.array([np.interp(goal.time, many.times, probe) for probe in many.probe])
    factor = crossing(HEATS, reached, goal.temperature)
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


def _sheet_of_plan(profile: Profile, machine: Machine) -> FitSheet | None:
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
