"""The table of cues, from which the watch, the sounds, the screen and the documents are made.

The test of an alarm is that of ANSI/ISA-18.2-2016: it needs a response.  So a row names what to do, what comes of
leaving it, and how much time there is; a row without an action makes no sound.  Numbers without a source beside them
are this project's own choice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal, get_args

if TYPE_CHECKING:
    from coach.roast.roast import Phase

Family = Literal["alarm", "prompt", "diagnostic"]
Priority = Literal["high", "medium", "low", "none"]
SoundName = Literal["act now", "alarm", "get ready", "prompt", "none"]
SOUNDS: Final[tuple[SoundName, ...]] = get_args(SoundName)
"""Four sounds and silence: no more are surely told apart (MIL-STD-1472E 5.3.4.3.1).  The text gives the rest."""
RANK: Final[dict[Priority, int]] = {"high": 0, "medium": 1, "low": 2, "none": 3}
"""Order of urgency, most urgent first."""
AGAIN: Final[dict[Priority, float]] = {"high": 20.0, "medium": 60.0, "low": 60.0, "none": math.inf}
"""Time after which an unanswered cue sounds once more, s."""
CEILING: Final[dict[Priority, float]] = {"high": math.inf, "medium": 8, "low": 7, "none": 0}
"""Sounds in the last ten minutes at which a cue stays silent.  Ten is the limit (ANSI/ISA-18.2-2016, 16.4.3);
what these leave below it is kept for what is more urgent."""
Severity = Literal["minor", "major", "severe"]
"""Consequence of a cue that is left: drift that can still be mended; this batch's taste; people or the whole batch."""
Band = Literal["under 15 s", "15-60 s", "over 60 s"]
PRIORITIES: Final[dict[Band, dict[Severity, Priority]]] = {
    "over 60 s": {"minor": "low", "major": "low", "severe": "medium"},
    "15-60 s": {"minor": "low", "major": "medium", "severe": "medium"},
    "under 15 s": {"minor": "medium", "major": "high", "severe": "high"},
}
"""Priority from consequence and time, as alarm rationalisation does after ANSI/ISA-18.2-2016.  The cells are those of a
common published matrix for plants (10 to 30 min, 3 to 10 min, under 3 min), its times scaled to a roast."""
Answer = Literal["less heat", "more heat", "gas off", "none"]
"""The logged move that answers a cue.  Readings and marks need no entry here: they end the condition itself."""
SOON: Final = 60.0
"""Time left before what is forecast at which a predictive cue is graver, s."""
ROASTING: Final[frozenset[Phase]] = frozenset({"drying", "browning", "development"})
BEFORE_CRACK: Final[frozenset[Phase]] = frozenset({"drying", "browning"})
LATE: Final[frozenset[Phase]] = frozenset({"browning", "development"})
EVERY: Final[frozenset[Phase]] = frozenset({"waiting", "drying", "browning", "development", "cooling"})


@dataclass(frozen=True)
class Cue:
    """One row.

    ``time_available`` (s) is what there is between the cue and the event it warns of, ``severity`` how grave it is to
    leave it; the priority follows from both (``PRIORITIES``), and so does the one that holds ``later_when``.
    ``clear_at``: the condition is over when its size falls below this, 1 being where it begins.  ``two``: it must hold
    for two different readings, one being enough at twice the size.  ``predictive``: it speaks of what will come, so it
    sounds only if sure, in time, and not dealt with already.  ``again``: true if it sounds once more when unanswered.
    ``masked_by``: cues of the same cause, or of one that makes this one idle.  ``ceiling``: sounds of the last ten
    minutes from which on it stays silent, where its priority alone allows more.
    """

    name: str
    family: Family
    sound: SoundName
    condition: str
    action: str
    consequence: str
    severity: Severity
    time_available: float
    phases: frozenset[Phase]
    persistence: str = "at once"
    deadband: str = ""
    clear_at: float = 0.75
    two: bool = False
    predictive: bool = False
    answer: Answer = "none"
    again: bool = True
    later_family: Family = "alarm"
    later_when: str = ""
    later_severity: Severity = "major"
    later_time: float = 0.0
    masked_by: tuple[str, ...] = ()
    ceiling: float = math.inf
    reserved: int = 0
    """Number of sounds above the ceiling that are reserved for this cue."""

    @property
    def priority(self) -> Priority:
        """Priority from consequence and time; none without a sound."""
        return "none" if self.sound == "none" else PRIORITIES[self.available][self.severity]

    @property
    def later(self) -> tuple[Family, Priority] | None:
        """Family and priority when ``later_when`` holds."""
        return (self.later_family, PRIORITIES[band(self.later_time)][self.later_severity]) if self.later_when else None

    def speaks(self, later: bool) -> tuple[Family, Priority]:
        """Family and priority that hold."""
        return (self.later if later else None) or (self.family, self.priority)

    def room(self, priority: Priority) -> float:
        """Number of sounds in the last ten minutes at which this cue stays silent."""
        return min(self.ceiling, CEILING[priority]) + self.reserved

    @property
    def available(self) -> Band:
        """The time available as the band that goes into the priority."""
        return band(self.time_available)


