"""Big letters and digits made of block characters, to be read from across the room.

Each glyph is 7 dots high and up to 5 wide.  Scale 1 puts two rows of dots into one row of the terminal (half blocks):
3.5 rows high.  With 12-point type a row is about 5.1 mm (1.2 em), so that is 18 mm, over the 20 minutes of arc that
ISO 9241-3 prefers at 3 m (17.5 mm, by the formula of NUREG-0700, 1.3.1-4).
"""

from __future__ import annotations

from typing import Final

_ROWS: Final = {
    "0": "01110 10001 10011 10101 11001 10001 01110", "1": "00100 01100 00100 00100 00100 00100 01110",
    "2": "01110 10001 00001 00110 01000 10000 11111", "3": "11110 00001 00001 01110 00001 00001 11110",
    "4": "00010 00110 01010 10010 11111 00010 00010", "5": "11111 10000 11110 00001 00001 10001 01110",
    "6": "01110 10000 10000 11110 10001 10001 01110", "7": "11111 00001 00010 00100 01000 01000 01000",
    "8": "01110 10001 10001 01110 10001 10001 01110", "9": "01110 10001 10001 01111 00001 00001 01110",
    "A": "01110 10001 10001 11111 10001 10001 10001", "B": "11110 10001 10001 11110 10001 10001 11110",
    "C": "01110 10001 10000 10000 10000 10001 01110", "D": "11110 10001 10001 10001 10001 10001 11110",
    "E": "11111 10000 10000 11110 10000 10000 11111", "F": "11111 10000 10000 11110 10000 10000 10000",
    "G": "01110 10001 10000 10111 10001 10001 01111", "H": "10001 10001 10001 11111 10001 10001 10001",
    "I": "111 010 010 010 010 010 111", "J": "00111 00010 00010 00010 00010 10010 01100",
    "K": "10001 10010 10100 11000 10100 10010 10001", "L": "10000 10000 10000 10000 10000 10000 11111",
    "M": "10001 11011 10101 10101 10001 10001 10001", "N": "10001 11001 10101 10011 10001 10001 10001",
    "O": "01110 10001 10001 10001 10001 10001 01110", "P": "11110 10001 10001 11110 10000 10000 10000",
    "Q": "01110 10001 10001 10001 10101 10010 01101", "R": "11110 10001 10001 11110 10100 10010 10001",
    "S": "01111 10000 10000 01110 00001 00001 11110", "T": "11111 00100 00100 00100 00100 00100 00100",
    "U": "10001 10001 10001 10001 10001 10001 01110", "V": "10001 10001 10001 10001 10001 01010 00100",
    "W": "10001 10001 10001 10101 10101 11011 10001", "X": "10001 10001 01010 00100 01010 10001 10001",
    "Y": "10001 10001 01010 00100 00100 00100 00100", "Z": "11111 00001 00010 00100 01000 10000 11111",
    ":": "0 1 1 0 1 1 0", ".": "0 0 0 0 0 1 1", "-": "000 000 000 111 000 000 000",
    "+": "00000 00100 00100 11111 00100 00100 00000",
    "=": "00000 00000 11111 00000 11111 00000 00000", "!": "1 1 1 1 1 0 1", "°": "110 110 000 000 000 000 000",
    "▲": "0001000 0001000 0011100 0011100 0111110 0111110 1111111",
    "▼": "1111111 0111110 0111110 0011100 0011100 0001000 0001000",
    "▸": "1100000 1111000 1111110 1111111 1111110 1111000 1100000",
    "✓": "0000001 0000010 0000100 1000100 0101000 0110000 0010000",
    " ": "000 000 000 000 000 000 000",
}  # fmt: skip
GLYPHS: Final = {sign: tuple(rows.split()) for sign, rows in _ROWS.items()}
HEIGHT: Final = 7
"""Dots from top to bottom."""


def width(text: str, scale: int = 1) -> int:
    """Columns that a text takes."""
    return scale * sum(len(GLYPHS[c][0]) + 1 for c in text.upper() if c in GLYPHS)


def rows(scale: int) -> int:
    """Rows of the terminal that a line of big letters takes."""
    return -(-HEIGHT * scale // 2)


def big(text: str, scale: int = 1) -> list[str]:
    """A text in block characters; characters without a glyph are left out."""
    lines = ["" for _ in range(HEIGHT)]
    for c in text.upper():
        for i, row in enumerate(GLYPHS.get(c, ("",) * HEIGHT)):
            lines[i] += "".join(dot * scale for dot in row) + ("0" * scale if row else "")
    dots = [line for line in lines for _ in range(scale)]
    if len(dots) % 2:
        dots.append("0" * len(dots[0]))
    half = {("0", "0"): " ", ("1", "0"): "▀", ("0", "1"): "▄", ("1", "1"): "█"}
    return [
        "".join(half[a, b] for a, b in zip(top, low, strict=True))
        for top, low in zip(dots[::2], dots[1::2], strict=True)
    ]


def fitting(text: str, columns: int, lines: int, most: int = 4, *, whole: bool = False) -> int:
    """The largest scale at which a text fits; 0 when none does.  ``whole``: one that needs no half blocks."""
    scales = range(most - most % 2, 0, -2) if whole else range(most, 0, -1)
    return next((s for s in scales if width(text, s) <= columns and rows(s) <= lines), 0)
