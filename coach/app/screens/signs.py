"""Characters of a terminal: the full set, or plain ASCII where the terminal has no more."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from typing import Final, Literal

ASCII: Final = str.maketrans(
    {
        "·": ".", "─": "-", "░": ":", "●": "O", "○": "o", "◆": "*",
        "×": "x", "▲": "^", "▼": "v", "▸": ">", "›": ">", "▏": "_",
        "⌫": "Bksp", "−": "-", "│": "|", "“": '"', "”": '"',
        "→": "->", "–": "-", "°": " ", "±": "+-", "…": "...", "█": "#", "▀": "#", "▄": "#", "↑": "Up", "↓": "Down",
        "▾": "v", "├": "[", "┤": "]", "┿": "+", "┃": "|", "▶": ">", "‼": "!", "═": "=", "║": "H", "━": "=", "▒": ":",
        "╭": "+", "╮": "+", "╰": "+", "╯": "+", "╔": "#", "╗": "#", "╚": "#", "╝": "#",
        "\ufffd": "?", "≈": "~", "≤": "<=", "≥": ">=",
    }
)  # fmt: skip


def plain(wanted: Literal["auto", "full", "ascii"], encoding: str | None, environ: Mapping[str, str]) -> bool:
    """True for plain ASCII: as the person wants it, else if the terminal's encoding has no block characters."""
    if wanted != "auto":
        return wanted == "ascii"
    try:
        "█▀▄░●─×°▏".encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return True
    return environ.get("TERM") in ("linux", "dumb")  # the console's own font has no dots and bars


def terminal_encoding() -> str:
    """The encoding of the terminal's text."""
    import locale

    if os.environ.get("PYTHONUTF8") == "1" or sys.platform == "win32":  # PEP 528: the console there speaks UTF-8
        return "utf-8"
    return locale.getencoding()


def to_plain(text: str) -> str:
    """Text in ASCII alone; characters without a likeness become '?'."""
    return text.translate(ASCII).encode("ascii", "replace").decode("ascii")
