"""Plain tables and numbers for the terminal.  Pure."""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Sequence
from typing import Final

from rich.cells import cell_len, set_cell_size

from coach.roast.errors import printable
from coach.roast.units import clock, number

LATER: Final = 3600.0
"""Time after the drop beyond which a note's roast time is not shown, s."""


def cut(text: str, cells: int) -> str:
    """A printable text in at most ``cells`` cells, with … where it was cut."""
    text = printable(text)
    return text if cell_len(text) <= cells else set_cell_size(text, cells - 1) + "…"


def padded(text: str, cells: int) -> str:
    """A printable text in exactly ``cells`` cells, with … where it was cut."""
    return set_cell_size(cut(text, cells), cells)


def table(head: Sequence[str], rows: Sequence[Sequence[str]], right: frozenset[int] = frozenset()) -> list[str]:
    """Lines of a table: a head, then rows; columns whose number is in ``right`` are set flush right."""
    clean = [[printable(cell) for cell in row] for row in (head, *rows)]
    widths = [max(cell_len(row[i]) for row in clean) for i in range(len(head))]
    lines = []
    for row in clean:
        cells = [
            " " * (widths[i] - cell_len(c)) + c if i in right else c + " " * (widths[i] - cell_len(c))
            for i, c in enumerate(row)
        ]
        lines.append("  ".join(cells).rstrip())
    return lines


def fitted(
    head: Sequence[str], rows: Sequence[Sequence[str]], right: Collection[str], wide: int, yields: Sequence[str]
) -> list[str]:
    """A table of at most ``wide`` cells.  Where it is wider, the columns in ``yields``, the first ones first, go to a
    second line under their row; nothing is left out.  ``right``: names of the columns that are set flush right."""
    moved: Sequence[str] = ()
    lines: list[str] = []
    for count in range(len(yields) + 1):
        moved = yields[:count]
        keep = [i for i, name in enumerate(head) if name not in moved]
        flush = frozenset(k for k, i in enumerate(keep) if head[i] in right)
        lines = table([head[i] for i in keep], [[row[i] for i in keep] for row in rows], flush)
        if max(map(cell_len, lines)) <= wide:
            break
    below = [_beneath(head, row, moved, wide) for row in rows]
    return [lines[0], *(x for line, more in zip(lines[1:], below, strict=True) for x in (line, *more))]


def _beneath(head: Sequence[str], row: Sequence[str], moved: Collection[str], wide: int) -> list[str]:
    """The cells of the columns that were ``moved``, each with its name, for the lines under a row; empty ones are left
    out."""
    parts = [
        f"{name} {printable(cell)}".strip().replace(" ", "\xa0")
        for name, cell in zip(head, row, strict=True)
        if name in moved and cell not in ("", "–")
    ]
    lines = textwrap.wrap("  ".join(parts), max(wide, 20), initial_indent="    ", subsequent_indent="    ")
    return [line.replace("\xa0", " ") for line in lines]


def time_text(seconds: float | None) -> str:
    """``m:ss``, or a dash."""
    return "–" if seconds is None else clock(seconds)


def noted(t: float, drop: float | None) -> str:
    """Time of a note (``t`` and ``drop`` in s): m:ss; "later" for one that was added long after the drop.

    >>> noted(310.0, 570.0), noted(90_000.0, 570.0)
    ('5:10', 'later')
    """
    return "later" if t > (drop or 0.0) + LATER else clock(t)


def number_text(value: float | None, digits: int = 1, unit: str = "") -> str:
    """A number with its unit, or a dash."""
    return "–" if value is None else number(value, digits) + (f" {unit}" if unit else "")


def signed(value: float, digits: int = 1) -> str:
    """A difference with its sign; a zero has none.

    >>> signed(3.04), signed(-0.01), signed(-2.5)
    ('+3', '0', '−2.5')
    """
    text = number(abs(value), digits)
    return "0" if text == "0" else ("+" if value > 0 else "−") + text


def signed_clock(seconds: float) -> str:
    """A difference of times with its sign: +0:12, −1:05, 0:00."""
    text = clock(abs(seconds))
    return text if text == "0:00" else ("+" if seconds > 0 else "−") + text
