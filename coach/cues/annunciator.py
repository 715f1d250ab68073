"""The choice among cues that want to be heard: one at a time, spaced, limited, never the same twice a minute.

Rules, each tested: no two sounds start within 5 s, the more urgent one first; a cue that isn't urgent sounds at most
once a minute; a high one twice at most, the second time as its only repetition, 20 s or more after the first; low ones
are deferred while crack is being listened for; what waited too long stays on the screen.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from coach.cues.table import AGAIN, RANK, RULES, Cue, Priority

KEPT: Final = 2
"""Number of sounds in a cue's room that its repetitions leave free."""
MINUTE: Final = 60.0
TEN_MINUTES: Final = 600.0
PATIENCE: Final[dict[Priority, float]] = {"high": math.inf, "medium": 60.0, "low": 15.0, "none": 0.0}
"""Longest wait of a cue to be heard, s: a prompt that comes late confuses more than it helps."""
PATIENCE_OF_ALARMS: Final = 60.0
"""The same for alarms, s: what is abnormal is as true a minute later."""


@dataclass(frozen=True)
class Sounded:
    """One sound: when (``at``, s), for which episode, and whether it was a repetition, or past the later limit."""

    at: float
    key: str
    again: bool = False
    later: bool = False


@dataclass(frozen=True)
class Heard:
    """The sounds heard, which no correction takes back: by cue, and all their times, s.

    ``owed`` are the cues that were unanswered at a restart: each is heard once more.
    """

    sounds: Mapping[str, tuple[Sounded, ...]] = field(default_factory=dict)
    all: tuple[float, ...] = ()
    owed: frozenset[str] = frozenset()

    def after_restart(self, unanswered: Iterable[str]) -> Heard:
        """Owe the unanswered cues one more sound, after a replay with the sound off."""
        return replace(self, owed=frozenset(unanswered))

    def with_sound(self, name: str, sound: Sounded) -> Heard:
        """Add one more sound."""
        sounds = {**self.sounds, name: (*self.sounds.get(name, ()), sound)}
        return Heard(sounds, (*self.all, sound.at), self.owed - {name})

    def last(self, name: str) -> float:
        """Time at which a cue was last heard (``at`` axis, s); minus infinity if never."""
        mine = self.sounds.get(name, ())
        return mine[-1].at if mine else -math.inf


@dataclass(frozen=True)
class Pending:
    """An active, unanswered cue.

    ``begun``: sounds from then on belong to it; ``ready``: since when it could have sounded; both s.
    """

    row: Cue
    priority: Priority
    begun: float
    ready: float
    key: str
    later: bool


def choose(pending: Sequence[Pending], heard: Heard, at: float, hushed: bool) -> tuple[Heard, str | None]:
    """The cue to be heard at ``at`` (s) and what was heard then; None when all keep quiet."""
    active = {p.row.name for p in pending}
    if heard.owed - active:
        heard = replace(heard, owed=heard.owed & active)
    if heard.all and at - heard.all[-1] < RULES.spacing:
        return heard, None
    for p in sorted(pending, key=lambda p: RANK[p.priority]):
        sound = _due(p, heard, at)
        if sound is not None and not (hushed and p.priority == "low") and _room(p, heard, sound):
            return heard.with_sound(p.row.name, sound), p.row.name
    return heard, None


def _due(p: Pending, heard: Heard, at: float) -> Sounded | None:
    """The sound that a cue has coming: its first, its only repetition, or the one owed after a restart."""
    name = p.row.name
    if name in heard.owed:
        return Sounded(at, p.key, again=True, later=p.later)
    mine = [x for x in heard.sounds.get(name, ()) if x.at >= p.begun and x.key == p.key]
    if not mine:
        if at - p.ready > _patience(p) or not _allowed(p, heard, at):
            return None
        return Sounded(at, p.key, later=p.later)
    if not p.row.again or any(x.again for x in mine) or not _allowed(p, heard, at):
        return None
    if at - mine[-1].at >= AGAIN[p.priority] or (p.later and not mine[-1].later):
        return Sounded(at, p.key, again=True, later=p.later)
    return None


def _patience(p: Pending) -> float:
    """Longest wait of a cue to be heard, s."""
    alarm = p.row.speaks(p.later)[0] == "alarm"
    return max(PATIENCE[p.priority], PATIENCE_OF_ALARMS) if alarm else PATIENCE[p.priority]


def _allowed(p: Pending, heard: Heard, at: float) -> bool:
    """True once a minute; for high ones a second time after 20 s, or as soon as the later limit is passed."""
    recent = [x for x in heard.sounds.get(p.row.name, ()) if at - x.at < MINUTE]
    if p.priority != "high" or not recent:
        return not recent
    worse = p.later and not recent[-1].later
    return len(recent) == 1 and (worse or at - recent[-1].at >= AGAIN["high"])


def _room(p: Pending, heard: Heard, sound: Sounded) -> bool:
    """True if the last ten minutes have room for this sound; a repetition leaves some for what is new."""
    kept = KEPT if sound.again else 0
    return sum(1 for t in heard.all if sound.at - t < TEN_MINUTES) < p.row.room(p.priority) - kept
