"""Where entries may come from beside the keyboard: a simulated roaster, or a journal that is played back.

``Source`` is what every one of them does; the others are abilities that a source may have or not.
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
    """A roast that is open: typed into, looked on at, or played back."""

    coach: Coach
    read_only: bool

    @property
    def path(self) -> Path:
        """Its journal."""
        ...

    @property
    def trouble(self) -> str:
        """What is wrong with the journal, in words; '' if nothing is."""
        ...

    @property
    def pending(self) -> int:
        """Entries that are not on disk yet."""
        ...

    def now(self) -> float:
        """Seconds since it was opened."""
        ...

    def enter(self, entry: Entry, *, most: int | None = None) -> Numbered:
        """Take an entry.  Raises CoachError."""
        ...

    def refuse(self) -> None:
        """Raises CoachError where nothing can be typed into it, in words."""

    def poll(self) -> tuple[ActiveCue, ...]:
        """What others have entered: the cues of it."""
        ...

    def close(self) -> None:
        """End it; what is not yet on disk is written first."""


@dataclass
class Feed:
    """How far a source was followed: what it gave and is still to be entered, what it is still to be told, its time."""

    given: deque[Entry] = field(default_factory=deque)
    untold: list[Entry] = field(default_factory=list)
    at: float = 0.0
    taking: bool = False
    """Whether the next part is due."""


class Source(Protocol):
    """Hears what is entered, gives entries of its own as time passes, and shows a line of dials."""

    def hear(self, entry: Entry, coach: Coach) -> None:
        """Told of each entry after it was taken."""

    def advance(self, now: float, coach: Coach) -> Sequence[Entry]:
        """Let time pass to ``now`` (s since the roast was opened); what is to be entered."""
        ...

    def line(self, coach: Coach) -> str:
        """One line for the screen, '' for none."""
        ...


class Seen(Protocol):
    """What a look at the beans shows: words, smell, and a colour ('#rrggbb')."""

    @property
    def words(self) -> str: ...
    @property
    def smell(self) -> str: ...
    @property
    def colour(self) -> str: ...


@runtime_checkable
class Looks(Protocol):
    """The beans can be looked at."""

    def look(self, coach: Coach) -> Seen:
        """A look at the trier now."""
        ...


@runtime_checkable
class Pauses(Protocol):
    """Time can be stopped."""

    @property
    def paused(self) -> bool:
        """Whether it stands."""
        ...

    def toggle_pause(self) -> object:
        """Stop it, or let it go on."""
        ...


@runtime_checkable
class Jumps(Protocol):
    """Time can be put forward."""

    def jump(self, coach: Coach) -> object:
        """Go forward to where it becomes interesting; entries on the way come from ``advance``."""
        ...


@runtime_checkable
class TakenOver(Protocol):
    """A simulated person is at work, from whom can be taken over."""

    def take_over(self, coach: Coach) -> str:
        """From now on the person works; what to say about it."""
        ...


@runtime_checkable
class Sounds(Protocol):
    """There is something to be heard all the time."""

    @property
    def sound(self) -> Callable[[float, int], NDArray[np.float32]] | None:
        """Samples at a time (s), or None if there is nothing to hear."""
        ...
