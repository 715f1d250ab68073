"""A roast from the columns of a sheet, as if it had been typed: nothing is guessed in silence, and what can be meant in
two ways is refused with its line.  Pure."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any, Final

from coach.logbook.sheets.cells import parse_number, parse_time, times_of
from coach.logbook.sheets.checks import BESIDE, check_marks, check_readings, check_span
from coach.logbook.sheets.columns import CONTROLS, Columns, event_of
from coach.logbook.sheets.read_sheet import Decimal, Sheet
from coach.roast.entries import EVENTS, Entry, Event, Header, Mark, Move, Note, Reading
from coach.roast.errors import FileError, printable
from coach.roast.profile import ProfileDocument
from coach.roast.roast import Numbered, Roast, effective, fold
from coach.roast.units import Control, clock

LEAD: Final = 60.0
"""Time of charge after the journal's start, s, so that rows before charge have a place."""
MOST_WORDS: Final = 8
"""Number of unknown words for events that are named at once."""
Cell = tuple[int, float, str]
"""A cell: the line of its row in the file, the row's time (s), and its text."""


def take(
    sheet: Sheet, columns: Columns, marks: Mapping[Event, str], leave_out: frozenset[int] = frozenset(),
    words: Mapping[str, Event | None] | None = None,
) -> tuple[list[Entry], list[str]]:  # fmt: skip
    """The entries of the roast that a sheet holds, in order of time, and remarks for the person.

    ``marks``: those given beside it (their times as the sheet writes them); ``leave_out``: lines of the file to leave
    out; ``words``: the sheet's own for events (in small letters; None: none, but a note).  Raises FileError with the
    line and what to do.
    """
    path, decimal, at = sheet.path, columns.decimal, columns.places
    if len(set(at.values())) != len(at):
        raise FileError(path, "one column is named for two things.", "Give each its own.", line=sheet.head)
    rows = _rows(sheet, at, leave_out)
    times = times_of([(n, c[at["time"]]) for n, c in rows], columns.time_unit, decimal, path)

    def cells(name: str) -> list[Cell]:
        """The cells of one column that hold something."""
        filled = zip(rows, times, strict=True) if name in at else ()
        return [(line, t, row[at[name]]) for (line, row), t in filled if row[at[name]]]

    found = {e: parse_time(text, columns.time_unit, ".", path, 0, f"--mark {e}") for e, text in marks.items()}
    own, passed = words or {}, []
    for line, t, text in cells("event"):
        word, event = text.lower(), event_of(text)
        if word not in own and event is None:
            others = {_short(c): None for _, _, c in cells("event") if c.lower() not in own and event_of(c) is None}
            raise FileError(path, f"the event '{_short(text)}' is not known.", _meaning(list(others)), line=line)
        event = own.get(word, event)
        if event is None:
            passed.append((t, text))
        elif event in found:
            hint = "Leave one out: --leave-out LINE, or don't give it with --mark."
            raise FileError(path, f"{event} stands there twice ({clock(found[event])}).", hint, line=line)
        else:
            found[event] = t
    name = sheet.names[at["temperature"]]
    readings = [(line, t, parse_number(text, decimal, path, line, name)) for line, t, text in cells("temperature")]
    _check_twice(readings, path)
    read = {line for line, _, _ in readings}
    turned = {line for line, _, text in cells("turned") if line in read and _yes(text, path, line)}
    moves = [move for control in CONTROLS for move in _moves(control, cells(control), decimal, path)]
    notes = sorted([*((t, text[:4000]) for _, t, text in cells("note")), *passed])
    counts = sorted({(line, t) for name in ("temperature", "event", *CONTROLS) for line, t, _ in cells(name)})
    blank = len(rows) - len({line for line, _ in counts} | {line for line, _, _ in cells("note")})
    said = [f"{blank} row(s) with a time and nothing else were passed over."] if blank else []
    charged = "charge" in found
    start = found.pop("charge", 0.0)
    if start:
        at_hour = "" if start < 3600 else f"{start // 3600:.0f}:"
        written = f"{at_hour}{clock(start % 3600):0>5}" if at_hour else clock(start)
        said.append(f"Charge stands at {written} in the sheet; times count from there.")
    check_span(counts, start, path)
    near = [n for n in notes if -BESIDE <= n[0] - start <= BESIDE]
    if len(near) < len(notes):
        said.append(f"{len(notes) - len(near)} note(s) from long before or after the roast were passed over.")
    check_marks(found, start, path)
    roasting = [r for r in readings if r[1] <= found.get("drop", r[1])]
    if len(roasting) < len(readings):
        said.append(f"{len(readings) - len(roasting)} reading(s) after the drop were passed over.")
    check_readings(roasting, start, columns.unit, path, charged=charged)
    first = min(start, *(t for _, t, _ in roasting), *(t for t, _, _ in moves), *(t for t, _ in near))

    def when(t: float) -> float:
        """The time on the journal's clock (s)."""
        return round(LEAD + t - first, 3)

    entries: list[Entry] = [Mark(at=when(start), event="charge")]
    entries += [Mark(at=when(t), event=event) for event, t in found.items()]
    entries += [Reading(at=when(t), temperature=v, turned=line in turned or None) for line, t, v in roasting]
    entries += [Move(at=when(t), control=control, value=v) for t, control, v in moves]
    entries += [Note(at=when(t), text=text) for t, text in near]
    return sorted(entries, key=lambda e: e.at), said


