"""One typed line becomes an entry: ``198``, ``164@6:20``, ``164-10``, ``fc``, ``gas 1.3``, ``g1.3@6:00``, ``/a note``.

A time can be given to anything: ``@m:ss`` is roast time, ``-n`` after a space or a number is n seconds ago, and so is
``@-n``.  A time alone, ``@6:20`` or ``@-10``, is for the entry made last.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from coach.roast.entries import Event
from coach.roast.errors import EntryError
from coach.roast.units import Control, parse_clock

MARK_WORDS: Final[dict[str, Event]] = {
    "charge": "charge",
    "c": "charge",
    "turning point": "turning point",
    "yellow": "yellow",
    "y": "yellow",
    "first crack": "first crack",
    "f": "first crack",
    "fc": "first crack",
    "second crack": "second crack",
    "s": "second crack",
    "sc": "second crack",
    "drop": "drop",
    "d": "drop",
}
CONTROL_WORDS: Final[dict[str, Control]] = {
    "gas": "gas",
    "g": "gas",
    "air": "air",
    "a": "air",
    "drum": "drum",
    "r": "drum",
}

EXAMPLES: Final = "198 · 198@6:20 · 198 -10 · y · g 1.3 · /note"


@dataclass(frozen=True)
class Typed:
    """The content of a line, before it has a place in a roast.

    One of ``temperature``, ``event``, ``control`` (with ``value``) and ``note`` is set; none when only a time was
    typed, which is then meant for the entry made last.  ``roast_time`` (s) or ``ago`` (s) gives when it happened;
    both None means now.
    """

    temperature: float | None = None
    event: Event | None = None
    control: Control | None = None
    value: float | None = None
    note: str | None = None
    roast_time: float | None = None
    ago: float | None = None
    turned: bool = False
    """True if a temperature was logged as the dial turned to it."""

    @property
    def only_time(self) -> bool:
        """True if nothing but a time was typed."""
        return self.temperature is None and self.event is None and self.control is None and self.note is None


_NUMBER = r"(?:\d+(?:[.,]\d*)?|[.,]\d+)"
_WHEN = re.compile(r"^(?P<rest>.*?)\s*@\s*(?P<clock>\S.*)$")
_AGO = re.compile(rf"^(?P<rest>.*(?:\s|\d|[a-z]))\s*-\s*(?P<ago>{_NUMBER})\s*s?$")
_BACK = re.compile(rf"^-\s*(?P<ago>{_NUMBER})\s*s?$")
_READING = re.compile(rf"^(?P<number>{_NUMBER})$")
_MOVE = re.compile(rf"^(?P<word>[a-z]+)\s*(?P<number>{_NUMBER})$")


def _float(text: str) -> float:
    if len(text) > 12:
        raise EntryError(f"'{text[:12]}…' is too long for a number.", "Type it again.")
    return float(text.replace(",", "."))


def _seconds_ago(text: str) -> float:
    ago = _float(text)
    if ago > 3600:
        raise EntryError(f"{ago:g} seconds ago is more than an hour.", "Give the roast time: 164@6:20")
    return ago


def parse(line: str) -> Typed:
    """The meaning of a typed line.  Raises EntryError, with what to type instead."""
    text = " ".join(line.split())
    if not text:
        raise EntryError("Nothing typed.", f"For example: {EXAMPLES}")
    if text.startswith("/"):
        note = line.strip()[1:].strip()
        if not note:
            raise EntryError("An empty note.", "Type text after the /.")
        return Typed(note=note[:4000])
    text = text.lower()
    if len(text) > 60 or not text.isascii():
        raise EntryError(f"'{text[:24]}' is not understood.", f"For example: {EXAMPLES}")
    roast_time: float | None = None
    ago: float | None = None
    if match := _WHEN.match(text):
        text = match["rest"]
        if (back := _BACK.match(match["clock"])) is not None:
            ago = _seconds_ago(back["ago"])
        else:
            try:
                roast_time = parse_clock(match["clock"])
            except ValueError as error:
                raise EntryError(f"{error}.", "") from None
        if not text.strip():
            return Typed(roast_time=roast_time, ago=ago)
    elif match := _AGO.match(text):
        text, ago = match["rest"].strip(), _seconds_ago(match["ago"])
    return _body(text.strip(), roast_time, ago)


_LIKE: Final[dict[Control, str]] = {"gas": "1.3", "air": "4", "drum": "48"}
"""A value of each control, as an example."""


def _body(text: str, roast_time: float | None, ago: float | None) -> Typed:
    if match := _READING.match(text):
        if len(match["number"].replace(",", ".").partition(".")[2]) > 2:
            raise EntryError(f"'{text}' is not one reading.", "Type one value, for example 198 or 198.5")
        return Typed(temperature=_float(match["number"]), roast_time=roast_time, ago=ago)
    if text in MARK_WORDS:
        return Typed(event=MARK_WORDS[text], roast_time=roast_time, ago=ago)
    if match := _MOVE.match(text):
        moved = CONTROL_WORDS.get(match["word"])
        if moved:
            return Typed(control=moved, value=_float(match["number"]), roast_time=roast_time, ago=ago)
    if text in CONTROL_WORDS:
        control = CONTROL_WORDS[text]
        wrong = "to what?" if ago is None else "can't be below zero."
        raise EntryError(f"{control} {wrong}", f"Type the value: {text} {_LIKE[control]}")
    if text.startswith("-"):
        raise EntryError("A reading below zero is not taken.", "Type the display's value, for example 198")
    raise EntryError(f"'{text[:24]}' is not understood.", f"For example: {EXAMPLES}")
