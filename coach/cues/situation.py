"""The situation: everything that is known at one moment, for the watch to judge and the screen to show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from coach.advice.advice_values import Advice
from coach.cues.table import Family, Priority
from coach.forecast.forecast_values import Estimate, Forecast
from coach.forecast.turned_readings import Turn
from coach.roast.profile import Profile, Step
from coach.roast.roast import Roast
from coach.roast.units import clock, number

CueState = Literal["normal", "unacknowledged", "acknowledged", "returned", "shelved", "suppressed"]


@dataclass(frozen=True)
class Preheat:
    """Preheat: when the drum reaches charge temperature (``at`` axis, s), its sd, and the trend (K/s)."""

    ready_at: float
    ready_sd: float
    temperature: float
    rate: float


@dataclass(frozen=True)
class NextMove:
    """The next planned move that was not made: the step, when it is due (roast time, s), and seconds until then."""

    step: Step
    due: float
    until: float

    @property
    def words(self) -> str:
        """The move and its planned time: 'gas 1.2 at 6:20'."""
        return f"{self.step.control} {number(self.step.shown, 2)} at {clock(self.due)}"


@dataclass(frozen=True)
class Situation:
    """One moment: ``at`` (s since the journal's start), ``t`` roast time (s; None before charge)."""

    at: float
    t: float | None
    profile: Profile
    roast: Roast
    estimate: Estimate | None
    forecast: Forecast
    preheat: Preheat | None = None
    next_move: NextMove | None = None
    advice: Advice | None = None
    sensitivity: str = ""
    typing: bool = False
    """True if something is in the entry line just now (defers the reading-due cue)."""
    due_moves: tuple[NextMove, ...] = ()
    """The next planned move, and those that are due with it."""
    missed: tuple[NextMove, ...] = ()
    """Planned moves that were due, were neither made nor left out, and that no later one has replaced; newest first."""
    tapped_onset: float | None = None
    """Onset of first crack as called from taps (roast time, s)."""
    turn: Turn | None = None
    """The number offered for the moment at which the dial turns to it."""

    @property
    def beyond_reference(self) -> bool:
        """True if the reference has ended: it is not extrapolated, so there is nothing to compare a roast with."""
        return self.t is not None and self.t > self.profile.curve.end

    @property
    def plan_ended(self) -> bool:
        """True if the plan is over: its reference has ended, and so has the development that a marked crack began."""
        crack, development = self.roast.marks.get("first crack"), self.profile.development
        rule = 0.0 if crack is None or development is None else crack + development
        return self.beyond_reference and (self.t or 0.0) > rule + self.profile.document.drop.time_tolerance


@dataclass(frozen=True)
class ActiveCue:
    """A cue as the screen and the journal show it."""

    name: str
    family: Family
    priority: Priority
    state: CueState
    sounds: bool
    """True at the moment at which it is to be heard, False otherwise."""
    text: str
    """Condition and evidence ('crack 8:02 to 8:14, plan 8:30')."""
    action: str
    since: float
    """Time at which it became true (``at`` axis, s)."""
    evidence: Mapping[str, float] = field(default_factory=dict)
