"""A finished roast replayed on the screen: its entries come in at their times, and nothing is written."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from coach.app.live import OpenRoast
from coach.app.screens.source import Source
from coach.roast.entries import Correction, Entry
from coach.roast.units import clock
from coach.session.coach import Coach
from coach.session.journal import Journal
from coach.session.settings import Action
from coach.simulator.rehearsal.clock import RehearsalClock

BEFORE_CHARGE: Final = 10.0
"""Time before the first entry at which the replay begins, s."""


class Replayed(OpenRoast):
    """A roast in memory alone; only its source enters anything."""

    read_only = "This is a replay: what is typed is not taken. p pauses, Ctrl+q leaves."


class Playback(Source):
    """The source of a replay: the journal's entries, each when it came in."""

    def __init__(self, journal: Journal, watch: RehearsalClock) -> None:
        self._entries: list[Entry] = []
        lines: dict[int, int] = {}
        for i, n in enumerate(journal.entries):
            lines[n.line] = i + 2
            entry = n.entry
            if isinstance(entry, Correction):
                entry = entry.model_copy(update={"of": lines.get(entry.of, entry.of)})
            self._entries.append(entry)
        self._next = 0
        self._watch = watch
        first = min((e.came for e in self._entries), default=0.0)
        self.start = max(first - BEFORE_CHARGE, 0.0)

    def begin(self) -> None:
        self._watch.begin()

    @property
    def over(self) -> bool:
        """True once all has been entered."""
        return self._next == len(self._entries)

    def advance(self, now: float, coach: Coach) -> Sequence[Entry]:
        first = self._next
        while not self.over and self._entries[self._next].came <= now:
            self._next += 1
        return self._entries[first : self._next]

    def line(self, coach: Coach) -> str:
        left = len(self._entries) - self._next
        if not left:
            return "REPLAY  the journal is at its end"
        word = "  PAUSED" if self._watch.paused else ""
        due = clock(coach.roast.time(self._entries[self._next].came))
        return f"REPLAY  {left} entries to come, the next at {due}{word}"

    def do(self, action: Action, coach: Coach) -> str:
        if action != "pause":
            return ""
        self._watch.toggle()
        return "PAUSED" if self._watch.paused else "going on"


def replayed(journal: Journal, coach: Coach, watch: RehearsalClock) -> tuple[Replayed, Playback]:
    """The roast and the source of a replay."""
    source = Playback(journal, watch)
    return Replayed(coach, lambda: source.start + watch(), "Replay: nothing is written."), source
