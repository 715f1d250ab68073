"""Results and notes added to several files of one roast, brought together in one of them.

Results that are added on two machines before a folder is synced leave two files of the same roast.  The longest of them
counts; here it gets the results and notes that only the others hold.  No file loses a line.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Final

from coach.logbook.index.results import FURTHEST, append, check_weights
from coach.roast.entries import Entry, Header, Note, Result, moment_of
from coach.roast.errors import FileError
from coach.roast.roast import Numbered, effective
from coach.session.journal import line_of, read_journal

FIELDS: Final = set(Result.model_fields) - {"at", "typed", "kind"}


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
    have = {line_of(n.entry) for n in kept}
    others = [n.entry for copy in copies for n in effective(copy) if line_of(n.entry) not in have]
    here, there = _newest(header, (n.entry for n in effective(kept))), _newest(header, others)
    later = {f: x for f, x in there.items() if f not in here or x[0] > here[f][0]}
    older = tuple((f, here[f][1], x[1]) for f, x in there.items() if f not in later and x[1] != here[f][1])
    notes = {(_when(header, e), e.text) for e in others if isinstance(e, Note)}
    notes -= {(_when(header, n.entry), n.entry.text) for n in kept if isinstance(n.entry, Note)}
    found: list[tuple[datetime, type[Entry], dict[str, Any]]] = [(when, Note, {"text": text}) for when, text in notes]
    for moment in {when for when, _ in later.values()}:
        found.append((moment, Result, {f: value for f, (when, value) in later.items() if when == moment}))
    at, entries = max([n.entry.came for n in kept], default=0.0), []
    for when, kind, given in sorted(found, key=lambda x: x[0]):
        at = min(max(at, (when - header.moment).total_seconds()), FURTHEST)
        entries.append(kind.model_validate({"at": at, "entered": when.isoformat(), **given}))
    else_there = {line_of(e) for e in others if not isinstance(e, Result | Note)}
    return Brought(tuple(entries), older, len(else_there))


def bring(path: Path, copies: Sequence[Path]) -> Brought:
    """Append the results and notes that only the ``copies`` hold to the journal at ``path``.  Raises CoachError where
    the weights contradict each other, FileError where a file can't be read or written, or is of another roast."""
    kept, others = read_journal(path), [read_journal(p) for p in copies]
    for copy in others:
        if (copy.header.id, copy.header.started) != (kept.header.id, kept.header.started):
            raise FileError(str(copy.path), "is another roast.", "Name a copy of the same one.")
    found = brought(kept.header, kept.entries, [o.entries for o in others])
    results = [e.model_dump(include=FIELDS, exclude_none=True) for e in found.entries if isinstance(e, Result)]
    check_weights(kept.roast.result, kept.header.batch_kg, {k: v for given in results for k, v in given.items()})
    if found.entries:
        append(path, found.entries)
    return found


def _newest(header: Header, entries: Iterable[Entry]) -> dict[str, tuple[datetime, Any]]:
    """The moment and value of each field of the results among these entries, as entered last."""
    results = sorted((e for e in entries if isinstance(e, Result)), key=lambda e: _when(header, e))
    given = ((_when(header, e), e.model_dump(include=FIELDS, exclude_none=True)) for e in results)
    return {field: (when, value) for when, values in given for field, value in values.items()}


def _when(header: Header, entry: Entry) -> datetime:
    """Moment at which an entry came in: its field ``entered``, or by the roast's clock."""
    entered = moment_of(str(getattr(entry, "entered", "")))
    return header.moment + timedelta(seconds=entry.came) if entered is None else entered
