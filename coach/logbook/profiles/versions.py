"""Versions of a profile: several accepted roasts, aligned by their events, make its next version.  Pure.

The new line is the mean of the roasts at the same place between events.  The learned band is their spread there, with
the scatter of the events' own times added: the watch compares by the clock, so the spread after alignment alone would
put every roast that runs a few seconds late out of band.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student

from coach.logbook.adopt import (
    NOTHING,
    Adopted,
    AdoptOptions,
    SmoothedRoast,
    below_limit,
    drop_target,
    limits_of,
    milestones_of,
    settings,
    smoothed,
)
from coach.logbook.review.review import ALIGNED, warp
from coach.roast.entries import Event
from coach.roast.errors import EntryError
from coach.roast.profile import ByPhase, PlannedMove, Profile, ProfileDocument
from coach.roast.roast import Roast
from coach.roast.units import Control, apart, clock, from_celsius, from_kelvins, number

Array = NDArray[np.float64]
AS_PLANNED: Final = 10.0
"""Distance from its planned time within which a setting counts as the plan's, s."""
ENOUGH: Final = 8
"""Number of roasts below which the band is provisional, and nowhere narrower than the parent's."""
COVER: Final = 0.90
"""Probability with which the band holds one more roast at each time, if roasts stay as they were."""
NARROWEST: Final = 1.5
"""Least half width of a band, K: whole degrees typed a little late scatter that much around their own curve."""
READING: Final = 0.5
"""Scatter of single readings around the roast's own smoothed curve (rounding, late typing), K."""
STEP: Final = 10.0
"""Distance of the points of line and band, s."""


@dataclass(frozen=True)
class Laid:
    """Aligned roasts: ``t`` (n,) s on the mean roast's axis, ``values`` (roasts, n) °C, mean events (s), and the
    standard deviation of each event's time (s)."""

    t: Array
    values: Array
    events: dict[Event, float]
    scatter: dict[Event, float]

    @property
    def line(self) -> Array:
        """Mean line, (n,) °C."""
        return np.asarray(self.values.mean(axis=0))

    def at(self, t: float) -> float:
        """Temperature of the mean line at ``t`` (s), °C."""
        return float(np.interp(t, self.t, self.line))

    @property
    def spread_by_clock(self) -> Array:
        """Standard deviation (n,), K, of one more roast about the line at the same time: the spread after alignment,
        and the slope times the scatter of the events' times."""
        at = [0.0, *self.events.values()]
        late = np.interp(self.t, at, [0.0, *self.scatter.values()])
        return np.asarray(np.hypot(self.spread, np.gradient(self.line, self.t) * late))

    @property
    def spread(self) -> Array:
        """Standard deviation across the roasts after alignment, (n,) K; zero for a single one."""
        if len(self.values) < 2:
            return np.zeros(len(self.t))
        return np.asarray(self.values.std(axis=0, ddof=1))


def lay(lines: Sequence[SmoothedRoast]) -> Laid:
    """Align roasts' lines on one axis: each is stretched so that its events fall on the mean times of all."""
    times = [line.marks for line in lines]
    events = {e: float(np.mean([own[e] for own in times])) for e in ALIGNED if all(e in own for own in times)}
    end = events.get("drop", float(np.mean([line.end for line in lines])))
    inner = [t for t in events.values() if t < end]
    t = np.unique(np.concatenate([np.arange(0.0, end, STEP), inner, [end]]))
    t = t[np.concatenate([np.diff(t) > 0.5, [True]])]
    values = np.array([line.curve.at(warp(t, events, own)) for line, own in zip(lines, times, strict=True)])
    many = len(times) > 1
    scatter = {e: float(np.std([own[e] for own in times], ddof=1)) if many else 0.0 for e in events}
    return Laid(t, values, events, scatter)


def half_width(spread: Array, count: int) -> Array:
    """Half width of the band (K) from the spread (K) of ``count`` roasts: that of a prediction interval for one more,
    t s sqrt(1 + 1/n) (Hahn and Meeker, Statistical Intervals, 1991; from memory)."""
    if count < 2:
        return np.zeros_like(spread)
    return np.asarray(student.ppf(0.5 + COVER / 2, count - 1) * spread * np.sqrt(1 + 1 / count))


