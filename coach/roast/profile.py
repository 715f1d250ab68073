"""A profile: the proven roast that is followed.

``ProfileDocument`` is the TOML file, in the units its author chose; ``Profile`` is what the core works with, in °C,
K, kPa and s.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from coach.roast.cadence import Cadence, Interval, Seconds
from coach.roast.units import (
    EVENTS,
    Control,
    Event,
    PressureUnit,
    TemperatureUnit,
    clock,
    from_celsius,
    from_kelvins,
    to_celsius,
    to_kelvins,
    to_kpa,
)

if TYPE_CHECKING:
    from coach.roast.curve import Array, Curve

Temperature = Annotated[float, Field(allow_inf_nan=False, ge=-20, le=660)]
Width = Annotated[float, Field(allow_inf_nan=False, gt=0, le=100)]
Setting = Annotated[float, Field(allow_inf_nan=False, ge=0, le=10000)]
Line = Annotated[str, Field(max_length=300)]

LONG_PAST: Final = 15.0
"""Margin above the yellow of the reference at which the beans turned yellow a minute ago, K."""


class Frozen(BaseModel):
    """A part of a file: no field changes, and none is unknown."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Milestone(Frozen):
    """A moment of the reference: when, how hot, and how far off it may be."""

    event: Event
    time: Seconds
    temperature: Temperature
    time_tolerance: Interval = 20.0
    temperature_tolerance: Width = 3.0


class PlannedMove(Frozen):
    """A control to set, at a time, at a temperature, or (some seconds) after an event.  Exactly one of the three."""

    control: Control
    value: Setting
    at_time: Seconds | None = None
    at_temperature: Temperature | None = None
    at_event: Event | None = None
    after: Seconds = 0.0
    note: Line = ""

    @model_validator(mode="after")
    def _one_trigger(self) -> PlannedMove:
        given = [x for x in (self.at_time, self.at_temperature, self.at_event) if x is not None]
        if len(given) != 1:
            raise ValueError("a planned move needs exactly one of at_time, at_temperature, at_event")
        if self.after and self.at_event is None:
            raise ValueError("'after' goes with at_event only")
        return self


class ByPhase(Frozen):
    """One number for each phase of the roast."""

    drying: Width
    browning: Width
    development: Width


class Limits(Frozen):
    """Limits: the probe temperature at which the roast is stopped, and the ranges of the controls."""

    safety: Temperature
    gas: tuple[Setting, Setting] | None = None
    air: tuple[Setting, Setting] | None = None
    drum: tuple[Setting, Setting] | None = None
    gas_step: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] | None = None
    air_step: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] | None = None


class DropTarget(Frozen):
    """The rule for drop: a temperature, a development time, or a development ratio (development / whole roast)."""

    by: Literal["temperature", "development", "ratio"] = "temperature"
    temperature: Temperature
    development: Seconds | None = None
    ratio: Annotated[float, Field(gt=0, lt=1)] | None = None
    temperature_tolerance: Width = 2.0
    time_tolerance: Interval = 15.0

    @model_validator(mode="after")
    def _target_given(self) -> DropTarget:
        if self.by == "development" and self.development is None:
            raise ValueError("drop by development needs 'development' (m:ss)")
        if self.by == "ratio" and self.ratio is None:
            raise ValueError("drop by ratio needs 'ratio'")
        return self


class Taps(Frozen):
    """The rule for calling first crack from taps: stray and cracking pops a minute, and the threshold of the decision.

    ``dated``: where a called crack is taken to have begun (``first_crack_taps``): by the growth of the rate,
    which several people call most alike, or at the first tap since the decision's sum was zero.
    """

    stray: Annotated[float, Field(gt=0, le=60)] = 4.0
    cracking: Annotated[float, Field(gt=0, le=600)] = 12.0
    threshold: Annotated[float, Field(gt=0, le=50)] = 5.0
    dated: Literal["first tap", "growth"] = "growth"


