"""The line that is typed into."""

from __future__ import annotations

from typing import Final

from coach.library import printable

LONGEST: Final = 200
"""Signs that the line holds."""
MOST_LINES: Final = 40
"""Lines of one paste that are taken."""


class EntryLine:
    """What stands in the entry line.  ``offered`` is a mark's letter put there for a time to be added."""

    def __init__(self) -> None:
        self.text = ""
        self.offered = False

    def type(self, sign: str) -> None:
        """One more sign."""
        self.offered = False
        if len(self.text) < LONGEST and sign.isprintable():
            self.text += sign

    def offer(self, letter: str) -> None:
        """Put a mark's letter there; it gives way to anything typed that is no time."""
        self.text, self.offered = letter, True

    def give_way(self, sign: str) -> None:
        """Before a sign is typed: an offered letter stays only for a time (``@`` or a space and a minus)."""
        if self.offered and sign not in ("@", " ", "-"):
            self.clear()

    def erase(self) -> bool:
        """Backspace; whether there was anything."""
        had = bool(self.text)
        self.text, self.offered = self.text[:-1], False
        return had

    def clear(self) -> None:
        """Nothing stands there any more."""
        self.text, self.offered = "", False

    def take(self) -> str:
        """The line as typed; the line is empty then."""
        text = self.text
        self.clear()
        return text

    def paste(self, text: str) -> list[str]:
        """Take what was pasted: the whole lines, to be entered one by one; what follows the last stays in the line."""
        head, *rest = text[: LONGEST * MOST_LINES].replace("\r\n", "\n").replace("\r", "\n").split("\n")
        if not rest:
            self.text = (self.text + printable(head))[:LONGEST]
            return []
        lines = [self.text + printable(head), *map(printable, rest[:-1])]
        self.text, self.offered = printable(rest[-1])[:LONGEST], False
        return [line[: LONGEST + 1] for line in lines[:MOST_LINES] if line.strip()]