def merge(parent: Profile, roasts: Sequence[Roast], given: AdoptOptions = NOTHING) -> Adopted:
    """The next version of a profile from finished roasts of it.  Raises EntryError when they can't be one.

    Limits, batch, checklist and calls stay the parent's unless ``given``; so does the charge temperature where fewer
    than half of the roasts show theirs.
    """
    if not roasts:
        raise EntryError("No roast was given.", "Name at least one.")
    document, unit = parent.document, parent.unit
    sources = dict.fromkeys(("checklist", "calls"), "followed profile")
    limits = limits_of(document, given, sources)
    assert limits is not None, "a profile has a safety limit"
    lines = []
    for r in roasts:
        if "drop" not in r.marks:
            raise EntryError(f"The roast {r.header.id} has no drop.", "Leave it out.")
        seen = r.charge_reading
        try:
            own = smoothed(r, followed=parent, charge=parent.charge_temperature if seen is None else seen.celsius)
            below_limit(own, limits.safety, unit)
        except EntryError as error:
            raise EntryError(f"{r.header.id}: {error.message}", error.hint) from None
        lines.append(own)
    laid = lay(lines)
    few = len(roasts) < ENOUGH
    half = np.maximum(half_width(np.hypot(laid.spread_by_clock, READING), len(roasts)), NARROWEST)
    if few:
        old = warp(laid.t, laid.events, {e: g.time for e, g in parent.goals.items()})
        half = np.maximum(half, parent.bands(old))
    half = np.minimum(half, from_kelvins(50.0, "C"))

    def show(celsius: float) -> float:
        return round(from_celsius(celsius, unit), 1)

    sources["batch"] = "followed profile" if given.batch_kg is None else "as given"
    charge, sources["charge temperature"] = _charge(parent, roasts, given)
    line, end = laid.line, laid.events["drop"]
    what = f"Line and band from {len(roasts)} accepted roast{'s' if len(roasts) > 1 else ''}, aligned on their events."
    notes = [n for n in document.notes if not n.startswith(("Line and band from", "Provisional:"))] + [what]
    if few:
        notes.append(f"Provisional: under {ENOUGH} roasts its band is nowhere narrower than the last.")
    table = document.model_dump()
    table.update(
        version=document.version + 1,
        charge_temperature=charge, batch_kg=given.batch_kg or document.batch_kg,
        limits=limits.model_dump(),
        reference=[(round(float(t), 1), show(float(v))) for t, v in zip(laid.t, line, strict=True)],
        milestones=[m.model_dump() for m in milestones_of(laid.events, laid.at, document, unit)],
        moves=[m.model_dump() for m in moves_of(parent, roasts)],
        band=_by_phase(laid, half, unit).model_dump(),
        band_pointwise=_points(laid.t, half, unit),
        drop=drop_target(document, show(float(line[-1])), laid.events.get("first crack"), end).model_dump(),
        notes=notes, sources=[r.header.id for r in roasts],
        parent=f"{document.name}, version {document.version}"[:300], provisional=few,
    )  # fmt: skip
    return Adopted(ProfileDocument.model_validate(table), sources)


def _charge(parent: Profile, roasts: Sequence[Roast], given: AdoptOptions) -> tuple[float, str]:
    """The charge temperature in the parent's unit, and its source."""
    if given.charge is not None:
        return given.charge, "as given"
    shown = [r.charge_reading.celsius for r in roasts if r.charge_reading is not None]
    if not shown or 2 * len(shown) < len(roasts):
        return parent.document.charge_temperature, "followed profile: too few of the roasts show it"
    middle = round(from_celsius(float(np.median(shown)), parent.unit), 1)
    return middle, f"median of {len(shown)} reading{'' if len(shown) == 1 else 's'} near charge"


ODD_TEMPERATURE: Final = 8.0
ODD_TIME: Final = 60.0
"""Distance from the other roasts (K, s) beyond which a roast is named: it may not belong to the recipe."""


def odd_ones(parent: Profile, roasts: Sequence[Roast], names: Sequence[str]) -> list[str]:
    """Roasts that differ from the median of all more than roasts of one recipe do, each by its name in a line."""
    out: list[str] = []
    lines = [smoothed(r, followed=parent, charge=parent.charge_temperature) for r in roasts]
    ends = list(zip(names, lines, strict=True))
    for name, line in ends if len(ends) > 2 else []:
        hot = line.at(line.end) - float(np.median([x.at(x.end) for _, x in ends]))
        said = (
            [f"dropped {apart(hot, parent.document.unit)} {'hotter' if hot > 0 else 'cooler'}"]
            if abs(hot) > ODD_TEMPERATURE
            else []
        )
        for event in ("first crack", "drop"):
            times = [x.marks[event] for _, x in ends if event in x.marks]
            if event in line.marks and times and abs(late := line.marks[event] - float(np.median(times))) > ODD_TIME:
                said.append(f"{event} {clock(abs(late))} {'later' if late > 0 else 'earlier'}")
        if said:
            out.append(f"{name} is unlike the others: {', '.join(said)}. To leave it out, name the others.")
    batch = parent.document.batch_kg
    for name, r in zip(names, roasts, strict=True):
        if r.batch_kg is not None and abs(r.batch_kg / batch - 1) > 0.05:
            out.append(f"{name} was {number(r.batch_kg, 3)} kg: the profile's batch is {number(batch, 3)} kg.")
    return out


