"""A profile from a finished roast: a smoothed reference, its marks as milestones, its moves as the plan.  Pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import make_smoothing_spline

from coach.forecast.estimator import TURN_DELAY
from coach.forecast.forecast_values import READ_BEFORE
from coach.logbook.index.summary import EARLY, turning_point
from coach.roast.curve import Curve
from coach.roast.entries import EVENTS, Event
from coach.roast.errors import EntryError
from coach.roast.profile import ByPhase, DropTarget, Limits, Milestone, PlannedMove, Profile, ProfileDocument
from coach.roast.reading_checks import plausible
from coach.roast.roast import Probe, Roast, Turned, dial_step
from coach.roast.units import (
    Control,
    PressureUnit,
    TemperatureUnit,
    clock,
    from_celsius,
    from_kelvins,
    from_kpa,
    number,
    to_celsius,
)

Array = NDArray[np.float64]
T = TypeVar("T")

STIFFNESS: Final = 0.8
"""Smoothing parameter of the reference's spline at first, over the square root of time: about as curved as roasts."""
LOOSER: Final = 0.6
"""Factor on the smoothing parameter while the spline does not explain the readings."""
EXPLAINED: Final = 1.1
"""Mean of squared residuals over expected ones up to which the spline explains the readings."""
DIAL: Final = 0.25
"""Scatter of a dial beside its rounding, K."""
TIMED: Final = 1.4
"""Standard deviation of a reading's time, s."""
DIAL_TURNED: Final = 0.15
TIMED_TURNED: Final = 0.4
"""The same two (K, s) for a reading that was timed as the dial turned over, with nothing for rounding."""
LAST_BEFORE_DROP: Final = 60.0
"""Longest time from the last reading to the drop over which the line is extrapolated, s."""
LIMITS: Final = {
    "safety": "safety limit", "gas": "gas limits", "air": "air limits", "drum": "drum limits", "gas_step": "gas step",
    "air_step": "air step",
}  # fmt: skip
"""Quantities that can be limited, by their names on screen."""
KEPT: Final = (
    "roastery", "machine", "coffee", "charge_tolerance", "ambient", "band", "cadence", "cadence_fixed", "calls",
    "taps", "checklist",
)  # fmt: skip
"""Fields that a profile made from a roast takes over from the one that was followed."""


def smooth(times: Array, values: Array, rounding: float, turned: Array | None = None) -> tuple[Array, Array]:
    """Smooth readings (s, °C) to a curve on a 10 s grid: past the turning point a smoothing spline over the square root
    of time, as a roast bends less and less, each reading weighted by its variance from rounding (K) and timing,
    loosened until it explains the readings; before the turning point, the readings as they are.  ``turned`` (n,) bool:
    those that were timed as the dial turned over.  Spline: Wahba, Spline Models for Observational Data (1990), as in
    ``scipy.interpolate``."""
    low = int(np.argmin(values))
    t, v = times[low:], values[low:]
    if len(t) < 6:
        return times, values
    slope = np.abs(np.gradient(v, t))
    slope = np.convolve(np.pad(slope, 1, mode="edge"), [0.25, 0.5, 0.25], "valid")
    plain = DIAL**2 + rounding**2 / 12 + (TIMED * slope) ** 2
    timed = DIAL_TURNED**2 + (TIMED_TURNED * slope) ** 2
    weights = 1.0 / (plain if turned is None else np.where(turned[low:], timed, plain))
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


@dataclass(frozen=True)
class SmoothedRoast:
    """The smoothed curve of a finished roast: ``t`` (n,) s from charge to ``end``, ``celsius`` (n,) °C, the roast's
    marks (roast times, s) without charge; its turning point is among them where the readings or the profile that was
    followed show it."""

    t: Array
    celsius: Array
    marks: dict[Event, float]
    end: float

    @cached_property
    def curve(self) -> Curve:
        """The line as a curve."""
        return Curve(tuple(self.t.tolist()), tuple(self.celsius.tolist()))

    def at(self, t: float) -> float:
        """Temperature of the line at roast time ``t`` (s), °C."""
        return float(np.interp(t, self.t, self.celsius))