def band(seconds: float) -> Band:
    """A time available (s) as the band that goes into the priority."""
    if seconds <= 15:
        return "under 15 s"
    return "15-60 s" if seconds <= SOON else "over 60 s"


_IDLE_AT_DROP: Final = ("over safety limit", "drop now")
_FORECASTS: Final = (
    "0.70 or more (over 200 s ahead up to 0.90) in two forecasts from different readings, 20 to 300 s left, no such"
    " move in 45 s"
)
_RISES: Final = (
    "0.70 or more in two forecasts from different readings as typed (over 200 s ahead up to 0.90), 20 to 300 s left, no"
    " such move in 45 s"
)
_UNSURE: Final = "under three quarters of that (from 0.40 on a silent mark)"
_READINGS: Final = "two readings running, or one beyond twice the band"
_INSIDE: Final = "inside three quarters of the band"

TABLE: Final[tuple[Cue, ...]] = (
    Cue("over safety limit", "alarm", "act now",
        condition="a reading at or over the profile's safety limit",
        action="heat off, follow your emergency plan",
        consequence="fire", severity="severe", time_available=15, phases=EVERY,
        persistence="one reading; a doubtful one if within 30 °C of the estimate or borne out by the next",
        deadband="2.5 °C under the limit", clear_at=0.0, answer="gas off"),
    Cue("drop now", "prompt", "act now",
        condition="the profile's rule for drop is met",
        action="open the door",
        consequence="over-roasted batch, cannot be saved", severity="severe", time_available=15, phases=ROASTING,
        deadband="one tolerance before the rule", clear_at=0.0,
        later_when="past the tolerance", later_severity="severe",
        later_time=15, masked_by=("over safety limit",)),
    Cue("drop near", "prompt", "get ready",
        condition="drop is due within 30 s",
        action="get ready to drop",
        consequence="late drop", severity="major", time_available=30, phases=ROASTING,
        deadband="more than 60 s away", again=False, masked_by=_IDLE_AT_DROP, reserved=1),
    Cue("crack early", "alarm", "alarm",
        condition="first crack before its window is probable",
        action="less heat now",
        consequence="short browning", severity="major", time_available=120, phases=BEFORE_CRACK,
        persistence=_FORECASTS, deadband=_UNSURE, two=True, predictive=True, answer="less heat",
        later_when="with a minute or less left", later_time=60, reserved=1,
        masked_by=_IDLE_AT_DROP),
    Cue("crack late", "alarm", "alarm",
        condition="first crack after its window is probable",
        action="more heat now",
        consequence="long browning, flat cup", severity="major", time_available=120, phases=BEFORE_CRACK,
        persistence=_FORECASTS, deadband=_UNSURE, two=True, predictive=True, answer="more heat",
        later_when="with a minute or less left", later_time=60, reserved=1,
        masked_by=_IDLE_AT_DROP),
    Cue("stalling", "alarm", "alarm",
        condition="a rate of rise under the floor before drop is probable",
        action="more heat now",
        consequence="baked, flat cup", severity="major", time_available=90, phases=LATE,
        persistence=_RISES, deadband=_UNSURE, two=True, predictive=True, answer="more heat",
        later_when="with a minute or less left", later_time=60, reserved=1,
        masked_by=(*_IDLE_AT_DROP, "drop near", "crack early", "crack late")),
    Cue("racing", "alarm", "alarm",
        condition="a rate of rise over the ceiling until drop is probable",
        action="less heat now",
        consequence="scorched, uneven; drop hard to hit", severity="major", time_available=90, phases=LATE,
        persistence=_RISES, deadband=_UNSURE, two=True, predictive=True, answer="less heat",
        later_when="with a minute or less left", later_time=60, reserved=1,
        masked_by=(*_IDLE_AT_DROP, "drop near", "crack early", "crack late")),
    Cue("too hot", "alarm", "alarm",
        condition="readings above the tolerance band, once past the turning point",
        action="less heat",
        consequence="drift ahead of the plan", severity="minor", time_available=90, phases=ROASTING,
        persistence=_READINGS, deadband=_INSIDE, two=True, answer="less heat",
        later_when="after first crack", later_time=60,
        masked_by=(*_IDLE_AT_DROP, "drop near", "crack early", "racing")),
    Cue("too cool", "alarm", "alarm",
        condition="readings below the tolerance band, once past the turning point",
        action="more heat",
        consequence="drift behind the plan", severity="minor", time_available=90, phases=ROASTING,
        persistence=_READINGS, deadband=_INSIDE, two=True, answer="more heat",
        later_when="after first crack", later_time=60,
        masked_by=(*_IDLE_AT_DROP, "drop near", "crack late", "stalling")),
    Cue("tapped crack", "prompt", "prompt",
        condition="first crack is called from taps and not confirmed yet",
        action="confirm it, or say no",
        consequence="development without a start", severity="major", time_available=30, phases=BEFORE_CRACK,
        deadband="the call is undone", masked_by=("over safety limit",)),
    Cue("move due", "prompt", "prompt",
        condition="a planned move is due within 5 s, or overdue",
        action="make the move and log it",
        consequence="drift off the plan", severity="minor", time_available=30, phases=ROASTING,
        deadband="the move is logged, or left out", masked_by=_IDLE_AT_DROP),
    Cue("charge near", "prompt", "prompt",
        condition="the drum reaches charge temperature within 30 s",
        action="get the beans ready",
        consequence="charged too hot", severity="minor", time_available=30, phases=frozenset({"waiting"}),
        deadband="more than 60 s away", again=False, masked_by=("over safety limit",), ceiling=6),
    Cue("yellow near", "prompt", "prompt",
        condition="yellow is forecast within 20 s",
        action="look and smell; mark yellow",
        consequence="no yellow to compare later roasts by", severity="minor", time_available=30,
        phases=frozenset({"drying"}),
        deadband="more than 40 s away", again=False, masked_by=("over safety limit",), ceiling=6),
    Cue("crack near", "prompt", "get ready",
        condition="the window in which to listen for first crack opens within 20 s",
        action="listen; tap the pops",
        consequence="a late call", severity="minor", time_available=40, phases=BEFORE_CRACK,
        deadband="more than 40 s away", again=False, masked_by=("over safety limit", "tapped crack"), reserved=1),
    Cue("reading due", "prompt", "prompt",
        condition="no reading for one and a half of the profile's intervals, or by when the forecast asks for one",
        action="type a reading",
        consequence="blind forecast", severity="minor", time_available=90, phases=ROASTING,
        persistence="at once; not while something is being typed",
        deadband="a reading is typed",
        later_family="prompt", later_when="after three intervals without one", later_time=60,
        masked_by=_IDLE_AT_DROP, ceiling=4),
    Cue("reading doubtful", "diagnostic", "none",
        condition="the last reading can't be true, or is far from what was expected",
        action="look again and retype it",
        consequence="it stays out of the forecast", severity="minor", time_available=90, phases=ROASTING,
        deadband="another reading, or this one withdrawn"),
    Cue("gas moved", "diagnostic", "none",
        condition="the readings look as if a gas move were missing",
        action="log the move, if there was one",
        consequence="a forecast with the wrong heat", severity="minor", time_available=90, phases=ROASTING,
        deadband="a gas move is logged, or the readings agree again"),
    Cue("today is unlike", "diagnostic", "none",
        condition="something today is unlike all earlier roasts",
        action="rely less on the forecast",
        consequence="an error larger than it says", severity="minor", time_available=90, phases=ROASTING,
        deadband="inside again"),
)  # fmt: skip


