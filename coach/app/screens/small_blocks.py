"""Small block letters, three rows of the terminal high: five dots by three to five, in half blocks.  Pure."""

from __future__ import annotations

from typing import Final

_ROWS: Final = {
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
}  # fmt: skip
GLYPHS: Final = {sign: tuple(rows.split()) for sign, rows in _ROWS.items()}
_HALF: Final = {("0", "0"): " ", ("1", "0"): "▀", ("0", "1"): "▄", ("1", "1"): "█"}


def small_width(text: str, scale: int = 1) -> int:
    """Columns that a text takes."""
    return max(scale * (sum(len(GLYPHS[c][0]) + 1 for c in text.upper() if c in GLYPHS) - 1), 0)


def small(text: str, scale: int = 1) -> list[str]:
    """A text in three rows (five at scale 2) of block characters; characters without a glyph are left out."""
    glyphs = [GLYPHS[c] for c in text.upper() if c in GLYPHS]
    lines = ["0".join(g[i] for g in glyphs) for i in range(5)]
    dots = ["".join(d * scale for d in line) for line in lines for _ in range(scale)]
    if len(dots) % 2:
        dots.append("0" * len(dots[0]))
    return [
        "".join(_HALF[a, b] for a, b in zip(up, down, strict=True))
        for up, down in zip(dots[::2], dots[1::2], strict=True)
    ]
