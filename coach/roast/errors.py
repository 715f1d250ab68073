"""Errors that a person can put right: what is wrong, and what to do now."""

from __future__ import annotations

import unicodedata
from collections.abc import Container, Iterable
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from pydantic import ValidationError

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


def as_argument(name: str) -> str:
    """A name as it is typed on a command line."""
    return f'"{printable(name)}"' if " " in name else printable(name)


def reason_of(error: Exception) -> str:
    """The reason of an error of the system, in its words."""
    return printable(getattr(error, "strerror", None) or str(error) or type(error).__name__)


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """ "Did you mean 'x'? ", with the known word that is nearest to what was typed; '' where none is near."""
    from difflib import get_close_matches

    by_case = {k.lower(): k for k in known}
    near = get_close_matches(word.lower(), by_case, n=1, cutoff=0.6)
    return f"Did you mean '{by_case[near[0]]}'? " if near else ""


MEANT: Final = {
    "missing": "is missing", "extra_forbidden": "is not known", "bool_type": "must be true or false",
    "bool_parsing": "must be true or false", "float_type": "must be a number", "float_parsing": "must be a number",
    "finite_number": "must be a number", "int_type": "must be a whole number", "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number", "string_type": "must be a text in quotes",
    "string_unicode": "holds half a character", "literal_error": "must be {expected}",
    "less_than_equal": "must be {le:.10g} at most", "less_than": "must be less than {lt:.10g}",
    "greater_than_equal": "must be {ge:.10g} at least", "greater_than": "must be more than {gt:.10g}",
    "string_too_long": "must have {max_length} characters at most", "too_long": "must have {max_length} at most",
    "string_too_short": "must have {min_length} characters at least", "too_short": "must have {min_length} at least",
    "list_type": "must be a list", "tuple_type": "must be a list", "dict_type": "must be a table",
    "model_type": "must be a table", "value_error": "{error}", "union_tag_not_found": "{discriminator} is missing",
    "union_tag_invalid": "{discriminator} must be one of {expected_tags}, not '{tag}'",
}  # fmt: skip
"""Faults of a value in our words, by the type that pydantic gives to them (its documentation, "Validation Errors")."""


def faults(error: ValidationError, most: int = 8, without: Container[str] = ()) -> list[str]:
    """Faults of a file's values, in our words: 'field: must be a number', the first ``most``; ``without``: parts of a
    field's name that its file doesn't have."""
    out = []
    for e in error.errors(include_url=False, include_input=False)[:most]:
        where = ".".join(str(p) for p in e["loc"] if str(p) not in without)
        words = MEANT.get(e["type"])
        text = str(e["msg"]) if words is None else words.format(**e.get("ctx", {}))
        out.append(printable(f"{where}: {text}" if where else text))
    return out


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
