"""Sources of entries beside the keyboard: a simulated roaster, or a journal that is replayed.

``Source`` is the part common to all; the others are abilities that a source may have or not.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from coach.roast.entries import Entry

if TYPE_CHECKING:
    from pathlib import Path

    from coach.cues.situation import ActiveCue
    from coach.roast.roast import Numbered
    from coach.session.coach import Coach


class OpenRoast(Protocol):
    """A roast that is open: typed into, looked on at, or replayed."""

    coach: Coach
    read_only: bool

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


@dataclass
class Feed:
    """Progress with a source: its entries still to be entered, those it is still to hear, and its time (s)."""

    given: deque[Entry] = field(default_factory=deque)
    untold: list[Entry] = field(default_factory=list)
    at: float = 0.0
    taking: bool = False
    """True while the next part is due."""


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
    """A look at the beans: words, smell, and a colour ('#rrggbb')."""

    @property
    def words(self) -> str: ...
    @property
    def smell(self) -> str: ...
    @property
    def colour(self) -> str: ...


@runtime_checkable
class Looks(Protocol):
    """Ability of a source whose beans can be looked at."""

    def look(self, coach: Coach) -> Seen:
        """A look at the trier now."""
        ...


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
class Jumps(Protocol):
    """Ability of a source whose time can be put forward."""

    def jump(self, coach: Coach) -> object:
        """Go forward to the next interesting moment; entries on the way come from ``advance``."""
        ...


@runtime_checkable
class TakenOver(Protocol):
    """Ability of a source in which a simulated person works, from whom the person can take over."""

    def take_over(self, coach: Coach) -> str:
        """Let the person work from now on; return the message about it."""
        ...


@runtime_checkable
class Sounds(Protocol):
    """Ability of a source that sounds all the time."""

    @property
    def sound(self) -> Callable[[float, int], NDArray[np.float32]] | None:
        """Samples at a time (s), or None if there is nothing to hear."""
        ...
