"""A roast as a sheet of comma-separated values: every line of its journal, as typed and after corrections.

Format: RFC 4180 (a header line, CRLF after every record, quotes around what holds a comma, a quote or a line break,
quotes doubled).  Texts that a spreadsheet would take for a formula get an apostrophe in front (OWASP, CSV Injection).
"""

from __future__ import annotations

import csv
import io
import re
from datetime import datetime, timedelta
from typing import Any

from coach.roast.entries import Correction, Entry, Header, Mark, Move, Note, Reading, Reply, Result, SoundCheck
from coach.roast.errors import printable
from coach.roast.roast import Numbered, effective
from coach.roast.units import clock
from coach.session.journal import Journal


def names(header: Header) -> tuple[str, ...]:
    """The columns; temperatures and gas carry their unit.

    ``status``: as typed, corrected, withdrawn, or correction (a line that changes another).  ``roast_time_s`` to
    ``drum`` hold the values in force; the two ``as_typed`` columns those of the journal's line.  Times in s after
    charge (after the journal was opened, while there is no charge); ``typed_s``: the time of entry, on the same axis.
    """
    return (
        "line", "status", "kind", "wall_clock", "roast_clock", "roast_time_s", "typed_s", "event",
        f"temperature_{header.unit}", "turned", f"gas_{header.pressure_unit}", "air", "drum",
        "roast_time_as_typed_s", "value_as_typed", "text",
    )  # fmt: skip


def safe(text: str) -> str:
    """A text that no spreadsheet takes for a formula: one that begins with = + - @, a tab or a line break gets an
    apostrophe in front.  Source: OWASP, CSV Injection.  Control and escape characters are replaced."""
    text = "".join(part if part in "\t\r\n" else printable(part) for part in re.split("([\t\r\n])", text))
    return "'" + text if text[:1] in ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠") else text


def sheet(journal: Journal) -> str:
    """The whole roast as RFC 4180 text, in order of the journal's lines."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(names(journal.header))
    in_force = {n.line: n for n in effective(journal.entries)}
    charge = next(
        (n.entry.at for n in in_force.values() if isinstance(n.entry, Mark) and n.entry.event == "charge"), None
    )
    for numbered in journal.entries:
        writer.writerow(_record(journal.header, numbered, in_force.get(numbered.line), charge))
    return out.getvalue()


def _record(header: Header, typed: Numbered, stands: Numbered | None, charge: float | None) -> list[str]:
    entry = typed.entry
    base = charge or 0.0
    correction = isinstance(entry, Correction)
    now = entry if correction else stands.entry if stands is not None else None
    status = "as typed" if now == entry else "corrected"
    if correction or now is None:
        status = "correction" if correction else "withdrawn"
    times = ["", "", ""]
    if now is not None:
        times = [_wall(header.started, now.at), "" if charge is None else clock(now.at - base), _plain(now.at - base)]
    values = [""] * 6
    if isinstance(now, Mark):
        values[0] = now.event
    elif isinstance(now, Reading):
        values[1], values[2] = _plain(now.temperature), "yes" if now.turned else ""
    elif isinstance(now, Move):
        values[3 + ("gas", "air", "drum").index(now.control)] = _plain(now.value)
    raw = _plain(entry.temperature) if isinstance(entry, Reading) else ""
    raw = _plain(entry.value) if isinstance(entry, Move) else raw
    kind: str = entry.kind  # type: ignore[attr-defined]
    came = _plain(entry.came - base)
    return [
        str(typed.line),
        status,
        kind,
        *times,
        came,
        *values,
        _plain(entry.at - base),
        raw,
        safe(_text(now or entry)),
    ]


def _text(entry: Entry) -> str:
    """An entry's text, in words."""
    if isinstance(entry, Note):
        return entry.text
    if isinstance(entry, Reply):
        return f"{entry.cue}: {entry.answer}"
    if isinstance(entry, SoundCheck):
        return f"{'heard' if entry.heard else 'not heard'} {entry.output}".strip()
    if isinstance(entry, Result):
        given = entry.model_dump(exclude_none=True, exclude={"at", "typed", "kind", "entered"})
        return "; ".join(f"{k} {_word(v)}" for k, v in given.items())
    if isinstance(entry, Correction):
        if entry.replace is None:
            return f"withdraws line {entry.of}"
        return f"line {entry.of}: " + "; ".join(f"{k} {_word(v)}" for k, v in entry.replace.items())
    return ""


def _word(value: Any) -> str:
    return _plain(value) if isinstance(value, float) else str(value)


def _plain(value: float) -> str:
    """A number with a point and without needless zeros."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _wall(started: str, at: float) -> str:
    try:
        return (datetime.fromisoformat(started) + timedelta(seconds=at)).isoformat(timespec="seconds")
    except (ValueError, OverflowError):
        return ""
