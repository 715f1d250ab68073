"""The entries of a roast: everything an operator can report to the coach, as the journal holds it.

Every entry has ``at`` (when it happened, seconds since the journal's ``started``) and ``typed`` (when it came in;
``at`` where it is left out).  Values are as typed, in the units of the journal's header.
Unknown extra fields are kept and ignored.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Any, Final, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, field_validator, model_validator

from coach.roast.units import EVENTS as EVENTS
from coach.roast.units import Control, PressureUnit, TemperatureUnit
from coach.roast.units import Dial as Dial
from coach.roast.units import Event as Event

Finite = Annotated[float, Field(allow_inf_nan=False, ge=-1e6, le=1e6, strict=True)]
Text = Annotated[str, Field(max_length=4000)]
Name = Annotated[str, Field(max_length=200)]
RoastKind = Literal["live", "rehearsal"]
Outcome = Literal["useful", "late", "already acting", "false", "unknown"]
"""The outcome of a cue."""
OUTCOMES: Final[tuple[Outcome, ...]] = get_args(Outcome)


def moment_of(text: str) -> datetime | None:
    """Parse a moment as files hold it, to an aware one in UTC (without a zone: UTC); None where it is none."""
    try:
        found = datetime.fromisoformat(text)
        found = found if found.tzinfo else found.replace(tzinfo=UTC)
        return found.astimezone(UTC)
    except (ValueError, OverflowError):
        return None


class Header(BaseModel):
    """The first line of a journal: which roast this is and in which units it is typed."""

    model_config = ConfigDict(frozen=True, extra="allow")

    kind: Literal["roast"] = "roast"
    version: Literal[1] = 1
    id: Name
    profile: Name = ""
    profile_version: Annotated[int, Field(ge=1, le=100000)] | None = None
    unit: TemperatureUnit = "C"
    pressure_unit: PressureUnit = "kPa"
    started: Name
    run: RoastKind = "live"
    person: Name = ""
    machine: Name = ""
    coffee: Name = ""
    batch_kg: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] | None = None
    dial: Dial | None = None
    """The dial that the readings were read off; None: as they were typed, whole degrees or tenths."""

    @field_validator("started")
    @classmethod
    def _is_a_time(cls, text: str) -> str:
        if moment_of(text) is None:
            raise ValueError(f"'{text[:40]}' is no time: write it like 2026-11-27T08:00:00+00:00")
        return text

    @property
    def moment(self) -> datetime:
        """The moment of the start, in UTC."""
        found = moment_of(self.started)
        assert found is not None  # a header without it is refused
        return found


class Entry(BaseModel):
    """The fields that all entries share."""

    model_config = ConfigDict(frozen=True, extra="allow")

    at: Finite
    typed: Finite | None = None
    brings_back: Annotated[int, Field(ge=2, le=10_000_000, strict=True)] | None = None
    """The line of a withdrawn entry that this one enters again."""

    @property
    def came(self) -> float:
        """Time at which the entry came in, seconds since ``started``."""
        return self.at if self.typed is None else self.typed

    @model_validator(mode="after")
    def _not_from_the_future(self) -> Entry:
        if self.typed is not None and self.typed < self.at - 0.5:
            raise ValueError(f"typed ({self.typed:g}) lies before at ({self.at:g})")
        return self


class Reading(Entry):
    """The probe's temperature as read off the display, in the header's unit.

    ``turned``: logged at the moment at which the display turned over to this number, or a needle passed this mark.
    """

    kind: Literal["reading"] = "reading"
    temperature: Finite
    turned: Annotated[bool, Field(strict=True)] | None = None


class Mark(Entry):
    """A moment of the roast, called by the operator."""

    kind: Literal["mark"] = "mark"
    event: Event


class Move(Entry):
    """A control set to a value: gas in the header's pressure unit, air and drum as on the machine's dial."""

    kind: Literal["move"] = "move"
    control: Control
    value: Annotated[float, Field(ge=0, le=100000, allow_inf_nan=False, strict=True)]


class Pop(Entry):
    """One crack heard and tapped."""

    kind: Literal["pop"] = "pop"


class Note(Entry):
    """Free text."""

    kind: Literal["note"] = "note"
    text: Text


class Reply(Entry):
    """The operator's answer to a cue: seen, shelved for this roast, or (later) how it turned out.

    ``step`` names the planned move that was ``left out`` (``Step.key``).
    """

    kind: Literal["reply"] = "reply"
    cue: Name
    answer: Literal["seen", "shelved", Outcome, "not yet", "left out"]
    step: Name | None = None


class SoundCheck(Entry):
    """The sound check before charge: the sounds were heard or not, and their way out."""

    kind: Literal["sound check"] = "sound check"
    heard: bool
    output: Name = ""


class Result(Entry):
    """Results after drop, entered at once or days later."""

    kind: Literal["result"] = "result"
    weight_in: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] | None = None
    weight_out: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] | None = None
    moisture: Annotated[float, Field(gt=0, lt=100, allow_inf_nan=False)] | None = None
    """Moisture of the green coffee, percent of its weight as it is (wet basis)."""
    colour: Annotated[float, Field(ge=-1000, le=1000, allow_inf_nan=False)] | None = None
    colour_scale: Name | None = None
    cup_score: Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)] | None = None
    cup_notes: Text | None = None
    accepted: bool | None = None
    learn: bool | None = None
    abandoned: bool | None = None
    """The roast ended without a drop, and is over."""
    person: Name | None = None
    profile: Name | None = None
    """The profile of a roast whose header names none: the one it followed, or the one that was made of it."""
    profile_version: Annotated[int, Field(ge=1, le=100000)] | None = None


class Correction(Entry):
    """Withdraws (``replace`` null) or amends the entry at a line of the journal (the header is line 1)."""

    kind: Literal["correction"] = "correction"
    of: Annotated[int, Field(ge=2, le=10_000_000, strict=True)]
    replace: dict[str, Any] | None = None


AnyEntry = Annotated[
    Reading | Mark | Move | Pop | Note | Reply | SoundCheck | Result | Correction,
    Field(discriminator="kind"),
]
KINDS: Final = ("reading", "mark", "move", "pop", "note", "reply", "sound check", "result", "correction")
ENTRY: Final[TypeAdapter[Any]] = TypeAdapter(AnyEntry)
