"""Results and notes added to several files of one roast, brought together in one of them.

Results that are added on two machines before a folder is synced leave two files of the same roast.  The longest of them
counts; here it gets the results and notes that only the others hold.  No file loses a line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Final

from coach.logbook.index.results import append, check_weights
from coach.roast.entries import Entry, Header, Note, Result, moment_of
from coach.roast.errors import FileError
from coach.roast.roast import Numbered, effective
from coach.session.journal import Journal, line_of, read_journal

FIELDS: Final = tuple(f for f in Result.model_fields if f not in ("at", "typed", "kind"))


@dataclass(frozen=True)
class Brought:
    """Entries for the file that counts; ``older``: (field, value there, value in a copy) where the later one stays;
    ``else_there``: number of other lines that only a copy holds."""

    entries: tuple[Entry, ...]
    older: tuple[tuple[str, Any, Any], ...]
    else_there: int


def brought(header: Header, kept: Sequence[Numbered], copies: Sequence[Sequence[Numbered]]) -> Brought:
    """Results and notes that the copies hold and ``kept`` does not.

    Of a field that both give, the one that was entered later counts; a second call brings nothing more.
    """
    stands: dict[str, tuple[datetime, Any]] = {}
    for n in effective(kept):
        if isinstance(n.entry, Result):
            stands |= _given(header, n.entry)
    notes = {_note(header, n.entry) for n in kept if isinstance(n.entry, Note)}
    have = {line_of(n.entry) for n in kept}
    after = max([n.entry.came for n in kept], default=0.0)
    found: list[tuple[datetime, Entry]] = []
    older: dict[str, tuple[datetime, Any]] = {}
    elsewhere: set[str] = set()
    for n in (n for entries in copies for n in effective(entries) if line_of(n.entry) not in have):
        entry = n.entry
        if isinstance(entry, Result):
            newer = {}
            for field, (when, value) in _given(header, entry).items():
                here = stands.get(field)
                if here is None or when > here[0]:
                    newer[field] = value
                elif here[1] != value:
                    older[field] = max(older.get(field, (when, value)), (when, value), key=lambda x: x[0])
            if newer:
                found.append((_when(header, entry), entry.model_copy(update={f: newer.get(f) for f in FIELDS})))
        elif isinstance(entry, Note):
            if _note(header, entry) not in notes:
                notes.add(_note(header, entry))
                found.append((_when(header, entry), entry))
        else:
            elsewhere.add(line_of(entry))
    entries = []
    for when, entry in sorted(found, key=lambda x: x[0]):
        after = max(after, entry.at)
        entered = getattr(entry, "entered", None) or when.isoformat(timespec="seconds")
        entries.append(entry.model_copy(update={"at": after, "typed": None, "entered": entered}))
    losing = tuple((f, stands[f][1], v) for f, (_, v) in older.items())
    return Brought(tuple(entries), losing, len(elsewhere))


def bring(path: Path, copies: Sequence[Path]) -> Brought:
    """Append the results and notes that only the ``copies`` hold to the journal at ``path``.  Raises CoachError where
    the weights contradict each other, FileError where a file can't be read or written, or is of another roast."""
    kept = read_journal(path)
    others = [_same_roast(read_journal(p), kept) for p in copies]
    found = brought(kept.header, kept.entries, [o.entries for o in others])
    given = {f: v for e in found.entries if isinstance(e, Result) for f, (_, v) in _given(kept.header, e).items()}
    check_weights(kept.roast.result, kept.header.batch_kg, given)
    if found.entries:
        append(path, found.entries)
    return found


def _same_roast(copy: Journal, kept: Journal) -> Journal:
    if copy.header.id != kept.header.id or copy.header.started != kept.header.started:
        raise FileError(str(copy.path), "is another roast.", "Name a copy of the same one.")
    return copy


def _given(header: Header, entry: Result) -> dict[str, tuple[datetime, Any]]:
    when = _when(header, entry)
    return {f: (when, v) for f in FIELDS if (v := getattr(entry, f)) is not None}


def _note(header: Header, entry: Note) -> tuple[datetime, str]:
    return _when(header, entry), entry.text


def _when(header: Header, entry: Entry) -> datetime:
    """Moment at which an entry came in: its field ``entered``, or by the roast's clock."""
    said = moment_of(str(getattr(entry, "entered", "")))
    if said is not None:
        return said
    return header.moment + timedelta(seconds=entry.came)
