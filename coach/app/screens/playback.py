"""A finished roast replayed on the screen: its entries come in at their times, and nothing is written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final, Never, Protocol

from coach.cues.situation import ActiveCue
from coach.roast.entries import Correction, Entry
from coach.roast.errors import EntryError
from coach.roast.roast import Numbered
from coach.roast.units import clock
from coach.session.coach import Coach
from coach.session.journal import Journal

BEFORE_CHARGE: Final = 10.0
"""Time before the first entry at which the replay begins, s."""


class Watch(Protocol):
    """A clock that can be stopped."""

    def __call__(self) -> float: ...
    def begin(self) -> None: ...
    def stop(self) -> None: ...
    @property
    def paused(self) -> bool: ...


class Replayed:
    """A roast in memory alone; only its source enters anything."""

    read_only = True
    pending = 0
    trouble = ""
    word = "Replay: nothing is written."

    def __init__(self, coach: Coach, watch: Callable[[], float], start: float) -> None:
        """``start``: time of the clock when ``watch`` shows 0, s since the journal's start."""
        self.coach = coach
        self.path = Path()
        self._watch = watch
        self._start = start

    def now(self) -> float:
        """Seconds since the journal's start."""
        return round(self._start + self._watch(), 1)

    def enter(self, entry: Entry, *, most: int | None = None) -> Numbered:
        """Take an entry of the journal."""
        return self.coach.take(self.coach.prepare(entry), most=most)

    def refuse(self) -> Never:
        """Refuse what is typed: raises EntryError, nothing is typed into a replay."""
        raise EntryError("This is a replay: what is typed is not taken.", "p pauses, Ctrl+q leaves.")

    def poll(self) -> tuple[ActiveCue, ...]:
        """Take nothing from elsewhere: the entries come from the source."""
        return ()

    def close(self) -> None:
        """Close nothing."""


class Playback:
    """The source of a replay: the journal's entries, each when it came in."""

    def __init__(self, journal: Journal, watch: Watch) -> None:
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

    @property
    def over(self) -> bool:
        """True once all has been entered."""
        return self._next == len(self._entries)

    def hear(self, entry: Entry, coach: Coach) -> None:
        """Do nothing on an entry."""

    def advance(self, now: float, coach: Coach) -> Sequence[Entry]:
        """The entries that came in up to ``now`` (s)."""
        first = self._next
        while not self.over and self._entries[self._next].came <= now:
            self._next += 1
        return self._entries[first : self._next]

    def line(self, coach: Coach) -> str:
        """Progress of the replay, in one line."""
        left = len(self._entries) - self._next
        if not left:
            return "REPLAY  the journal is at its end"
        word = "  PAUSED" if self.paused else ""
        due = clock(coach.roast.time(self._entries[self._next].came))
        return f"REPLAY  {left} entries to come, the next at {due}{word}"

    @property
    def paused(self) -> bool:
        """True while time is stopped."""
        return self._watch.paused

    def toggle_pause(self) -> None:
        """Stop, or go on."""
        if self._watch.paused:
            self._watch.begin()
        else:
            self._watch.stop()


def replayed(journal: Journal, coach: Coach, watch: Watch) -> tuple[Replayed, Playback]:
    """The roast and the source of a replay."""
    source = Playback(journal, watch)
    return Replayed(coach, watch, source.start), source
