"""Sources of entries beside the keyboard: a simulated roaster, or a journal that is replayed."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final, Protocol

from coach.roast.errors import printable
from coach.session.settings import Action

if TYPE_CHECKING:
    from coach.app.sound.mixer import Background
    from coach.roast.entries import Entry
    from coach.session.coach import Coach
    from coach.simulator.trier import TrierLook

SOURCE_STEP: Final = 300.0
"""Longest step of a source, s of its time: some milliseconds of a simulated roaster."""
CATCHES_UP: Final = 30.0
"""Delay beyond which a source catches up in parts, s; at twenty times real time a pulse is 4 s."""


class Source(Protocol):
    """Hears what is entered, gives entries of its own as time passes, and shows a line of dials: a simulated roaster
    with a person at it, or a replay.  As it stands here it does nothing, as in a live roast.
    """

    @property
    def silent(self) -> bool:
        """True in a drill without sound."""
        return False

    @property
    def stage(self) -> str:
        """The person's stage in a rehearsal; '' for none."""
        return ""

    @property
    def sound(self) -> Background | None:
        """Sound that it makes all the time; None if none."""
        return None

    @property
    def paused(self) -> bool:
        """True while time is stopped."""
        return False

    def hear(self, entry: Entry, coach: Coach) -> None:
        """Hear an entry, after it was taken."""
        return

    def advance(self, now: float, coach: Coach) -> Sequence[Entry]:
        """Let time pass to ``now`` (s since the roast was opened); return the entries to be entered."""
        return ()

    def line(self, coach: Coach) -> str:
        """One line for the screen, '' for none."""
        return ""

    def toggle_pause(self) -> None:
        """Stop time, or let it go on."""
        return

    def look(self, coach: Coach) -> TrierLook | None:
        """A look at the trier now; None where there is none."""
        return None

    def jump(self, coach: Coach) -> str:
        """Go forward to the next interesting moment; entries on the way come from ``advance``.  Return the message
        about it, '' where it can't."""
        return ""

    def take_over(self, coach: Coach) -> str:
        """Let the person work from now on; return the message about it, '' where nobody else works."""
        return ""


class Live(Source):
    """The source of a live roast, which gives nothing."""


class Feed:
    """Progress with a source: its entries in parts, what it is told, and its abilities.

    ``begin`` starts its clock.  After a jump of that clock there may be a roast full of entries.
    """

    def __init__(self, source: Source | None = None, begin: Callable[[], object] = lambda: None) -> None:
        self.source = source or Live()
        self.begin = begin
        self._at = 0.0
        self._given: deque[Entry] = deque()
        self._untold: list[Entry] = []

    @property
    def by_ear(self) -> bool:
        """True in a rehearsal by ear, which shows the dials alone."""
        return self.source.stage == "cues only"

    def line(self, coach: Coach) -> str:
        """Its dials in one line, '' for none."""
        return printable(self.source.line(coach))

    def take(self, now: float, coach: Coach, enter: Callable[[Entry], None], enough: Callable[[], bool]) -> bool:
        """Enter its entries up to ``now`` (s) until it is ``enough`` for this time; return True if these were all."""
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
        if entry.came > self._at + CATCHES_UP:
            self._untold.append(entry)
        else:
            self.source.hear(entry, coach)

    def do(self, action: Action, coach: Coach, now: float) -> str:
        """Do what only some sources can do, at ``now`` (s): look, pause, jump or take over; return the message about
        it."""
        source, refusal = self.source, f"{action}: not in this roast."
        if action == "pause":
            stood = source.paused
            source.toggle_pause()
            return "PAUSED" if source.paused else "going on" if stood else refusal
        if action == "look":
            seen = source.look(coach)
            return refusal if seen is None else printable(f"trier: {seen.words}; smells of {seen.smell}")
        if action == "take_over":
            return source.take_over(coach) or refusal
        if now > self._at + CATCHES_UP:
            return "The roaster catches up: in a moment."
        return printable(source.jump(coach)) or refusal
