"""A finished roast becomes a profile: a smoothed reference, its marks as milestones, its moves as the plan."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import make_smoothing_spline

from coach.entries import EVENTS
from coach.errors import EntryError
from coach.plausible import plausible as plausible
from coach.profile import ByPhase, DropTarget, Limits, Milestone, PlannedMove, ProfileDocument
from coach.roast import Roast, typed_step
from coach.units import from_celsius, from_kelvins

Array = NDArray[np.float64]


STIFFNESS: Final = 0.8
"""How stiff the reference's spline is at first, over the square root of time: about as curved as roasts are."""
LOOSER: Final = 0.6
"""While it does not explain the readings it is loosened by this factor."""
EXPLAINED: Final = 1.1
"""Readings are explained when their squared residuals are this many times their expected ones, or less, in the mean."""
DIAL: Final = 0.25
"""Scatter of a dial beside its rounding, K."""
TIMED: Final = 1.4
"""How exactly the time of a reading is known, s."""


def smooth(times: Array, values: Array, rounding: float) -> tuple[Array, Array]:
    """A curve through readings (s, °C) on a 10 s grid: past the turning point a smoothing spline over the square root
    of time, as a roast bends less and less, each reading weighed by what rounding (K) and timing make of it, loosened
    until it explains the readings; before the turning point, the readings as they are.  Spline: Wahba, Spline Models
    for Observational Data (1990), as in ``scipy.interpolate``."""
    low = int(np.argmin(values))
    t, v = times[low:], values[low:]
    if len(t) < 6:
        return times, values
    slope = np.abs(np.gradient(v, t))
    slope = np.convolve(np.pad(slope, 1, mode="edge"), [0.25, 0.5, 0.25], "valid")
    weights = 1.0 / (DIAL**2 + rounding**2 / 12 + (TIMED * slope) ** 2)
    stiffness = STIFFNESS
    for _ in range(12):
        spline = make_smoothing_spline(np.sqrt(t), v, w=weights, lam=stiffness)
        left = weights * (spline(np.sqrt(t)) - v) ** 2
        if float(left[2:].mean()) <= EXPLAINED:
            break
        stiffness *= LOOSER
    grid = np.unique(np.concatenate([np.arange(np.ceil(t[0] / 10) * 10, t[-1], 10.0), [t[0], t[-1]]]))
    out = np.asarray(spline(np.sqrt(grid)))
    out[0] = v[0] if abs(out[0] - v[0]) > 3 else out[0]
    return np.concatenate([times[:low], grid]), np.concatenate([values[:low], out])


def adopt(roast: Roast, name: str) -> ProfileDocument:
    """The profile that a finished roast makes.  Raises EntryError when it has too little to follow."""
    if roast.charge_at is None:
        raise EntryError("The roast has no charge mark.", "Add one with a correction.")
    unit, kpa = roast.header.unit, roast.header.pressure_unit
    kept = plausible(roast.readings)
    unique: dict[float, list[float]] = {}
    for r in kept:
        unique.setdefault(round(r.t, 1), []).append(r.celsius)
    if len(unique) < 6:
        raise EntryError(f"The roast has {len(unique)} usable readings.", "A reference needs at least six.")
    times = np.array(sorted(unique))
    values = np.array([float(np.mean(unique[t])) for t in sorted(unique)])
    charge = next((r.celsius for r in reversed(roast.preheat)), None)
    if charge is None or not 60 <= charge <= 300:
        charge = values[0] if 60 <= values[0] <= 300 else 200.0
    grid, curve = smooth(times, values, typed_step(kept, unit))
    if grid[0] > 0.5:
        grid, curve = np.concatenate([[0.0], grid]), np.concatenate([[max(charge, curve[0])], curve])
    end = roast.marks.get("drop", float(grid[-1]))

    def at(t: float) -> float:
        beyond = max(t - float(grid[-1]), 0.0) * float((curve[-1] - curve[-2]) / (grid[-1] - grid[-2]))
        return float(np.interp(t, grid, curve)) + beyond

    if end > grid[-1] + 1:
        grid, curve = np.append(grid, end), np.append(curve, at(end))
    shown = [(round(float(t), 1), round(from_celsius(float(v), unit), 2)) for t, v in zip(grid, curve, strict=True)]
    events = [e for e in EVENTS if e in roast.marks and e != "charge"]
    if "turning point" not in events:
        low = int(np.argmin(curve[grid < 300])) if (grid < 300).any() else 0
        marks = {**roast.marks, "turning point": float(grid[low])}
        events = ["turning point", *events]
    else:
        marks = dict(roast.marks)
    milestones = [
        Milestone(
            event=e, time=round(marks[e], 1), temperature=round(from_celsius(at(marks[e]), unit), 1),
            time_tolerance=20.0, temperature_tolerance=round(from_kelvins(3.0, unit), 1),
        )
        for e in events
    ]  # fmt: skip
    crack = roast.marks.get("first crack")
    drop = at(end)
    return ProfileDocument(
        name=name,
        machine=roast.header.machine,
        coffee=roast.header.coffee,
        batch_kg=roast.header.batch_kg or 1.0,
        unit=unit,
        pressure_unit=kpa,
        charge_temperature=round(from_celsius(charge, unit), 1),
        reference=shown,
        milestones=milestones,
        moves=_moves(roast),
        band=ByPhase(drying=from_kelvins(6, unit), browning=from_kelvins(4, unit), development=from_kelvins(3, unit)),
        drop=DropTarget(
            by="temperature" if crack is None else "development",
            temperature=round(from_celsius(drop, unit), 1),
            development=None if crack is None else round(end - crack, 1),
        ),
        limits=Limits(safety=round(from_celsius(min(max(drop + 15, 230.0), 285.0), unit), 0)),
        sources=[roast.header.id],
    )


def _moves(roast: Roast) -> list[PlannedMove]:
    out: dict[tuple[str, float], PlannedMove] = {}
    for m in roast.moves:
        time = max(round(m.t, 1), 0.0)
        if time <= 3600:
            out[m.control, time] = PlannedMove(control=m.control, value=m.shown, at_time=time)
    return sorted(out.values(), key=lambda m: m.at_time or 0.0)
