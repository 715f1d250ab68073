"""Letters and digits made of block characters, in two sizes: figures for the screen, and some for across the room.

Scale 1 puts two rows of dots into one row of the terminal (half blocks), so that letters of 7 dots are 3.5 rows high.
With 12-point type a row is about 5.1 mm (1.2 em), so that is 18 mm, over the 20 minutes of arc that ISO 9241-3 prefers
at 3 m (17.5 mm, by the formula of NUREG-0700, 1.3.1-4).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

HALF: Final = {("0", "0"): " ", ("1", "0"): "▀", ("0", "1"): "▄", ("1", "1"): "█"}


class Letters:
    """Letters of one height; ``glyphs`` gives each character's rows of dots.  Those without a glyph are left out."""

    def __init__(self, glyphs: Mapping[str, str]) -> None:
        self.glyphs = {sign: tuple(rows.split()) for sign, rows in glyphs.items()}
        self.height = len(self.glyphs[" "])

    def width(self, text: str, scale: int = 1) -> int:
        """Columns that a text takes."""
        return max(scale * (sum(len(self.glyphs[c][0]) + 1 for c in text.upper() if c in self.glyphs) - 1), 0)

    def rows(self, scale: int = 1) -> int:
        """Rows of the terminal that a text takes."""
        return -(-self.height * scale // 2)

    def draw(self, text: str, scale: int = 1) -> list[str]:
        """A text in block characters, row by row."""
        glyphs = [self.glyphs[c] for c in text.upper() if c in self.glyphs]
        lines = ["0".join(g[i] for g in glyphs) for i in range(self.height)]
        dots = ["".join(d * scale for d in line) for line in lines for _ in range(scale)]
        if len(dots) % 2:
            dots.append("0" * len(dots[0]))
        return [
            "".join(HALF[pair] for pair in zip(*two, strict=True)) for two in zip(dots[::2], dots[1::2], strict=True)
        ]

    def fitting(self, text: str, columns: int, lines: int, most: int = 4, *, whole: bool = False) -> int:
        """The largest scale at which a text fits; 0 when none does.  ``whole``: one that needs no half blocks."""
        scales = range(most - most % 2, 0, -2) if whole else range(most, 0, -1)
        return next((s for s in scales if self.width(text, s) <= columns and self.rows(s) <= lines), 0)


SMALL: Final = Letters({
    "0": "111 101 101 101 111", "1": "01 11 01 01 01", "2": "111 001 111 100 111", "3": "111 001 011 001 111",
    "4": "101 101 111 001 001", "5": "111 100 111 001 111", "6": "111 100 111 101 111", "7": "111 001 010 010 010",
    "8": "111 101 111 101 111", "9": "111 101 111 001 111", "A": "010 101 111 101 101", "B": "110 101 110 101 110",
    "C": "111 100 100 100 111", "D": "110 101 101 101 110", "E": "111 100 110 100 111", "F": "111 100 110 100 100",
    "G": "0111 1000 1011 1001 0111", "H": "101 101 111 101 101", "I": "1 1 1 1 1", "J": "001 001 001 101 111",
    "K": "101 101 110 101 101", "L": "100 100 100 100 111", "M": "10001 11011 10101 10001 10001",
    "N": "1001 1101 1011 1001 1001", "O": "111 101 101 101 111", "P": "111 101 111 100 100",
    "Q": "1110 1010 1010 1010 1111", "R": "110 101 110 101 101", "S": "111 100 111 001 111", "T": "111 010 010 010 010",
    "U": "101 101 101 101 111", "V": "101 101 101 101 010", "W": "10001 10001 10101 11011 10001",
    "X": "101 101 010 101 101", "Y": "101 101 010 010 010", "Z": "111 001 010 100 111",
    ":": "0 1 0 1 0", ".": "0 0 0 0 1", "-": "00 00 11 00 00", "−": "000 000 111 000 000", "–": "000 000 111 000 000",
    "+": "000 010 111 010 000", "°": "11 11 00 00 00", "→": "00100 00010 11111 00010 00100", "!": "1 1 1 0 1",
    "?": "111 001 011 000 010", ",": "0 0 0 1 1", " ": "00 00 00 00 00",
})  # fmt: skip
"""Five dots high: figures and the verb on the roast screen."""
BIG: Final = Letters({
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
})  # fmt: skip
"""Seven dots high, up to five wide: the glance view."""