@dataclass(frozen=True)
class AdoptOptions:
    """A person's statements about a new profile, in the profile's units; None and empty where nothing was stated."""

    charge: float | None = None
    safety: float | None = None
    batch_kg: float | None = None
    limits: Mapping[str, tuple[float, float] | float] = field(default_factory=dict)
    """Ranges of ``gas``, ``air``, ``drum``; one number for ``gas_step``, ``air_step``."""


@dataclass(frozen=True)
class Adopted:
    """A new profile, and the sources of values that the line doesn't show, by their names in the table."""

    document: ProfileDocument
    sources: dict[str, str]


NOTHING: Final = AdoptOptions()


def _as_typed(readings: list[Probe], half: float) -> list[tuple[float, float, bool]]:
    """Readings as (s, °C, True if timed as the dial turned).  Those timed at a turn are put on the clock of typed ones,
    and ``half`` a step (K) below the new number while the dial rose, above it while it fell."""
    values = np.array([r.celsius for r in readings])
    rises = np.gradient(values) if len(values) > 1 else np.ones(len(values))
    return [
        (r.t + READ_BEFORE - TURN_DELAY, r.celsius - float(np.copysign(half, rise)), True)
        if r.turned
        else (r.t, r.celsius, False)
        for r, rise in zip(readings, rises, strict=True)
    ]


def smoothed(roast: Roast, *, followed: Profile | None = None, charge: float | None = None) -> SmoothedRoast:
    """The line of a finished roast.  Before its first reading it has the shape of the profile that was followed, laid
    from the charge temperature (°C) to that reading.  Raises EntryError when it has too few readings."""
    if roast.charge_at is None:
        raise EntryError("The roast has no charge mark.", "Add one with a correction.")
    drop = roast.marks.get("drop")
    kept = plausible(tuple(r for r in roast.readings if drop is None or r.t <= drop + 1.0))
    step = dial_step(kept, roast.header)
    unique: dict[float, list[tuple[float, bool]]] = {}
    for t, value, turned in _as_typed(kept, 0.0 if roast.needle else step / 2):
        unique.setdefault(round(t, 1), []).append((value, turned))
    if len(unique) < 6:
        raise EntryError(f"The roast has {len(unique)} usable readings.", "A reference needs at least six.")
    times = np.array(sorted(unique))
    values = np.array([float(np.mean([v for v, _ in unique[t]])) for t in sorted(unique)])
    timed = np.array([all(turned for _, turned in unique[t]) for t in sorted(unique)])
    grid, curve = smooth(times, values, step, timed)
    end = float(grid[-1]) if drop is None else drop
    if end > grid[-1] + LAST_BEFORE_DROP:
        raise EntryError(
            f"Its last reading lies {clock(end - float(grid[-1]))} before its drop: its temperature is not known.",
            "Add a reading near the drop with a correction, or leave the roast out.",
        )
    grid, curve = _begun(grid, curve, followed, charge)
    if end > grid[-1] + 1:
        slope = float((curve[-1] - curve[-2]) / (grid[-1] - grid[-2]))
        grid, curve = np.append(grid, end), np.append(curve, curve[-1] + slope * (end - float(grid[-1])))
    marks: dict[Event, float] = {e: t for e, t in roast.marks.items() if e != "charge"}
    early = grid < EARLY
    if early.any() and (followed is not None or turning_point(kept) is not None):
        marks.setdefault("turning point", float(grid[int(np.argmin(curve[early]))]))
    return SmoothedRoast(grid, curve, marks, end)


def _begun(grid: Array, curve: Array, followed: Profile | None, charge: float | None) -> tuple[Array, Array]:
    """The line from charge on: the unknown part before the first reading gets the shape of the profile that was
    followed, or else a straight line from the ``charge`` temperature (°C)."""
    first, celsius = float(grid[0]), float(curve[0])
    if first <= 0.5 or charge is None:
        return grid, curve
    if followed is None:
        return np.concatenate([[0.0], grid]), np.concatenate([[max(charge, celsius)], curve])
    before = np.unique([0.0, *(t for t in followed.curve.times if 0 < t < first - 0.5)])
    off = [charge - followed.curve.value(0.0), celsius - followed.curve.value(first)]
    shape = followed.curve.at(before) + np.interp(before, [0.0, first], off)
    return np.concatenate([before, grid]), np.concatenate([shape, curve])


