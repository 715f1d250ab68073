"""The logbook as a table: a row for each roast with a strip of its phases; where a narrow terminal has
no room, columns go to a second line.  Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import takewhile
from typing import Final

from rich.cells import cell_len

from coach.logbook.index.strip import key, scale, strip
from coach.logbook.index.summary import Summary
from coach.logbook.text.text_table import beneath, cut, number_text, table, time_text
from coach.roast.units import from_celsius

STRIP: Final = (14, 30)
"""Range of the width of a roast's strip, cells."""
WHOLE: Final = 200
"""Width in which any name has room, cells."""
NAMED: Final = 13
"""Least number of characters of a shortened name: date and time to the minute, where the coach gave the name."""
HEAD: Final = ("started", "roast", "profile", "person", "crack", "drop", "at", "loss", "cup", "ended")
RIGHT: Final = frozenset(("crack", "drop", "at", "loss", "cup"))
SPARE: Final = ("person", "loss", "cup")
"""Columns that are left out where they are empty."""


def beginnings(names: Iterable[str]) -> dict[str, str]:
    """The shortest beginning of each name, not under ``NAMED``, that no other name begins with."""
    known = sorted(set(names))
    out = {}
    for i, name in enumerate(known):
        beside = [known[j] for j in (i - 1, i + 1) if 0 <= j < len(known)]
        shared = max((sum(1 for _ in takewhile(_same, zip(name, b, strict=False))) for b in beside), default=0)
        out[name] = name[: max(shared + 1, NAMED)]
    return out


def _same(pair: tuple[str, str]) -> bool:
    return pair[0] == pair[1]


def listing(
    rows: Sequence[Summary], width: int = 200, plain: bool = False, short: Mapping[str, str] | None = None
) -> list[str]:
    """The rows as lines of at most ``width`` cells; ``short``: the beginnings of names by which roasts are opened, used
    where the names don't fit."""
    if not rows:
        return ["No roast is like that."]
    if all(r.ended == "unreadable" for r in rows):
        return table(("roast", "why it can't be read"), [(r.name, cut(r.problem, 90)) for r in rows])
    end = scale(rows)
    names = [r.name for r in rows]
    briefly = [(short or {}).get(n, n) for n in names]
    for named, cells, left_out, least in _ways(rows, names, briefly, end):
        body = [_row(r, name, cells) for r, name in zip(rows, named, strict=True)]
        empty = {n for n in SPARE if all(row[HEAD.index(n)] in ("", "–") for row in body)}
        keep = [i for i, name in enumerate(HEAD) if name not in left_out and name not in empty]
        right = frozenset(k for k, i in enumerate(keep) if HEAD[i] in RIGHT)
        lines = table([HEAD[i] for i in keep], [[row[i] for i in keep] for row in body], right)
        moved = left_out - {"started"} if dated(rows) else left_out
        below = [[], *(beneath(HEAD, _row(r, r.name, WHOLE), moved, width) for r in rows)]
        wide = max(map(cell_len, lines))
        room = width - wide - 2
        if room >= least:
            break
    if least < 0 or room < least:
        return [x for line, more in zip(lines, below, strict=True) for x in (line, *more)]
    cells = min(room, STRIP[1])
    strips = ["phases", *(strip(r, cells, end, plain) for r in rows)]
    joined = [
        (line + " " * (wide - cell_len(line) + 2) + text).rstrip() for line, text in zip(lines, strips, strict=True)
    ]
    return [*(x for line, more in zip(joined, below, strict=True) for x in (line, *more)), key(end, plain)]


def dated(rows: Sequence[Summary]) -> bool:
    """True if the names of all roasts begin with their day."""
    return all(r.moment[:10].replace("-", "") == r.name[:8] for r in rows)


def _ways(
    rows: Sequence[Summary], names: list[str], briefly: list[str], end: float
) -> list[tuple[list[str], int, frozenset[str], int]]:
    """Layouts to try in turn: names, width of the profile (cells), columns left out, least width of the strip (cells;
    -2: none).  Where the names hold the day, that column goes first; where profiles differ, the strip goes before the
    profile."""
    day = ["started"] if dated(rows) else []
    with_strip, none = (STRIP[0] if end else -2), -2
    tried: list[tuple[list[str], int, list[str], int]] = [
        (names, 24, [], with_strip), (names, 24, day, with_strip), (briefly, 24, day, with_strip),
        (briefly, 24, [*day, "person"], with_strip), (briefly, 16, [*day, "person"], with_strip),
    ]  # fmt: skip
    if len({r.profile for r in rows}) > 1:
        tried += [(briefly, cells, [*day, "person"], none) for cells in (24, 16, 12)]
    last = [*day, "person", "profile"]
    tried += [
        (briefly, 16, last, with_strip), (briefly, 16, [*last, "loss", "cup"], with_strip),
        (briefly, 16, [*last, "loss", "cup", "started"], with_strip),
        (briefly, 16, [*last, "loss", "cup", "started"], none),
    ]  # fmt: skip
    return [(a, b, frozenset(c), d) for a, b, c, d in tried]


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
