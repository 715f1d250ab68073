"""A journal from the entries of a sheet, as if they had been typed.  Pure."""

from __future__ import annotations

import hashlib
from typing import Any

from coach.logbook.sheets.read_sheet import Taken
from coach.roast.entries import Entry, Header, Mark, Move, Note, Reading
from coach.roast.profile import ProfileDocument
from coach.roast.roast import Numbered, Roast, effective, fold
from coach.session.journal import line_of

LEAD: float = 60.0
"""Time of charge after the journal's start, s, so that rows before charge have a place."""


def entries_of(taken: Taken) -> list[Entry]:
    """The entries in order of time."""
    first = min([t for t, _ in taken.readings] + [t for t, _, _ in taken.moves] + [0.0])
    base = LEAD + max(0.0, -first)
    out: list[Entry] = [Mark(at=base, event="charge")]
    out += [Mark(at=round(base + t, 3), event=e) for e, t in taken.marks.items()]
    out += [Reading(at=round(base + t, 3), temperature=v, turned=t in taken.turned or None) for t, v in taken.readings]
    out += [Move(at=round(base + t, 3), control=c, value=v) for t, c, v in taken.moves]
    out += [Note(at=round(base + t, 3), text=text) for t, text in taken.notes]
    return sorted(out, key=lambda e: e.at)


def header_of(data: bytes, source: str, follows: ProfileDocument | None, started: str, **given: Any) -> Header:
    """The header, with the fields ``given``; ``follows`` is the profile that the roast followed.

    The same sheet gets the same id, so that it is not imported twice unnoticed.
    """
    stamp = "".join(c for c in started[:10] if c.isdigit())
    table = {**given, "id": f"{stamp}-sheet-{hashlib.sha256(data).hexdigest()[:8]}", "started": started,
             "imported_from": source}  # fmt: skip
    if follows is not None:
        table |= {"profile": follows.name, "profile_version": follows.version}
        table["machine"] = given["machine"] or follows.machine[:200]
        table["coffee"] = given["coffee"] or follows.coffee[:200]
    return Header.model_validate(table)


def journal_text(header: Header, entries: list[Entry]) -> str:
    """The whole journal as text."""
    return line_of(header) + "".join(line_of(e) for e in entries)


def roast_of(header: Header, entries: list[Entry]) -> Roast:
    """The roast that the entries fold to.  Raises EntryError when they can't be one."""
    return fold(header, effective([Numbered(i + 2, e) for i, e in enumerate(entries)]))