class ProfileDocument(Frozen):
    """A profile as its TOML file gives it."""

    format: Literal[1] = 1
    name: Annotated[str, Field(min_length=1, max_length=120)]
    version: Annotated[int, Field(ge=1, le=100000)] = 1
    invented: bool = False
    roastery: Line = ""
    machine: Line = ""
    coffee: Line = ""
    batch_kg: Annotated[float, Field(gt=0, le=120, allow_inf_nan=False)]
    unit: TemperatureUnit = "C"
    pressure_unit: PressureUnit = "kPa"
    charge_temperature: Temperature
    charge_tolerance: Width = 3.0
    ambient: Temperature | None = None
    reference: Annotated[list[tuple[Seconds, Temperature]], Field(min_length=4, max_length=5000)]
    milestones: Annotated[list[Milestone], Field(max_length=6)] = []
    moves: Annotated[list[PlannedMove], Field(max_length=200)] = []
    band: ByPhase
    band_pointwise: Annotated[list[tuple[Seconds, Width]], Field(max_length=5000)] = []
    cadence: Cadence = Cadence()
    cadence_fixed: bool = False
    drop: DropTarget
    limits: Limits
    calls: dict[Event, Line] = {}
    taps: Taps = Taps()
    notes: list[Line] = []
    checklist: list[Line] = []
    sources: list[Line] = []
    parent: Line = ""
    """Name and version of the profile that this one derives from."""
    provisional: bool = False
    """A first guess, or fitted to few roasts."""

    @model_validator(mode="before")
    @classmethod
    def _of_earlier_versions(cls, given: Any) -> Any:
        """Leave out ``advice_by``, which files of earlier versions hold: advice moves the gas alone."""
        return {k: v for k, v in given.items() if k != "advice_by"} if isinstance(given, dict) else given

    @model_validator(mode="after")
    def _hangs_together(self) -> ProfileDocument:
        problems = list(self._problems())
        if problems:
            raise ValueError("; ".join(problems))
        return self

    def _problems(self) -> list[str]:
        out: list[str] = []
        times = [t for t, _ in self.reference]
        for i, (a, b) in enumerate(pairwise(times)):
            if b <= a:
                out.append(f"reference: time {clock(b)} (point {i + 2}) does not come after {clock(a)}")
                break
        core = _converted(self, "C")
        celsius = [v for _, v in core.reference]
        if max(celsius) < 160 or max(celsius) > 300 or min(celsius) < 0:
            out.append(
                f"reference: temperatures from {min(celsius):.0f} to {max(celsius):.0f} °C are not those of a roast "
                f'(is unit = "{self.unit}" right?)'
            )
        elif times[-1] - times[0] < 120:
            out.append("reference: shorter than two minutes")
        else:
            low = celsius.index(min(celsius))
            for (t, a), (_, b) in pairwise(core.reference[low + 1 :]):
                if b < a - 8.0:
                    out.append(f"reference: falls by more than 8 °C after {clock(t)}, past the turning point")
                    break
        marks = {m.event: m.time for m in self.milestones}
        if len(marks) != len(self.milestones):
            out.append("milestones: an event stands there twice")
        ordered = [marks[e] for e in EVENTS if e in marks]
        if ordered != sorted(ordered):
            out.append("milestones: not in the order " + ", ".join(EVENTS))
        if marks and max(marks.values()) > times[-1] + 60:
            out.append("milestones: one lies more than a minute behind the end of the reference")
        if core.limits.safety <= core.drop.temperature:
            out.append("limits: safety must lie above the drop temperature")
        if core.limits.safety > 290:
            out.append("limits: a safety limit above 290 °C protects nobody; beans burn below it")
        charge = core.charge_temperature
        if not 60 <= charge <= 300:
            out.append(f"charge_temperature: {charge:.0f} °C is not a charge temperature")
        elif charge < min(celsius) + 5:
            out.append(
                f"charge_temperature: {charge:.0f} °C is not above the reference's turning point, {min(celsius):.0f} °C"
            )
        if self.taps.cracking <= self.taps.stray:
            out.append("taps: cracking must be faster than stray, or taps can't tell one from the other")
        out.extend(self._moves_out_of_range())
        return out

    def _moves_out_of_range(self) -> list[str]:
        out: list[str] = []
        for name in ("gas", "air", "drum"):
            span = getattr(self.limits, name)
            if span is None:
                continue
            if span[0] >= span[1]:
                out.append(f"limits: {name} must be [lowest, highest]")
            values = [m.value for m in self.moves if m.control == name]
            if any(not span[0] <= v <= span[1] for v in values):
                out.append(f"moves: a {name} value lies outside limits.{name}")
        if any(m.control == "gas" and to_kpa(m.value, self.pressure_unit) > 100 for m in self.moves):
            out.append("moves: a gas pressure above 100 kPa is not one of a small roaster (pressure_unit?)")
        return out


