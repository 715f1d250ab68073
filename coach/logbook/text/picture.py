"""A picture in cells: braille dots (two by four in a cell) in inks, over shaded grounds, with signs on top.  Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise
from math import isfinite
from typing import Final

import numpy as np
from numpy.typing import NDArray
from rich.text import Text

Array = NDArray[np.float64]

BITS: Final = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]], dtype=np.uint8)
"""Bits of the eight dots of a cell by row and column (Unicode, block Braille Patterns)."""
SIGNS: Final = [" ", *(chr(0x2800 + b) for b in range(1, 256))]
FEWER: Final = [" ", *(".:"[min(bin(b).count("1") - 1, 1)] for b in range(1, 256))]
"""Characters in place of dots where a terminal has no braille."""
SIGNS_ARRAY: Final = np.array(SIGNS)
FEWER_ARRAY: Final = np.array(FEWER)


class Picture:
    """A picture of ``width`` x ``height`` cells over times ``xs`` (s) and values ``ys``; points outside are not drawn.

    Dots of different inks in one cell take the ink that was drawn last, as a cell has one colour.
    """

    def __init__(self, width: int, height: int, xs: tuple[float, float], ys: tuple[float, float]) -> None:
        self.xs, self.ys = (xs[0], max(xs[1], xs[0] + 1)), ys
        cells = max(height, 1), max(width, 1)
        self.dots = np.zeros((cells[0] * 4, cells[1] * 2), dtype=bool)
        self.ink = np.zeros(cells, dtype=np.int16)
        self.ground = np.zeros(cells, dtype=np.int16)
        self.names = [""]
        self.signs: dict[tuple[int, int], tuple[str, str]] = {}

    @property
    def height(self) -> int:
        """Number of rows of cells."""
        return int(self.ink.shape[0])

    def code(self, name: str) -> int:
        """The number that stands for an ink or a ground."""
        if name not in self.names:
            self.names.append(name)
        return self.names.index(name)

    @property
    def times(self) -> Array:
        """The time of each column of dots, s."""
        a, b = self.xs
        return np.linspace(a, b, self.dots.shape[1])

    def along(self, t: Array | Sequence[float], values: Array | Sequence[float]) -> Array:
        """Values for ``line`` of the straight lines through points, nan beyond them."""
        return np.interp(self.times, t, values, left=np.nan, right=np.nan)

    def column(self, t: float) -> int:
        """The column of dots of a time."""
        a, b = self.xs
        return round((t - a) / (b - a) * (self.dots.shape[1] - 1))

    def rows(self, values: Array) -> Array:
        """Rows of dots of values, not rounded, from the top."""
        low, high = self.ys
        return np.asarray((high - values) / (high - low) * (self.dots.shape[0] - 1), dtype=float)

    def _mark(self, rows: NDArray[np.intp], columns: NDArray[np.intp], ink: str) -> None:
        inside = (rows >= 0) & (rows < self.dots.shape[0]) & (columns >= 0) & (columns < self.dots.shape[1])
        r, c = rows[inside], columns[inside]
        self.dots[r, c] = True
        self.ink[r // 4, c // 2] = self.code(ink)

    def line(self, values: Array, ink: str = "", *, dashes: int = 0) -> None:
        """Draw a line through one value for each column of dots (nan: none); ``dashes`` dots on, as many off."""
        rows = np.rint(self.rows(values))
        known = np.flatnonzero(np.isfinite(rows))
        if not known.size:
            return
        at = np.clip(rows[known], -4, self.dots.shape[0] + 4).astype(np.intp)
        r, c = [at], [known]
        steep = np.flatnonzero((np.abs(np.diff(at)) > 1) & (np.diff(known) == 1))
        for i in steep:  # close the gaps of a steep stretch
            a, b = sorted((int(at[i]), int(at[i + 1])))
            middle = (a + b) // 2
            r += [np.arange(a, middle + 1), np.arange(middle, b + 1)]
            first, second = (0, 1) if at[i] <= at[i + 1] else (1, 0)
            c += [np.full(middle - a + 1, known[i + first]), np.full(b - middle + 1, known[i + second])]
        rr, cc = np.concatenate(r), np.concatenate(c)
        if dashes:
            keep = (cc // dashes) % 2 == 0
            rr, cc = rr[keep], cc[keep]
        self._mark(rr, cc, ink)

    def between(self, low: Array, high: Array, ink: str) -> None:
        """Draw a light stipple between two values in each column of dots."""
        top, bottom = self.rows(high), self.rows(low)
        y = np.arange(self.dots.shape[0])[:, None]
        with np.errstate(invalid="ignore"):
            inside = (y >= top) & (y <= bottom)
        x = np.arange(self.dots.shape[1])[None, :]
        rows, columns = np.nonzero(inside & ((y + 2 * ((x // 2) % 2)) % 4 == 1) & (x % 2 == 0))
        self._mark(rows, columns, ink)

    def shade(self, low: Array, high: Array, ground: str) -> None:
        """Shade every cell whose middle lies between two values."""
        top, bottom = (self.rows(v)[::2] for v in (high, low))
        y = (np.arange(self.height) * 4 + 1.5)[:, None]
        with np.errstate(invalid="ignore"):
            self.ground[(y >= top) & (y <= bottom)] = self.code(ground)

    def level(self, value: float) -> None:
        """Draw a level as single dots, three cells apart."""
        columns = np.arange(0, self.dots.shape[1], 6)
        self._mark(np.full(len(columns), int(np.rint(self.rows(np.array(value))))), columns, "")

    def upright(self, t: float, ink: str = "", every: int = 2, span: tuple[float, float] | None = None) -> None:
        """Draw a dotted upright line at a time (s), between the two values of a ``span``."""
        top, bottom = (0.0, self.dots.shape[0] - 1.0) if span is None else self.rows(np.array(span[::-1]))
        rows = np.arange(round(top), round(bottom) + 1, every)
        self._mark(rows, np.full(len(rows), self.column(t)), ink)

    def sign(self, t: float, value: float, sign: str, ink: str = "") -> None:
        """Put a character in the cell of a point, over its dots; at the edge where the value lies outside."""
        y = int(np.rint(self.rows(np.array(value)).clip(0, self.dots.shape[0] - 1))) // 4
        self.put(self.column(t) // 2, y, sign, ink)

    def put(self, x: int, y: int, text: str, ink: str) -> None:
        """Put text from a cell on, as far as the picture goes."""
        for i, sign in enumerate(text):
            if 0 <= x + i < self.ink.shape[1] and 0 <= y < self.height:
                self.signs[x + i, y] = (sign, ink)

    def text(self, inks: Mapping[str, str], *, plain: bool = False, left: list[str] | None = None) -> Text:
        """The picture; ``inks`` gives a style for each name, of inks and grounds; ``left`` a label for each row."""
        height, width = self.ink.shape
        cells = self.dots.reshape(height, 4, width, 2).transpose(0, 2, 1, 3)
        bits = (cells * BITS).sum(axis=(2, 3))
        glyphs = (FEWER_ARRAY if plain else SIGNS_ARRAY)[bits]
        ink = np.where(bits > 0, self.ink, 0)
        for (x, y), (sign, of) in self.signs.items():
            glyphs[y, x], ink[y, x] = sign, self.code(of)
        columns = np.arange(width)
        styles = [inks.get(name, "") for name in self.names]
        out = Text(no_wrap=True)
        for y in range(height):
            if left is not None:
                out.append(left[y], inks.get("label", ""))
            known = np.where(ink[y] > 0, columns, 0)
            filled = ink[y][np.maximum.accumulate(known)]  # blanks take the ink before them: fewer runs
            key = filled.astype(np.int32) * 64 + self.ground[y]
            edges = [0, *(np.flatnonzero(np.diff(key)) + 1).tolist(), width]
            row = "".join(glyphs[y].tolist())
            for a, b in pairwise(edges):
                ground = styles[self.ground[y, a]]
                out.append(row[a:b], f"{styles[filled[a]]} on {ground}".strip() if ground else styles[filled[a]])
            if y < height - 1:
                out.append("\n")
        return out


def framed(
    p: Picture, label: Callable[[float], str], left: str, right: str, plain: bool = False, pad: int = 0
) -> list[str]:
    """A picture in lines, the ends of its range as ``label`` writes them at the left (in at least ``pad`` cells), those
    of its axis below."""
    bottom, top = map(label, p.ys)
    pad = max(len(top), len(bottom), pad)
    rows = p.text({}, plain=plain).plain.split("\n")
    sides = [top, *[""] * (len(rows) - 2), bottom]
    bar = "|" if plain else "│"
    out = [f"{side:>{pad}} {bar}{row}".rstrip() for side, row in zip(sides, rows, strict=True)]
    gap = max(len(rows[0]) - len(left) - len(right), 1)
    return [*out, " " * (pad + 2) + left + " " * gap + right]


def spread(values: Iterable[float], margin: float = 0.06) -> tuple[float, float]:
    """A range that holds all values, with some margin."""
    known = [v for v in values if isfinite(v)]
    low, high = min(known), max(known)
    room = (high - low) * margin or max(abs(high) * 0.02, 0.5)
    return low - room, high + room
