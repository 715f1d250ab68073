"""The model of a drill, as in its TOML file; the folders of drills."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import Field, model_validator

from coach.roast.cadence import Seconds
from coach.roast.profile import Frozen
from coach.roast.units import Control
from coach.session.profile_files import find_named, home, names_in, read_toml
from coach.simulator.roaster import FAULTS, Fault

Kind = Literal["day", "fault", "shift", "safety"]
PLAN: Final = (
    "Stop, and follow your own emergency plan. Your site's plan, the maker's manual and the local fire code say what "
    "comes next; this program does not, and never will."
)
"""Text at the end of every drill of kind 'safety'."""


Number = Annotated[float, Field(allow_inf_nan=False)]


class Day(Frozen):
    """Differences of the day from the plan, from the start on."""

    soak: float = Field(default=0.0, ge=-60, le=60)
    """Drum metal at the start less the plan's [K]."""
    ambient: float = Field(default=0.0, ge=-20, le=20)
    """Room temperature less 22 °C [K]."""
    moisture: float | None = Field(default=None, ge=0.06, le=0.16)
    """Moisture of the green, wet basis [kg/kg]; None: the lot's own."""
    crack_shift: float = Field(default=0.0, ge=-10, le=10)
    """Shift of the lot's crack temperature [K]."""


class Inject(Frozen):
    """One thing that happens during the roast.  Exactly one of ``at``, ``between``, ``at_temperature``, ``at_crack``
    gives the moment: a roast time; a random one between two; the first at which the true probe reaches a value (°C);
    seconds after the true onset of first crack (0 or more)."""

    what: Fault | Control
    """A fault, or a control that somebody else moves."""
    value: Number = 1.0
    """For a fault its value (:data:`coach.simulator.roaster.FAULTS`); for a control a factor on its setting."""
    at: Seconds | None = None
    between: tuple[Seconds, Seconds] | None = None
    at_temperature: float | None = Field(default=None, ge=50, le=300)
    at_crack: Seconds | None = None
    lasts: Seconds | None = None
    """Seconds until a fault ends; None: it stays."""

    @model_validator(mode="after")
    def _one_time(self) -> Inject:
        given = [self.at, self.between, self.at_temperature, self.at_crack]
        if sum(g is not None for g in given) != 1:
            raise ValueError("give exactly one of at, between, at_temperature, at_crack")
        if self.between is not None and not self.between[0] < self.between[1]:
            raise ValueError("between needs an earlier and a later time")
        if self.lasts is not None and self.what not in FAULTS:
            raise ValueError("a control stays where it was moved")
        return self


class Handover(Frozen):
    """The person takes over from a simulated colleague."""

    at: Seconds
    """Roast time [s]."""
    left_out: tuple[int, ...] = ()
    """Numbers of the planned moves after charge (1 is the first) that the colleague forgot."""
    says: str = Field(default="", max_length=300)


class Notice(Frozen):
    """Entries of the journal that show that the person noticed.  Any one of those given is enough."""

    note: bool = False
    """A note, whatever its text."""
    more: Control | None = None
    less: Control | None = None
    """A move of that control above or below its setting."""
    stop: bool = False
    """Gas to 0, or a note that begins with 'stop'."""
    reading: bool = False
    """The first reading."""


KINDS: Final = {
    "day": "another day",
    "fault": "something fails",
    "shift": "somebody else takes over",
    "safety": "safety",
}
"""The kinds of drills as headings."""


class Drill(Frozen):
    """A drill."""

    format: Literal[1]
    invented: Literal[True]
    title: str = Field(max_length=60)
    kind: Kind
    brief: str = Field(max_length=600)
    """Text shown before; gives nothing away."""
    hint: str = Field(max_length=300)
    """Text shown on request; costs points."""
    reveal: str = Field(max_length=900)
    """Text shown after: what it was, and what a good roaster does."""
    sound: bool = True
    """False: no cue is heard."""
    day: Day = Day()
    inject: tuple[Inject, ...] = ()
    handover: Handover | None = None
    notice: Notice | None = None
    notice_from: Literal["injection", "charge", "start", "handover", "limit"] = "injection"
    """Moment from which the time to notice counts; limit: the true probe passes the profile's safety limit."""

    @model_validator(mode="after")
    def _fits(self) -> Drill:
        if self.kind == "safety" and (self.notice is None or self.notice != Notice(stop=True)):
            raise ValueError("a safety drill is about stopping, and about nothing else (notice = {stop = true})")
        if self.notice is not None and self.notice_from == "injection" and not self.inject:
            raise ValueError("nothing is injected that could be noticed")
        if self.notice_from == "handover" and self.handover is None:
            raise ValueError("there is no handover to count from")
        return self


def bundled_drills() -> Path:
    """The folder of the drills that come with the program."""
    return Path(__file__).parent / "shipped"


def drill_folders() -> tuple[Path, ...]:
    """Folders of drills: the person's own, then those that come with the program."""
    return home() / "drills", bundled_drills()


def drill_names() -> list[str]:
    """Names of all drills there are."""
    return names_in(*drill_folders())


def load_drill(name: str) -> Drill:
    """A drill by name, or from a file by path.  Raises FileError in words."""
    return read_toml(find_named(name, drill_folders(), "drill"), Drill, "drill")
