"""Small plots for the terminal, drawn in braille dots (two by four in a cell), or in plain characters.  Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import isfinite
from typing import Final

_DOTS: Final = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
"""Bits of the eight dots of a cell by column and row (Unicode 15, block Braille Patterns)."""


class Canvas:
    """A picture of ``width`` x ``height`` cells over the ranges ``xs`` and ``ys``; points outside are not drawn."""

    def __init__(self, width: int, height: int, xs: tuple[float, float], ys: tuple[float, float]) -> None:
        self.width, self.height = width, height
        self.x0, self.x1 = xs if xs[1] > xs[0] else (xs[0] - 1, xs[0] + 1)
        self.y0, self.y1 = ys if ys[1] > ys[0] else (ys[0] - 1, ys[0] + 1)
        self._cells = [[0] * width for _ in range(height)]
        self._signs: dict[tuple[int, int], str] = {}

    def _place(self, x: float, y: float) -> tuple[int, int] | None:
        """Dot column and row (from the top) of a point."""
        if not (isfinite(x) and isfinite(y)):
            return None
        i = round((x - self.x0) / (self.x1 - self.x0) * (2 * self.width - 1))
        j = round((self.y1 - y) / (self.y1 - self.y0) * (4 * self.height - 1))
        return (i, j) if 0 <= i < 2 * self.width and 0 <= j < 4 * self.height else None

    def dot(self, x: float, y: float) -> None:
        """Draw one dot."""
        place = self._place(x, y)
        if place is not None:
            i, j = place
            self._cells[j // 4][i // 2] |= _DOTS[i % 2][j % 4]

    def line(self, points: Sequence[tuple[float, float]]) -> None:
        """Draw dots along the straight lines between points."""
        for (xa, ya), (xb, yb) in pairwise(points):
            steps = 1 + int(
                max(
                    abs(xb - xa) / (self.x1 - self.x0) * 2 * self.width,
                    abs(yb - ya) / (self.y1 - self.y0) * 4 * self.height,
                )
            )
            for k in range(min(steps, 4000) + 1):
                share = k / min(steps, 4000)
                self.dot(xa + share * (xb - xa), ya + share * (yb - ya))

    def dashed(self, y: float) -> None:
        """Draw a level as single dots, three cells apart."""
        for cell in range(0, self.width, 3):
            self.dot(self.x0 + (self.x1 - self.x0) * (2 * cell) / (2 * self.width - 1), y)

    def sign(self, x: float, y: float, sign: str) -> None:
        """Put a character in the cell of a point, over its dots."""
        place = self._place(x, y)
        if place is not None:
            self._signs[place[0] // 2, place[1] // 4] = sign

    def lines(self, plain: bool = False) -> list[str]:
        """The picture; ``plain`` uses . and : where a terminal has no braille."""
        out = []
        for j, row in enumerate(self._cells):
            text = ""
            for i, bits in enumerate(row):
                dot = chr(0x2800 + bits) if not plain else (" .:"[min(bits.bit_count(), 2)])
                text += self._signs.get((i, j), dot if bits else " ")
            out.append(text.rstrip())
        return out


def spread(values: Iterable[float], margin: float = 0.06) -> tuple[float, float]:
    """A range that holds all values, with some margin."""
    known = [v for v in values if isfinite(v)]
    low, high = min(known), max(known)
    room = (high - low) * margin or max(abs(high) * 0.02, 0.5)
    return low - room, high + room


def framed(
    canvas: Canvas, top: str, bottom: str, left: str, right: str, plain: bool = False, pad: int = 0
) -> list[str]:
    """The picture with its range at the left (in at least ``pad`` cells) and below."""
    pad = max(len(top), len(bottom), pad)
    rows = canvas.lines(plain)
    bar = "|" if plain else "│"
    out = [f"{top if i == 0 else bottom if i == len(rows) - 1 else '':>{pad}} {bar}{row}" for i, row in enumerate(rows)]
    gap = max(canvas.width - len(left) - len(right), 1)
    out.append(" " * (pad + 2) + left + " " * gap + right)
    return out
