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
        self.to_enter: list[str] = []
        """Lines of a paste that are still to be entered."""
        self.entered = 0
        """How many of them were."""
        self.left_out = 0
        """Lines of the last paste that were too many."""
        self.shortened = False
        """Whether what it left in the line was too long for it."""

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
        whole = text.replace("\r\n", "\n").replace("\r", "\n")
        head, *rest = whole[: LONGEST * MOST_LINES].split("\n")
        if not rest:
            joined = self.text + printable(head)
            self.text, self.left_out = joined[:LONGEST], 0
            self.shortened = len(joined) > LONGEST or len(whole) > len(head)
            return []
        lines = [x for x in (self.text + printable(head), *map(printable, rest[:-1])) if x.strip()]
        taken = lines[:MOST_LINES]
        self.left_out = max(sum(bool(x.strip()) for x in whole.split("\n")[:-1]) - len(taken), 0)
        last = "" if self.left_out > 0 else printable(rest[-1])
        self.text, self.offered = last[:LONGEST], False
        self.shortened = len(last) > LONGEST
        return [line[: LONGEST + 1] for line in taken]