@dataclass(frozen=True)
class Step:
    """A planned move in core units (gas in kPa; ``shown`` is the value as the profile gives it).

    ``time`` (s) is that of the reference; ``temperature`` (°C) or ``event`` with ``after`` (s) is set when
    that, not the clock, triggers it.
    """

    control: Control
    value: float
    shown: float
    time: float
    temperature: float | None = None
    event: Event | None = None
    after: float = 0.0
    note: str = ""

    @property
    def key(self) -> str:
        """Name among the planned moves of its profile: control and time."""
        return f"{self.control} {self.time:g}"


@dataclass(frozen=True)
class Profile:
    """A profile in core units: °C, K, s, kPa."""

    document: ProfileDocument

    @cached_property
    def core(self) -> ProfileDocument:
        """The document with its temperatures in °C and K."""
        return _converted(self.document, "C")

    @cached_property
    def curve(self) -> Curve:
        """The reference."""
        from coach.roast.curve import Curve  # with numpy: no first paint waits for it

        return Curve(*zip(*self.core.reference, strict=True))

    @cached_property
    def goals(self) -> dict[Event, Milestone]:
        """The milestones by event, in °C and K."""
        return {m.event: m for m in self.core.milestones}

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """The planned moves in the order of their times."""
        return tuple(sorted((self.step(m) for m in self.document.moves), key=lambda s: s.time))

    def step(self, move: PlannedMove) -> Step:
        """A planned move in core units, at the time at which the reference has it due."""
        unit = self.document.unit
        value = to_kpa(move.value, self.document.pressure_unit) if move.control == "gas" else move.value
        temperature: float | None = None
        if move.at_time is not None:
            time = move.at_time
        elif move.at_temperature is not None:
            temperature = to_celsius(move.at_temperature, unit)
            found = self.curve.when(temperature)
            time = self.curve.end if found is None else found
        else:
            assert move.at_event is not None
            goal = self.goals.get(move.at_event)
            start = 0.0 if move.at_event == "charge" else goal.time if goal else self.curve.end
            time = start + move.after
        return Step(move.control, value, move.value, time, temperature, move.at_event, move.after, move.note)

    @property
    def name(self) -> str:
        return self.document.name

    @property
    def unit(self) -> TemperatureUnit:
        return self.document.unit

    @property
    def safety(self) -> float:
        """The safety limit of the probe, °C."""
        return self.core.limits.safety

    @property
    def charge_temperature(self) -> float:
        """Planned charge temperature, °C."""
        return self.core.charge_temperature

    @property
    def charge_tolerance(self) -> float:
        """Tolerance of the charge temperature, K."""
        return self.core.charge_tolerance

    @property
    def drop_tolerance(self) -> float:
        """Tolerance of the drop temperature, K."""
        return self.core.drop.temperature_tolerance

    @property
    def drop_temperature(self) -> float:
        """The target drop temperature, °C."""
        return self.core.drop.temperature

    @cached_property
    def drop_time(self) -> float:
        """Planned drop, s."""
        if "drop" in self.goals:
            return self.goals["drop"].time
        crack = self.goals.get("first crack")
        development = self.document.drop.development
        if crack and development is not None:
            return crack.time + development
        found = self.curve.when(self.drop_temperature)
        return self.curve.end if found is None else found

    @cached_property
    def development(self) -> float | None:
        """Planned development time, s; None where the plan has no first crack."""
        if self.document.drop.development is not None:
            return self.document.drop.development
        crack = self.goals.get("first crack")
        return None if crack is None else max(self.drop_time - crack.time, 1.0)

    def past_yellow(self, celsius: float) -> bool:
        """True if the probe (°C) is so far above the yellow of the reference that nobody looks for it any more."""
        goal = self.goals.get("yellow")
        return goal is not None and celsius > goal.temperature + LONG_PAST

    def band(self, t: float, phase: str) -> float:
        """Half width of the tolerance band at roast time ``t`` (s) in ``phase``, K."""
        points = self.core.band_pointwise
        if points:
            before = [w for s, w in points if s <= t]
            return before[-1] if before else points[0][1]
        width: float = getattr(self.core.band, phase, self.core.band.drying)
        return width

    def planned_phase(self, t: float) -> str:
        """The phase that the plan is in at roast time ``t`` (s)."""
        for event, phase in (("first crack", "development"), ("yellow", "browning")):
            goal = self.goals.get(event)  # type: ignore[call-overload]
            if goal is not None and t >= goal.time:
                return phase
        return "drying"

    def bands(self, times: Array) -> Array:
        """Half width of the tolerance band at roast times (n,) s in the planned phases, (n,) K."""
        import numpy as np  # late, as for the curve

        starts = sorted({0.0, *(g.time for g in self.goals.values()), *(t for t, _ in self.document.band_pointwise)})
        widths = np.array([self.band(t, self.planned_phase(t)) for t in starts])
        return np.asarray(widths[np.searchsorted(starts, times, side="right").clip(1) - 1])