def adopt(
    roast: Roast,
    name: str,
    *,
    followed: ProfileDocument | None = None,
    given: AdoptOptions = NOTHING,
) -> Adopted:
    """The profile that a finished roast makes, in the units of the profile that was followed (without one: its own).

    Values that the line doesn't show are stated, read within 20 s of charge, or the followed profile's; a safety limit
    is stated or the followed profile's, never derived.  Raises EntryError that asks for all that is missing, or when
    the roast has too few readings.
    """
    unit = followed.unit if followed else roast.header.unit
    pressure = followed.pressure_unit if followed else roast.header.pressure_unit
    base = Profile(followed) if followed else None
    if roast.charge_at is not None and "drop" not in roast.marks:
        raise EntryError("The roast has no drop mark.", "Give when it was dropped: --drop 9:35")
    sources: dict[str, str] = {}

    def first(what: str, *found: tuple[T | None, str]) -> T | None:
        """The first value that there is; its source is noted."""
        value, sources[what] = next((x for x in found if x[0] is not None), found[-1])
        return value

    seen, weighed = roast.charge_reading, roast.result is not None and roast.result.weight_in is not None
    charge = first(
        "charge temperature",
        (given.charge, "as given"),
        (
            None if seen is None else round(from_celsius(seen.celsius, unit), 1),
            f"read {clock(abs(seen.t))} before charge" if seen is not None and seen.t < -0.5 else "read at charge",
        ),
        (None if followed is None else followed.charge_temperature, "followed profile"),
    )
    batch = first(
        "batch",
        (given.batch_kg, "as given"),
        (roast.batch_kg, "weighed (result)" if weighed else "the roast's journal"),
        (None if followed is None else followed.batch_kg, "followed profile"),
    )
    limits = limits_of(followed, given, sources)
    if charge is None or limits is None or batch is None:
        asked = (
            (charge, "its charge temperature", f"--charge DEGREES (°{unit})"),
            (limits, "a safety limit", f"--safety DEGREES (°{unit})"),
            (batch, "the weight of the batch", "--batch KG"),
        )
        missing = [(what, how) for value, what, how in asked if value is None]
        raise EntryError(
            f"The roast does not tell {', '.join(what for what, _ in missing)}"
            + ("." if followed else ", and it names no profile that is here."),
            f"Give {' '.join(how for _, how in missing)}",
        )
    line = smoothed(roast, followed=base, charge=to_celsius(charge, unit))
    milestones = milestones_of(line.marks, line.at, followed, unit)
    drop, crack = line.at(line.end), line.marks.get("first crack")
    below_limit(line, limits.safety, unit)
    shown = [
        (round(float(t), 1), round(from_celsius(float(v), unit), 2)) for t, v in zip(line.t, line.celsius, strict=True)
    ]
    kept: dict[str, Any] = followed.model_dump(include=set(KEPT)) if followed else {}
    kept.setdefault(
        "band",
        ByPhase(drying=from_kelvins(6, unit), browning=from_kelvins(4, unit), development=from_kelvins(3, unit)),
    )
    document = ProfileDocument.model_validate(
        {
            **kept,
            "name": name, "unit": unit, "pressure_unit": pressure, "charge_temperature": charge, "batch_kg": batch,
            "machine": roast.header.machine or kept.get("machine", ""),
            "coffee": roast.header.coffee or kept.get("coffee", ""),
            "reference": shown, "milestones": milestones, "moves": moves_of(roast, pressure),
            "drop": drop_target(followed, round(from_celsius(drop, unit), 1), crack, line.end),
            "limits": limits, "sources": [roast.header.id],
            "parent": f"{followed.name}, version {followed.version}"[:300] if followed else "",
        }
    )  # fmt: skip
    for what in ("checklist", "calls"):
        sources[what] = "followed profile" if followed else "none: add them to the file"
    return Adopted(document, sources)


