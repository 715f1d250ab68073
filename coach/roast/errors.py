"""Errors that a person can put right: what is wrong, and what to do now."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import Final

MOST_MARKS: Final = 4
"""Combining marks kept over one character; scripts in use need three at most (common practice, no source)."""


def printable(text: str) -> str:
    """Text without control and escape characters and without towers of combining marks, safe for terminal and page."""
    if text.isascii() and text.isprintable():
        return text
    out, marks = [], 0
    for c in text:
        marks = marks + 1 if unicodedata.category(c) in ("Mn", "Me") else 0
        if marks <= MOST_MARKS:
            out.append(c if c.isprintable() else "\ufffd")
    return "".join(out)


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """ "Did you mean 'x'? ", with the known word that is nearest to what was typed; '' where none is near."""
    from difflib import get_close_matches

    by_case = {k.lower(): k for k in known}
    near = get_close_matches(word.lower(), by_case, n=1, cutoff=0.6)
    return f"Did you mean '{by_case[near[0]]}'? " if near else ""


class CoachError(Exception):
    """An error that a person can put right.

    ``message`` says what happened, ``hint`` what to do; both are safe to show, whatever was typed or read from a file.
    Any exception of another kind is a bug.
    """

    def __init__(self, message: str, hint: str = "") -> None:
        message, hint = printable(message), printable(hint)
        super().__init__(message if not hint else f"{message} {hint}")
        self.message = message
        self.hint = hint


class EntryError(CoachError):
    """Rejection of what was typed; the roast is as it was."""


class FileError(CoachError):
    """A file that can't be read or written, at ``path``, ``line`` (1-based, 0 when not known) and ``field``."""

    def __init__(self, path: str, message: str, hint: str = "", *, line: int = 0, field: str = "") -> None:
        where = path + (f", line {line}" if line else "") + (f", {field}" if field else "")
        super().__init__(f"{where}: {message}", hint)
        self.path = path
        self.line = line
        self.field = field


class ProfileError(FileError):
    """A profile that is wrong."""


class JournalError(FileError):
    """A journal that is wrong, or can't be written."""
