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
    writer = csv.DictWriter(out, names(journal.header), restval="", lineterminator="\r\n")
    writer.writeheader()
    in_force = {n.line: n for n in effective(journal.entries)}
    charge = next(
        (n.entry.at for n in in_force.values() if isinstance(n.entry, Mark) and n.entry.event == "charge"), None
    )
    for numbered in journal.entries:
        writer.writerow(_record(journal.header, numbered, in_force.get(numbered.line), charge))
    return out.getvalue()


def _record(header: Header, typed: Numbered, in_force: Numbered | None, charge: float | None) -> dict[str, Any]:
    """The values of a line by their columns; ``in_force``: the line after corrections; ``charge`` in s."""
    entry, base = typed.entry, charge or 0.0
    now = entry if isinstance(entry, Correction) else None if in_force is None else in_force.entry
    status = "withdrawn" if now is None else "as typed" if now == entry else "corrected"
    out = {
        "line": typed.line, "status": "correction" if isinstance(entry, Correction) else status,
        "kind": entry.kind,  # type: ignore[attr-defined]
        "typed_s": _plain(entry.came - base), "roast_time_as_typed_s": _plain(entry.at - base),
        "text": safe(_text(now or entry)),
    }  # fmt: skip
    if isinstance(entry, Reading | Move):
        out["value_as_typed"] = _plain(entry.temperature if isinstance(entry, Reading) else entry.value)
    if now is None:
        return out
    out["wall_clock"], out["roast_time_s"] = _wall(header.started, now.at), _plain(now.at - base)
    out["roast_clock"] = "" if charge is None else clock(now.at - base)
    if isinstance(now, Mark):
        out["event"] = now.event
    elif isinstance(now, Reading):
        out[f"temperature_{header.unit}"], out["turned"] = _plain(now.temperature), "yes" if now.turned else ""
    elif isinstance(now, Move):
        out[f"gas_{header.pressure_unit}" if now.control == "gas" else now.control] = _plain(now.value)
    return out


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