def milestones_of(
    events: Mapping[Event, float], at: Callable[[float], float], followed: ProfileDocument | None, unit: TemperatureUnit
) -> list[Milestone]:
    """The milestones at these times (s) with the temperatures ``at`` them (°C), in ``unit``; tolerances are those of
    the profile followed, else 20 s and 3 K (common practice, no source)."""
    old = {m.event: m for m in followed.milestones} if followed else {}
    return [
        Milestone(
            event=e, time=round(events[e], 1), temperature=round(from_celsius(at(events[e]), unit), 1),
            time_tolerance=old[e].time_tolerance if e in old else 20.0,
            temperature_tolerance=old[e].temperature_tolerance if e in old else round(from_kelvins(3.0, unit), 1),
        )
        for e in EVENTS
        if e in events
    ]  # fmt: skip


def limits_of(followed: ProfileDocument | None, given: AdoptOptions, sources: dict[str, str]) -> Limits | None:
    """The stated limits, over the followed profile's; None without a safety limit: no reading makes one."""
    table: dict[str, Any] = followed.limits.model_dump() if followed else {}
    for name in LIMITS:
        sources[LIMITS[name]] = "followed profile" if table.get(name) is not None else ""
    stated = {**given.limits, **({} if given.safety is None else {"safety": given.safety})}
    for name, value in stated.items():
        table[name], sources[LIMITS[name]] = value, "as given"
    return Limits.model_validate(table) if table.get("safety") is not None else None


def below_limit(line: SmoothedRoast, safety: float, unit: TemperatureUnit) -> None:
    """Refuse a roast that reached the safety limit (in ``unit``).  Raises EntryError."""
    risen = line.celsius[line.t >= line.marks.get("turning point", 60.0)]
    hottest = float(risen.max()) if len(risen) else float(line.celsius[-1])
    if hottest >= to_celsius(safety, unit):
        hot = number(from_celsius(hottest, unit), 0)
        raise EntryError(
            f"The roast reached {hot} °{unit}, and the safety limit is {number(safety, 0)} °{unit}.",
            "A roast that went over it is nothing to follow: leave it out.",
        )


def drop_target(followed: ProfileDocument | None, temperature: float, crack: float | None, end: float) -> DropTarget:
    """The followed profile's rule with this roast's values; by temperature where no crack was marked."""
    table: dict[str, Any] = followed.drop.model_dump() if followed else {"by": "development"}
    table.update(temperature=temperature, development=None, ratio=None)
    if crack is None:
        table["by"] = "temperature"
    else:
        table["development"] = round(end - crack, 1)
        if table["by"] == "ratio":
            table["ratio"] = round((end - crack) / end, 4)
    return DropTarget.model_validate(table)


def moves_of(roast: Roast, pressure: PressureUnit) -> list[PlannedMove]:
    """The roast's settings of each control as a plan, gas in ``pressure``."""
    controls: tuple[Control, ...] = ("gas", "air", "drum")
    made = [(control, t, value) for control in controls for t, value in settings(roast, control, pressure)]
    moves = [PlannedMove(control=c, value=value, at_time=round(t, 1)) for c, t, value in made if t <= 3600.0]
    return sorted(moves, key=lambda m: m.at_time or 0.0)


def settings(roast: Roast, control: Control, pressure: PressureUnit) -> list[tuple[float, float]]:
    """Times (s, from charge to drop) and values of a control's settings, gas in ``pressure``; settings before charge
    count as made at charge, and those changed again within 10 s are left out."""
    out: list[tuple[float, float]] = []
    end = roast.marks.get("drop", 3600.0)
    for m in sorted((m for m in roast.moves if m.control == control and m.t < end), key=lambda m: m.t):
        t, value = max(m.t, 0.0), dial(m, pressure)
        if out and (t - out[-1][0] < 10 or out[-1][1] == value):
            if out[-1][1] != value:
                out[-1] = (out[-1][0], value)
            continue
        out.append((t, value))
    return out


def dial(move: Turned, pressure: PressureUnit) -> float:
    """A setting as on the dial: gas in ``pressure``, air and drum as typed."""
    return round(from_kpa(move.value, pressure), 4) if move.control == "gas" else move.shown
