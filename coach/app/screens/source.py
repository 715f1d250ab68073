"""Sources of entries beside the keyboard: a simulated roaster, or a journal that is replayed.

``Source`` is the part common to all; the others are abilities that a source may have or not.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from coach.roast.entries import Entry
from coach.roast.errors import printable
from coach.session.settings import Action

if TYPE_CHECKING:
    from pathlib import Path

    from coach.cues.situation import ActiveCue
    from coach.roast.roast import Numbered
    from coach.session.coach import Coach

SOURCE_STEP: Final = 300.0
"""Longest step of a source, s of its time: some milliseconds of a simulated roaster."""
CATCHES_UP: Final = 30.0
"""Delay beyond which a source catches up in parts, s; at twenty times real time a pulse is 4 s."""


class OpenRoast(Protocol):
    """A roast that is open: typed into, looked on at, or replayed."""

    coach: Coach
    read_only: bool
    word: str
    """Remark for the person on its opening; '' where there is none."""

    @property
    def path(self) -> Path:
        """Its journal."""
        ...

    @property
    def trouble(self) -> str:
        """The trouble with the journal, in words; '' if there is none."""
        ...

    @property
    def pending(self) -> int:
        """Number of entries that are not on disk yet."""
        ...

    def now(self) -> float:
        """Seconds since it was opened."""
        ...

    def enter(self, entry: Entry, *, most: int | None = None) -> Numbered:
        """Take an entry.  Raises CoachError."""
        ...

    def refuse(self) -> None:
        """Refuse what is typed, where nothing can be typed into it.  Raises CoachError in words."""

    def poll(self) -> tuple[ActiveCue, ...]:
        """Take entries of others; return the cues that sound for them."""
        ...

    def close(self) -> None:
        """Close the roast, after writing what is not yet on disk."""


class Source(Protocol):
    """Hears what is entered, gives entries of its own as time passes, and shows a line of dials."""

    def hear(self, entry: Entry, coach: Coach) -> None:
        """Hear an entry, after it was taken."""

    def advance(self, now: float, coach: Coach) -> Sequence[Entry]:
        """Let time pass to ``now`` (s since the roast was opened); return the entries to be entered."""
        ...

    def line(self, coach: Coach) -> str:
        """One line for the screen, '' for none."""
        ...


class Seen(Protocol):
    """A look at the beans: words, and smell."""

    @property
    def words(self) -> str: ...
    @property
    def smell(self) -> str: ...


@runtime_checkable
class Pauses(Protocol):
    """Ability of a source whose time can be stopped."""

    @property
    def paused(self) -> bool:
        """True while time is stopped."""
        ...

    def toggle_pause(self) -> object:
        """Stop time, or let it go on."""
        ...


@runtime_checkable
class Simulates(Protocol):
    """Abilities of a source that simulates a roaster, which sounds all the time, and a person at it."""

    @property
    def sound(self) -> Callable[[float, int], NDArray[np.float32]] | None:
        """Samples at a time (s), or None if there is nothing to hear."""
        ...

    def look(self, coach: Coach) -> Seen:
        """A look at the trier now."""
        ...

    def jump(self, coach: Coach) -> object:
        """Go forward to the next interesting moment; entries on the way come from ``advance``."""
        ...

    def take_over(self, coach: Coach) -> str:
        """Let the person work from now on; return the message about it."""
        ...


class Feed:
    """Progress with a source, if there is one: its entries in parts, what it is told, and its abilities.

    ``begin`` starts its clock.  After a jump of that clock there may be a roast full of entries.
    """

    def __init__(self, source: Source | None = None, begin: Callable[[], object] = lambda: None) -> None:
        self.source = source
        self.begin = begin
        self._at = 0.0
        self._given: deque[Entry] = deque()
        self._untold: list[Entry] = []

    @property
    def silent(self) -> bool:
        """True in a drill without sound."""
        return bool(getattr(self.source, "silent", False))

    @property
    def by_ear(self) -> bool:
        """True in a rehearsal by ear, which shows the dials alone."""
        return getattr(self.source, "stage", "") == "cues only"

    def line(self, coach: Coach) -> str:
        """Its dials in one line, '' for none."""
        return "" if self.source is None else printable(self.source.line(coach))

    def take(self, now: float, coach: Coach, enter: Callable[[Entry], None], enough: Callable[[], bool]) -> bool:
        """Enter its entries up to ``now`` (s) until it is ``enough`` for this time; return True if these were all."""
        if self.source is None:
            return True
        while self._given or self._at < now:
            if not self._given:
                self._at = min(now, self._at + SOURCE_STEP)
                self._given.extend(self.source.advance(self._at, coach))
            if self._given:
                enter(self._given.popleft())
            if (self._given or self._at < now) and enough():
                return False
        untold, self._untold = self._untold, []
        for entry in untold:
            self.source.hear(entry, coach)
        return True

    def tell(self, entry: Entry, coach: Coach) -> None:
        """Tell the source of an entry: one typed while it catches up, when its clock is there; its own at once."""
        if self.source is not None and entry.came > self._at + CATCHES_UP:
            self._untold.append(entry)
        elif self.source is not None:
            self.source.hear(entry, coach)

    def do(self, action: Action, coach: Coach, now: float) -> str:
        """Do what only some sources can do, at ``now`` (s): look, pause, jump or take over; return the message about
        it."""
        source = self.source
        if action == "pause" and isinstance(source, Pauses):
            source.toggle_pause()
            return "PAUSED" if source.paused else "going on"
        if not isinstance(source, Simulates):
            return f"{action}: not in this roast."
        if action == "look":
            seen = source.look(coach)
            return printable(f"trier: {seen.words}; smells of {seen.smell}")
        if action == "take_over":
            return source.take_over(coach)
        return "The roaster catches up: in a moment." if now > self._at + CATCHES_UP else printable(source.jump(coach))
