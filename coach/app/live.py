"""A running roast at the edge: its journal on disk, its clock, and the coach behind them."""

from __future__ import annotations

import contextlib
import secrets
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Final, Never

from coach.cues.situation import ActiveCue
from coach.forecast.knowledge import Knowledge
from coach.roast.entries import Dial, Entry, Header, RoastKind
from coach.roast.errors import EntryError, FileError, JournalError
from coach.roast.profile import Profile
from coach.roast.roast import Numbered
from coach.roast.units import TemperatureUnit
from coach.session.coach import Coach
from coach.session.journal import JournalWriter, in_use, line_of, make_folder, read_journal, sync_folder
from coach.session.journal_writer import Scribe
from coach.session.roast_clock import AT_A_TIME, Now, elapsed, right_now, stopwatch

WATCH: Final = 5.0
"""Interval at which an onlooker checks that the journal still has a writer, s."""
PATIENCE: Final = 0.03
"""Time after which an entry that is not on disk is shown as being saved, s; the roast goes on."""

Clock = Callable[[], float]


class LiveRoast:
    """One roast on disk and in the coach.  ``clock()`` gives seconds since the roast was opened."""

    read_only = False

    def __init__(self, coach: Coach, scribe: Scribe, clock: Clock, *, word: str = "") -> None:
        self.coach = coach
        self.clock = clock
        self.scribe = scribe
        self.word = word
        """Remark for the person on the opening of this roast; '' where there is none."""
        self._seen_at = 0.0

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
    def resume(
        cls, path: Path, profile: Profile, knowledge: Knowledge | None = None, *, at_once: bool = True
    ) -> LiveRoast:
        """Go on with a roast, its clock at the true time.  Raises JournalError.

        Unless ``at_once``, the effects of the entries are left to be computed in parts (``Coach.behind``).
        """
        writer = JournalWriter(path)
        try:
            torn = writer.reopen()
            with contextlib.suppress(OSError):  # its making may have been cut short
                sync_folder(path.parent)
        except BlockingIOError:
            raise JournalError(str(path), "is open in another coach.", "Type there, or close that one.") from None
        except OSError as error:
            raise JournalError(str(path), f"can't be opened ({error.strerror}).", "Check its rights.") from None
        try:
            coach, clock, word = _again(path, profile, knowledge, at_once)
            text = path.read_bytes().decode("utf-8")
        except BaseException:
            writer.close()
            raise
        if torn:
            word = "A torn last line was cut off: type that entry again. " + word
        return cls(coach, Scribe(writer, [text]), clock, word=word.strip())

    @property
    def path(self) -> Path:
        return self.scribe.path

    @property
    def trouble(self) -> str:
        """The trouble with the journal, in words; '' if there is none."""
        return self.scribe.trouble

    @property
    def pending(self) -> int:
        """Number of entries that are not yet surely on disk."""
        return self.scribe.pending

    def now(self) -> float:
        """Seconds since the roast was opened; never runs backwards."""
        self._seen_at = max(self._seen_at, round(self.clock(), 1))
        return self._seen_at

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

    def refuse(self) -> None:
        """Refuse nothing: typed entries are taken."""

    def poll(self) -> tuple[ActiveCue, ...]:
        """Take nothing from elsewhere: the entries are typed here."""
        return ()

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


class Onlooker:
    """A roast that another coach has open: this one reads its journal as it grows and writes nothing."""

    read_only = True
    pending = 0

    def __init__(
        self, path: Path, profile: Profile, knowledge: Knowledge | None = None, *, at_once: bool = True
    ) -> None:
        """``at_once``: see ``LiveRoast.resume``.  Raises JournalError when the journal can't be read."""
        self.path = path
        self.trouble = ""
        self.coach, self.clock, _ = _again(path, profile, knowledge, at_once)
        self.word = "Open in another coach: this one only looks on."
        self._size = 0
        self._watched = 0.0
        self._seen_at = 0.0

    def now(self) -> float:
        """Seconds since the roast was opened; never runs backwards."""
        self._seen_at = max(self._seen_at, round(self.clock(), 1))
        return self._seen_at

    def enter(self, entry: Entry, *, most: int | None = None) -> Numbered:
        """Refuse an entry: raises EntryError, nothing can be entered here."""
        self.refuse()

    def refuse(self) -> Never:
        """Refuse what is typed: raises EntryError with the reason."""
        raise EntryError("This coach only looks on: the roast is open in another one.", "Type there.")

    def poll(self) -> tuple[ActiveCue, ...]:
        """Take the entries that the other coach has written since; the coach may then be ``behind``."""
        try:
            size = self.path.stat().st_size
        except OSError as error:
            self.trouble = f"The journal can't be read ({error.strerror})."
            return ()
        if size == self._size:
            self._watch_writer()
            return ()
        self._size = size
        try:
            entries = read_journal(self.path, check=False).entries
        except JournalError as error:
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
        """Report when the coach that writes is gone: this one only looks on; started again, it can go on."""
        now = self.now()
        if now - self._watched < WATCH or self.coach.roast.finished:
            return
        self._watched = now
        if not in_use(self.path):
            self.trouble = "No coach writes this roast any more. Leave, start again, and go on with it."
        elif self.trouble.startswith("No coach"):
            self.trouble = ""

    def close(self) -> None:
        """Close nothing."""


def _again(path: Path, profile: Profile, knowledge: Knowledge | None, at_once: bool) -> tuple[Coach, Clock, str]:
    """The coach after all entries of a journal, the roast's clock, and a remark on it.  Raises JournalError."""
    journal = read_journal(path)
    last = max((n.entry.came for n in journal.entries), default=0.0)
    try:
        offset, word = elapsed(journal.header, last, right_now())
        clock = stopwatch(offset)  # it runs while the roast is read back
    except ValueError:
        raise JournalError(
            str(path), "its start is no time with a zone.", "Correct it.", line=1, field="started"
        ) from None
    coach = Coach(profile, journal.header, knowledge)
    coach.read_back(journal.entries)
    while at_once and coach.behind:
        coach.catch_up(100)
    return coach, clock, word