def in_unit(profile: Profile, unit: TemperatureUnit | None) -> Profile:
    """The same profile with its temperatures in another unit (None: its own), to be shown."""
    if unit is None or unit == profile.unit:
        return profile
    return Profile(_converted(profile.document, unit, digits=2))


def _converted(d: ProfileDocument, unit: TemperatureUnit, digits: int | None = None) -> ProfileDocument:
    """A document with its temperatures in another unit, rounded where ``digits`` are given."""

    def rounded(value: float) -> float:
        return value if digits is None else round(value, digits)

    def hot(value: float) -> float:
        return rounded(from_celsius(to_celsius(value, d.unit), unit))

    def wide(difference: float) -> float:
        return rounded(from_kelvins(to_kelvins(difference, d.unit), unit))

    milestones = [
        m.model_copy(update={"temperature": hot(m.temperature), "temperature_tolerance": wide(m.temperature_tolerance)})
        for m in d.milestones
    ]
    moves = [
        m if m.at_temperature is None else m.model_copy(update={"at_temperature": hot(m.at_temperature)})
        for m in d.moves
    ]
    drop = {"temperature": hot(d.drop.temperature), "temperature_tolerance": wide(d.drop.temperature_tolerance)}
    band = ByPhase(drying=wide(d.band.drying), browning=wide(d.band.browning), development=wide(d.band.development))
    return d.model_copy(update={
        "unit": unit, "charge_temperature": hot(d.charge_temperature), "charge_tolerance": wide(d.charge_tolerance),
        "ambient": None if d.ambient is None else hot(d.ambient), "reference": [(t, hot(v)) for t, v in d.reference],
        "milestones": milestones, "moves": moves, "band": band,
        "band_pointwise": [(t, wide(w)) for t, w in d.band_pointwise], "drop": d.drop.model_copy(update=drop),
        "limits": d.limits.model_copy(update={"safety": hot(d.limits.safety)}),
    })  # fmt: skip
