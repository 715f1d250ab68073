"""A running roast at the edge: its journal on disk, its clock, and the coach behind them."""

from __future__ import annotations

import contextlib
import secrets
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Final

from coach.cues.situation import ActiveCue
from coach.forecast.knowledge import Knowledge
from coach.roast.entries import Dial, Entry, Header, RoastKind
from coach.roast.errors import EntryError, FileError, reason_of
from coach.roast.profile import Profile
from coach.roast.roast import Numbered
from coach.roast.units import TemperatureUnit
from coach.session.coach import Coach
from coach.session.journal import JournalWriter, in_use, line_of, make_folder, read_journal, sync_folder
from coach.session.journal_writer import Scribe
from coach.session.roast_clock import AT_A_TIME, Now, elapsed, right_now, stopwatch

WATCH: Final = 5.0
"""Interval at which an onlooker checks that the journal still has a writer, s."""
LOOKS_ON: Final = "Open in another coach: this one only looks on."
LEFT_ALONE: Final = "No coach writes this roast any more. Leave, start again, and go on with it."
PATIENCE: Final = 0.03
"""Time after which an entry that is not on disk is shown as being saved, s; the roast goes on."""

Clock = Callable[[], float]


class OpenRoast:
    """A roast that is open: typed into, looked on at, or replayed.  ``clock()`` gives seconds since it was opened."""

    read_only = ""
    """The reason why nothing can be typed into it, in words; '' where it can."""

    def __init__(self, coach: Coach, clock: Clock, word: str = "") -> None:
        self.coach = coach
        self.clock = clock
        self.word = word
        """Remark for the person on its opening; '' where there is none."""
        self._seen_at = 0.0

    @property
    def path(self) -> Path:
        """Its journal."""
        return Path()

    @property
    def trouble(self) -> str:
        """The trouble with the journal, in words; '' if there is none."""
        return ""

    @property
    def pending(self) -> int:
        """Number of entries that are not yet surely on disk."""
        return 0

    def now(self) -> float:
        """Seconds since the roast was opened; never runs backwards."""
        self._seen_at = max(self._seen_at, round(self.clock(), 1))
        return self._seen_at

    def enter(self, entry: Entry, *, most: int | None = None) -> Numbered:
        """Check and fold an entry (``most``: see ``Coach.take``).  Raises EntryError."""
        return self.coach.take(self.coach.prepare(entry), most=most)

    def poll(self) -> tuple[ActiveCue, ...]:
        """Take the entries that others have written since; return the cues that sound for them."""
        return ()

    def close(self) -> None:
        """Close the roast."""


class LiveRoast(OpenRoast):
    """One roast on disk and in the coach."""

    def __init__(self, coach: Coach, scribe: Scribe, clock: Clock, word: str = "") -> None:
        super().__init__(coach, clock, word)
        self.scribe = scribe

    @classmethod
    def open(
        cls,
        profile: Profile,
        folder: Path,
        clock: Clock,
        *,
        started: datetime,
        run: RoastKind,
        person: str = "",
        knowledge: Knowledge | None = None,
        unit: TemperatureUnit | None = None,
        dial: Dial | None = None,
        now: Now | None = None,
    ) -> LiveRoast:
        """Open a new roast, typed in ``unit`` (the profile's if none is given), read off a ``dial``.

        When the journal can't be made the roast goes on in memory, and ``trouble`` says so.  ``now``: the moment on all
        clocks at which ``clock`` was 0, so that a restart can find the time again.
        """
        document = profile.document
        stamp = started.strftime("%Y%m%d-%H%M%S")
        clocks = {} if now is None or not now.boot else {"boot": now.boot, "uptime": round(now.uptime, 3)}
        header = Header(
            id=f"{stamp}-{secrets.token_hex(3)}", profile=document.name, unit=unit or document.unit,
            pressure_unit=document.pressure_unit, started=started.isoformat(), run=run, person=person,
            machine=document.machine[:200], coffee=document.coffee[:200], batch_kg=document.batch_kg,
            profile_version=document.version, dial=dial,
            **clocks,  # type: ignore[arg-type]
        )  # fmt: skip
        writer = JournalWriter(folder / f"{header.id}.jsonl")
        coach, fault = Coach(profile, header, knowledge), None
        try:
            make_folder(folder)
            writer.create(header)
        except OSError as error:
            fault = error
        return cls(coach, Scribe(writer, [line_of(header)], fault=fault), clock)

    @classmethod
    def resume(cls, path: Path, profile: Profile, knowledge: Knowledge | None = None) -> LiveRoast:
        """Go on with a roast, its clock at the true time.  The effects of its entries are left to be computed in parts
        (``Coach.behind``).  Raises FileError.
        """
        writer = JournalWriter(path)
        try:
            torn = writer.reopen()
            with contextlib.suppress(OSError):  # its making may have been cut short
                sync_folder(path.parent)
        except BlockingIOError:
            raise FileError(str(path), "is open in another coach.", "Type there, or close that one.") from None
        except OSError as error:
            raise FileError(str(path), f"can't be opened ({reason_of(error)}).", "Check its rights.") from None
        try:
            coach, clock, word = _again(path, profile, knowledge)
            text = path.read_bytes().decode("utf-8")
        except BaseException:
            writer.close()
            raise
        if torn:
            word = "A torn last line was cut off: type that entry again. " + word
        return cls(coach, Scribe(writer, [text]), clock, word.strip())

    @property
    def path(self) -> Path:
        return self.scribe.path

    @property
    def trouble(self) -> str:
        return self.scribe.trouble

    @property
    def pending(self) -> int:
        return self.scribe.pending

    def enter(self, entry: Entry, *, most: int | None = None) -> Numbered:
        """Check, hand to the disk, then fold.  Raises EntryError; nothing is written then.

        Normally the entry is on disk before it is folded; when the disk fails or is slow the roast goes on in memory,
        and ``pending`` and ``trouble`` say so.  ``most``: see ``Coach.take``.
        """
        prepared = self.coach.prepare(entry)
        slow = self.pending > 0  # the disk is slow: to wait for this one too would only hold up the screen
        self.scribe.put(line_of(entry))
        if not slow:
            self.scribe.wait(PATIENCE)
        return self.coach.take(prepared, most=most)

    def close(self) -> None:
        """Close the journal, trying once more to write what is not on disk; record the cues and forecasts of a live
        roast's coach beside it."""
        self.scribe.close()
        roast = self.coach.roast
        if roast.header.run != "live" or roast.charge_at is None or not self.path.exists():
            return
        self.coach.catch_up()  # the effects of an entry that was typed just now
        if self.coach.behind:
            return
        from coach.verification.roast_record import keep

        with contextlib.suppress(FileError, EntryError):
            keep(self.path, self.coach)