CUES: Final[dict[str, Cue]] = {row.name: row for row in TABLE}
"""The table by name; within a priority the higher row comes first."""


@dataclass(frozen=True)
class Rules:
    """The numbers of the watch: leads, probabilities, waiting times.  Times in s, temperatures in K.  Those without a
    source are this project's choice."""

    sure: float = 0.70
    """Probability from which on a predictive cue sounds: aids that are right less often were found worse than none
    (Wickens and Dixon 2007, TIES 8:201; an order of magnitude rather than a constant)."""
    sure_far: float = 0.90
    """The same at ``furthest``; in between, from ``far`` (s) on, proportional: the probability leaves out what somebody
    still does in that time."""
    far: float = 200.0
    maybe: float = 0.40
    """Probability from which on it is a silent mark on the screen."""
    needed: float = 20.0
    """Time to hear, decide and move, and for the roast to begin to answer, s."""
    furthest: float = 300.0
    """Time ahead beyond which a cue is a silent mark, however probable, s."""
    response: float = 45.0
    """Time that a corrective move gets before its direction is requested again, s."""
    worse: float = 0.5
    """Number of bands by which an answered cue must get worse to come back."""
    drop_lead: float = 30.0
    charge_lead: float = 30.0
    yellow_lead: float = 20.0
    crack_lead: float = 20.0
    move_lead: float = 5.0
    settle: float = 30.0
    """Time after the reference's turning point from which the band counts, where none is marked, s."""
    patience: float = 1.5
    """Number of the profile's intervals after which a reading is due."""
    shortest: float = 15.0
    """Shortest time after the last reading at which one is requested, s, however much the forecast wants one."""
    plausible: float = 30.0
    """Distance from the estimate within which a doubtful reading over the safety limit is believed, K."""
    listening: float = 60.0
    """Longest time, in all, for which low sounds are deferred while first crack is being listened for, s."""
    spacing: float = 5.0
    """Shortest time between the starts of two sounds, s."""

    def sure_at(self, left: float) -> float:
        """The probability from which on a predictive cue sounds with so much time left (s)."""
        share = (left - self.far) / max(self.furthest - self.far, 1.0)
        return self.sure + max(self.sure_far - self.sure, 0.0) * min(max(share, 0.0), 1.0)


RULES: Final = Rules()
