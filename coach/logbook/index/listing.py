"""The logbook as a table: a row for each roast; where a narrow terminal has no room, columns go to a second line.
Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from coach.logbook.index.summary import Summary
from coach.logbook.text.text_table import cut, fitted, number_text, table, time_text
from coach.roast.units import from_celsius

NAMED: Final = 13
"""Least number of characters of a shortened name: date and time to the minute, where the coach gave the name."""
HEAD: Final = ("started", "roast", "profile", "person", "crack", "drop", "at", "loss", "cup", "ended")
RIGHT: Final = frozenset(("crack", "drop", "at", "loss", "cup"))
SPARE: Final = ("person", "profile", "loss", "cup")
"""Columns that go to a second line where there is no room, the first ones first."""


def beginnings(names: Iterable[str]) -> dict[str, str]:
    """The shortest beginning of each name, not under ``NAMED``, that no other name begins with, as it may be typed: not
    with a space at its end.  The whole name where that is hardly longer."""
    known = sorted(set(names))
    out = {}
    for i, name in enumerate(known):
        beside = [known[j] for j in (i - 1, i + 1) if 0 <= j < len(known)]
        ends = (k for k in range(NAMED, len(name) - 2) if name[k - 1] != " ")
        begun = (name[:k] for k in ends if not any(b.startswith(name[:k]) for b in beside))
        out[name] = next(begun, name)
    return out


def listing(rows: Sequence[Summary], width: int = 200, short: Mapping[str, str] | None = None) -> list[str]:
    """The rows as lines of at most ``width`` cells; ``short``: the beginnings of names by which roasts are opened.
    Names that begin with their day need no column for it; an empty column is left out."""
    if not rows:
        return ["No roast is like that."]
    if all(r.ended == "unreadable" for r in rows):
        return table(("roast", "why it can't be read"), [(r.name, cut(r.problem, 90)) for r in rows])
    room = max(min(max(width - 64, 12), 24), min(width - 84, 44))
    lines = _lines(rows, width, short or {}, room)
    if len(lines) > len(rows) + 1:  # a shorter name of the profile rather than a second line for each roast
        fewer = _lines(rows, width, short or {}, 12)
        lines = fewer if len(fewer) == len(rows) + 1 else lines
    return lines


def _lines(rows: Sequence[Summary], width: int, short: Mapping[str, str], room: int) -> list[str]:
    body = [_row(r, short.get(r.name, r.name), room) for r in rows]
    dated = all(r.day.replace("-", "") == r.name[:8] for r in rows)
    empty = {n for i, n in enumerate(HEAD) if n in SPARE and all(row[i] in ("", "–") for row in body)}
    keep = [i for i, n in enumerate(HEAD) if n not in empty and not (dated and n == "started")]
    return fitted([HEAD[i] for i in keep], [[row[i] for i in keep] for row in body], RIGHT, width, SPARE)


def _row(r: Summary, name: str, cells: int) -> tuple[str, ...]:
    hot = None if r.drop_temperature is None else from_celsius(r.drop_temperature, r.unit)  # type: ignore[arg-type]
    verdict = {True: "accepted", False: "refused", None: ""}[r.accepted]
    kind = "rehearsal" if r.run == "rehearsal" else ""
    ended = "" if r.ended == "dropped" and (verdict or kind) else r.ended
    return (
        r.moment[:16].replace("T", " "), cut(name, 24), cut(r.profile, cells), cut(r.person, 10),
        time_text(r.crack_time), time_text(r.drop_time), number_text(hot, 0, f"°{r.unit}"),
        number_text(r.loss, 1, "%"), number_text(r.cup_score, 2),
        ", ".join(x for x in (ended, verdict, kind) if x),
    )  # fmt: skip