def _rows(sheet: Sheet, at: Mapping[str, int], leave_out: frozenset[int]) -> list[tuple[int, tuple[str, ...]]]:
    """The rows that are taken, with their lines in the file."""
    for line in sorted(leave_out - {n for n, _ in sheet.rows}):
        raise FileError(sheet.path, f"--leave-out {line}: there is no such row.", "Name a line of the file.", line=line)
    return [(n, c) for n, c in sheet.rows if n not in leave_out and any(c[i] for i in at.values())]


def _check_twice(readings: Sequence[tuple[int, float, float]], path: str) -> None:
    """Raise FileError where two readings of one time differ."""
    for (_, t0, v0), (line, t1, v1) in pairwise(readings):
        if t0 == t1 and v0 != v1:
            message = f"two readings at {clock(t1)}: {v0:g} and {v1:g}."
            raise FileError(path, message, "Correct one, or --leave-out its line.", line=line)


def _moves(
    control: Control, cells: Sequence[Cell], decimal: Decimal, path: str
) -> Iterator[tuple[float, Control, float]]:
    """The moves of one control: where its column holds another setting than before."""
    before: float | None = None
    for line, t, text in cells:
        value = parse_number(text, decimal, path, line, control)
        if value < 0:
            raise FileError(path, f"{control} {value:g} is below zero.", "Correct the cell.", line=line)
        if value != before:
            yield t, control, value
        before = value


def _yes(text: str, path: str, line: int) -> bool:
    """True if a cell holds yes, False if no.  Raises FileError on anything else."""
    said = text.strip().lower()
    if said in ("yes", "true", "1", "no", "false", "0", ""):
        return said in ("yes", "true", "1")
    raise FileError(path, f"turned '{_short(text)}' is neither yes nor no.", "Write yes, or leave it empty.", line=line)


def _meaning(words: Sequence[str]) -> str:
    """The hint for words that mean no event, each with the option that gives it one."""
    each = "  ".join(f"--word '{w}=EVENT'" for w in words[:MOST_WORDS])
    return f"Say what is meant:  {each}  (EVENT is one of: {', '.join(EVENTS)}, none)."


def _short(text: str) -> str:
    return printable(text)[:40]


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


def roast_of(header: Header, entries: list[Entry]) -> Roast:
    """The roast that the entries fold to.  Raises EntryError when they can't be one."""
    return fold(header, effective([Numbered(i + 2, e) for i, e in enumerate(entries)]))
