"""The one table of cues: what each asks for, why, and how it sounds.  A cue without an action makes no sound."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from coach.roast import Phase
from coach.situation import Family, Priority

SoundName = Literal["act now", "alarm", "get ready", "prompt", "none"]

ROASTING: Final[frozenset[Phase]] = frozenset({"drying", "browning", "development"})
BEFORE_CRACK: Final[frozenset[Phase]] = frozenset({"drying", "browning"})
AFTER_CRACK: Final[frozenset[Phase]] = frozenset({"development"})
WAITING: Final[frozenset[Phase]] = frozenset({"waiting"})


@dataclass(frozen=True)
class Cue:
    """One row: family, priority and sound; the action asked for, the consequence of leaving it, the time there is (s),
    and the phases in which it exists."""

    name: str
    family: Family
    priority: Priority
    sound: SoundName
    action: str
    consequence: str
    time_available: float
    phases: frozenset[Phase]

    def __post_init__(self) -> None:
        if self.sound != "none" and not (self.action and self.consequence and self.time_available > 0):
            raise ValueError(f"cue {self.name}: no action, no sound")
        if self.family == "diagnostic" and self.sound != "none":
            raise ValueError(f"cue {self.name}: a diagnostic is silent")


CUES: Final[dict[str, Cue]] = {
    c.name: c
    for c in (
        Cue("over safety limit", "alarm", "high", "act now", "heat off, follow your emergency plan",
            "fire", 15, ROASTING),
        Cue("drop overdue", "alarm", "high", "act now", "open the door", "over-roasted batch", 15, AFTER_CRACK),
        Cue("drop now", "prompt", "high", "act now", "open the door", "over-roasted batch", 15, ROASTING),
        Cue("crack early", "alarm", "medium", "alarm", "less heat now", "short browning", 60, BEFORE_CRACK),
        Cue("crack late", "alarm", "medium", "alarm", "more heat now", "baked, flat cup", 60, BEFORE_CRACK),
        Cue("stalling", "alarm", "medium", "alarm", "more heat", "baked, flat cup", 45, AFTER_CRACK),
        Cue("racing", "alarm", "medium", "alarm", "less heat", "scorched, uneven", 45, AFTER_CRACK),
        Cue("too hot", "alarm", "low", "alarm", "less heat or more air", "drift off the plan", 60, ROASTING),
        Cue("too cool", "alarm", "low", "alarm", "more heat or less air", "drift off the plan", 60, ROASTING),
        Cue("drop near", "prompt", "medium", "get ready", "hand to the door, look", "late drop", 30, ROASTING),
        Cue("move due", "prompt", "low", "prompt", "make the move and log it", "drift off the plan", 30, ROASTING),
        Cue("charge near", "prompt", "low", "prompt", "get the beans ready", "charged too hot", 30, WAITING),
        Cue("yellow near", "prompt", "low", "prompt", "look and smell; mark yellow", "no call", 30,
            frozenset({"drying"})),
        Cue("crack near", "prompt", "low", "prompt", "listen; tap the pops", "a late call", 40, BEFORE_CRACK),
        Cue("reading due", "prompt", "low", "prompt", "type a reading", "blind forecast", 60, ROASTING),
        Cue("reading doubtful", "diagnostic", "none", "none", "type the reading again", "", 60, ROASTING),
    )
}  # fmt: skip

RANK: Final[dict[Priority, int]] = {"high": 0, "medium": 1, "low": 2, "none": 3}
EXCLUDES: Final[dict[str, tuple[str, ...]]] = {
    "over safety limit": tuple(n for n in CUES if n != "over safety limit"),
    "drop overdue": ("drop now", "drop near", "too hot", "racing", "reading due"),
    "drop now": ("drop near", "too hot", "too cool", "reading due"),
    "crack early": ("too hot",),
    "crack late": ("too cool",),
    "stalling": ("too cool",),
    "racing": ("too hot",),
}
"""One cause, one cue: while the first stands, the others keep quiet."""
