"""A running roast at the edge: its journal on disk, its clock, and the coach behind them."""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from coach.entries import Entry, Header, RoastKind
from coach.errors import EntryError, JournalError
from coach.journal import JournalWriter, line_of, read_journal
from coach.knowledge import Knowledge
from coach.profile import Profile
from coach.roast import Numbered
from coach.session import Coach

RESUMABLE = 3 * 3600.0
"""A roast without a drop mark that was opened less than this ago (s) is offered again."""

Clock = Callable[[], float]


class LiveRoast:
    """One roast on disk and in the coach.  ``clock()`` gives seconds since the roast was opened."""

    def __init__(self, coach: Coach, writer: JournalWriter, clock: Clock) -> None:
        self.coach = coach
        self.clock = clock
        self.trouble = ""
        self._writer = writer
        self._unsaved: list[str] = []
        self._seen_at = 0.0
        self._whole = 0
        """Length of the journal (bytes) up to the last entry that is surely on disk."""

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
    ) -> LiveRoast:
        """A new roast.  When the journal can't be made the roast goes on in memory, and ``trouble`` says so."""
        document = profile.document
        stamp = started.strftime("%Y%m%d-%H%M%S")
        header = Header(
            id=f"{stamp}-{secrets.token_hex(3)}", profile=document.name, unit=document.unit,
            pressure_unit=document.pressure_unit, started=started.isoformat(), run=run, person=person,
            machine=document.machine, coffee=document.coffee, batch_kg=document.batch_kg,
        )  # fmt: skip
        writer = JournalWriter(folder / f"{header.id}.jsonl")
        live = cls(Coach(profile, header, knowledge), writer, clock)
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            writer.create(header)
            live._whole = len(line_of(header).encode())
        except OSError as error:
            live._unsaved = [line_of(header)]
            live._complain(error)
        return live

    @classmethod
    def resume(cls, path: Path, profile: Profile, knowledge: Knowledge | None = None) -> LiveRoast:
        """Go on with a roast: the clock stands where it really is, by the wall clock.  Raises JournalError."""
        writer = JournalWriter(path)
        try:
            writer.reopen()
        except OSError as error:
            raise JournalError(str(path), f"can't be opened ({error.strerror}).", "Check its rights.") from None
        journal = read_journal(path)
        started = datetime.fromisoformat(journal.header.started)
        offset = (datetime.now(UTC) - started).total_seconds()
        import time

        base = time.monotonic() - offset
        coach = Coach(profile, journal.header, knowledge)
        for n in journal.entries:
            coach.advance(n.entry.came)
            coach.receive(n.entry, n.line)
        coach.restarted()
        live = cls(coach, writer, lambda: time.monotonic() - base)
        live._whole = path.stat().st_size
        return live

    @property
    def path(self) -> Path:
        return self._writer.path

    def now(self) -> float:
        """Seconds since the roast was opened; never runs backwards."""
        self._seen_at = max(self._seen_at, round(self.clock(), 1))
        return self._seen_at

    def enter(self, entry: Entry) -> Numbered:
        """Check, write to disk, then fold.  Raises EntryError; nothing is written then."""
        prepared = self.coach.prepare(entry)
        self._write(line_of(entry))
        return self.coach.take(prepared)

    def _write(self, *new: str) -> None:
        lines = [*self._unsaved, *new]
        try:
            if self._unsaved:
                self._mend()
            self._writer.append("".join(lines))
        except OSError as error:
            self._unsaved = lines
            self._complain(error)
            return
        self._whole += len("".join(lines).encode())
        self._unsaved = []
        self.trouble = ""

    def _mend(self) -> None:
        """After a failed write: cut off what may have reached the disk of it, so that nothing stands there twice."""
        with contextlib.suppress(OSError):
            self._writer.close()
        if self.path.exists():
            os.truncate(self.path, self._whole)
        else:
            self.path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            os.close(os.open(self.path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        self._writer.reopen()

    def _complain(self, error: OSError) -> None:
        self.trouble = f"NOT ON DISK ({error.strerror or error}): {len(self._unsaved)} lines kept in memory"

    def close(self) -> None:
        """Close the journal; what is not on disk is tried once more."""
        if self._unsaved:
            self._write()
        with contextlib.suppress(OSError):
            self._writer.close()


def unfinished(folder: Path, profile: Profile) -> Path | None:
    """The newest roast of this profile that was opened lately and has no drop; None if there is none."""
    if not folder.is_dir():
        return None
    for path in sorted(folder.glob("*.jsonl"), reverse=True)[:20]:
        try:
            journal = read_journal(path)
            started = datetime.fromisoformat(journal.header.started)
        except (JournalError, EntryError, ValueError):
            continue
        if started.tzinfo is None:  # without a zone nobody can say how long ago that was
            continue
        age = (datetime.now(UTC) - started).total_seconds()
        dropped = any(getattr(n.entry, "event", "") == "drop" for n in journal.entries)
        charged = any(getattr(n.entry, "event", "") == "charge" for n in journal.entries)
        live = journal.header.run == "live"
        if live and charged and not dropped and 0 <= age < RESUMABLE and journal.header.profile == profile.name:
            return path
    return None