class Onlooker(OpenRoast):
    """A roast that another coach has open: this one reads its journal as it grows and writes nothing."""

    read_only = "This coach only looks on: the roast is open in another one. Type there."
    path = Path()
    trouble = ""

    def __init__(self, path: Path, profile: Profile, knowledge: Knowledge | None = None) -> None:
        """Raises FileError when the journal can't be read.  Its effects: see ``LiveRoast.resume``."""
        coach, clock, _ = _again(path, profile, knowledge)
        super().__init__(coach, clock, LOOKS_ON)
        self.path = path
        self._size = 0
        self._watched = 0.0

    def enter(self, entry: Entry, *, most: int | None = None) -> Numbered:
        raise EntryError(self.read_only)

    def poll(self) -> tuple[ActiveCue, ...]:
        """Take the entries that the other coach has written since; the coach may then be ``behind``."""
        try:
            size = self.path.stat().st_size
        except OSError as error:
            self.trouble = f"The journal can't be read ({reason_of(error)})."
            return ()
        if size == self._size:
            self._watch_writer()
            return ()
        self._size = size
        try:
            entries = read_journal(self.path, check=False).entries
        except FileError as error:
            self.trouble = str(error)
            return ()
        self.trouble = ""
        sounded: list[ActiveCue] = []
        coach = self.coach
        for n in entries[len(coach.entries) :]:
            sounded += coach.advance(n.entry.came, most=0 if coach.behind else AT_A_TIME)
            try:
                coach.take(coach.prepare(n.entry, n.line), most=1)
            except EntryError as error:
                self.trouble = str(error)
                break
        return tuple(sounded)

    def _watch_writer(self) -> None:
        """Look if the coach that writes is gone: this one only looks on; started again, it can go on."""
        now = self.now()
        if now - self._watched < WATCH or self.coach.roast.finished:
            return
        self._watched, alone = now, not in_use(self.path)
        self.word, self.read_only = (LEFT_ALONE, LEFT_ALONE) if alone else (LOOKS_ON, Onlooker.read_only)


def _again(path: Path, profile: Profile, knowledge: Knowledge | None) -> tuple[Coach, Clock, str]:
    """The coach of a journal, the roast's clock, and a remark on it.  Raises FileError."""
    journal = read_journal(path)
    last = max((n.entry.came for n in journal.entries), default=0.0)
    offset, word = elapsed(journal.header, last, right_now())
    clock = stopwatch(offset)  # it runs while the roast is read back
    coach = Coach(profile, journal.header, knowledge)
    coach.read_back(journal.entries)
    return coach, clock, word