def _points(t: Array, half: Array, unit: str) -> list[tuple[float, float]]:
    """The band as steps: each value is the widest until the next point."""
    widest = np.maximum(half, np.append(half[1:], half[-1]))
    return [
        (round(float(s), 1), round(from_kelvins(float(w), unit), 2))  # type: ignore[arg-type]
        for s, w in zip(t, widest, strict=True)
    ]


def _by_phase(laid: Laid, half: Array, unit: str) -> ByPhase:
    yellow = laid.events.get("yellow", laid.t[-1] * 0.45)
    crack = laid.events.get("first crack", laid.t[-1] * 0.85)
    turned = laid.events.get("turning point", 60.0) + 30
    parts = ((turned, yellow), (yellow, crack), (crack, laid.t[-1] + 1))
    widths = []
    for a, b in parts:
        inside = half[(laid.t >= a) & (laid.t < b)]
        widths.append(round(from_kelvins(float(np.median(inside if len(inside) else half)), unit), 1))  # type: ignore[arg-type]
    return ByPhase(drying=widths[0], browning=widths[1], development=widths[2])


def moves_of(parent: Profile, roasts: Sequence[Roast]) -> list[PlannedMove]:
    """The plan's moves: where all roasts set a control equally often, the median time and value of each setting; else
    the parent's plan for that control stays.  So does a move made about as planned (``as_planned``)."""
    out: list[PlannedMove] = []
    controls: tuple[Control, ...] = ("gas", "air", "drum")
    for control in controls:
        rows = [settings(r, control, parent.document.pressure_unit) for r in roasts]
        if len({len(row) for row in rows}) == 1 and rows[0]:
            for made in zip(*rows, strict=True):
                time = round(float(np.median([t for t, _ in made])), 1)
                value = round(float(np.median([v for _, v in made])), 3)
                if not 0 <= time <= 3600:
                    continue
                out.append(as_planned(parent, PlannedMove(control=control, value=value, at_time=time)))
        else:
            out += [m for m in parent.document.moves if m.control == control]
    limits = parent.document.limits
    for m in out:
        span = getattr(limits, m.control)
        if span is not None and not span[0] <= m.value <= span[1]:
            raise EntryError(
                f"{m.control} {m.value:g} in the roasts lies outside the profile's limits.", "Correct one of them."
            )
    return sorted(out, key=lambda m: parent.step(m).time)


def as_planned(parent: Profile, made: PlannedMove) -> PlannedMove:
    """The parent's planned move of the same setting within ``AS_PLANNED`` of one made at a time; else that itself.

    Hands are some seconds late each time, and a plan that followed them would come later with each version.
    """

    def off(m: PlannedMove) -> float:
        return abs(parent.step(m).time - parent.step(made).time)

    same = [m for m in parent.document.moves if (m.control, m.value) == (made.control, made.value)]
    return min((m for m in same if off(m) <= AS_PLANNED), key=off, default=made)


def scaled(parent: Profile, batch_kg: float) -> ProfileDocument:
    """A first guess at the profile for another batch weight.  Raises EntryError when it is too far away for one.

    Line, times and rules stay.  Gas pressure goes in proportion to the weight: heat flows as the square root of
    pressure, so that is half-way (on a log scale) between the same heat and heat in proportion.  Common practice, no
    source: it is labelled provisional, and the first roast by it is a trial.
    """
    document = parent.document
    ratio = batch_kg / document.batch_kg
    if not 0.5 <= ratio <= 2.0:
        raise EntryError(
            f"{batch_kg:g} kg is too far from {document.batch_kg:g} kg for a guess.", "Stay within half and double."
        )
    tick = document.limits.gas_step or 0.01
    span = document.limits.gas
    moves = []
    for m in document.moves:
        if m.control == "gas":
            value = round(round(m.value * ratio / tick) * tick, 4)
            if span is not None:
                value = min(max(value, span[0]), span[1])
            m = m.model_copy(update={"value": value})
        moves.append(m.model_dump())
    note = (
        f"FIRST GUESS for {number(batch_kg, 3)} kg, made from {number(document.batch_kg, 3)} kg by rule of thumb: gas "
        "in proportion to the weight. Nothing is proven: roast it as a trial, and adopt what came out."
    )
    table = document.model_dump()
    table.update(
        name=f"{document.name[:90]} {number(batch_kg, 3)} kg", version=1, batch_kg=batch_kg, moves=moves,
        notes=[note, *document.notes], provisional=True, sources=[],
        parent=f"{document.name}, version {document.version}"[:300],
    )  # fmt: skip
    return ProfileDocument.model_validate(table)
