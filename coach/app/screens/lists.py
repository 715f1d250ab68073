"""A list whose lines have tasks, which are commands, and details: shown on a board, or printed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar, Final

from coach.app.printing import hung

KEYS: Final = (
    "↑ ↓ PgUp PgDn   choose a line; a click does too",
    "Enter           does a line's first task; letters do the others",
    "Space           shows more of a line, where there is no room beside it",
    "Esc             closes what is open",
    "q               leaves (ctrl+q does, everywhere)",
)


@dataclass(frozen=True)
class Task:
    """A task for a line: its key, its word, and the command.  ``ask``: the question to answer first, with an
    ``example``; ``waits``: its output is read before the board comes back; ``ends``: the board doesn't come back."""

    key: str
    word: str
    argv: tuple[str, ...]
    ask: str = ""
    example: str = ""
    waits: bool = True
    ends: bool = False

    def with_answer(self, text: str) -> Task:
        """The command with the typed answer: in the place of '{}', with options after it at the end, else all at its
        end, word by word."""
        import shlex

        whole, dashes, options = text.partition(" --") if "{}" in self.argv else ("", "", text)
        try:
            words = tuple(shlex.split(dashes + options))
        except ValueError:  # a quote was left open
            words = tuple((dashes + options).split())
        return replace(self, argv=tuple(whole.strip() if a == "{}" else a for a in self.argv) + words)


def nothing(wide: int, plain: bool) -> Sequence[str]:
    """Empty details, for a line without any."""
    return ()


@dataclass(frozen=True)
class Row:
    """A line of the list, its tasks (Enter: the first), and its details: lines for a width in cells, in plain
    characters alone or not."""

    ident: str
    text: str
    tasks: tuple[Task, ...]
    detail: Callable[[int, bool], Sequence[str]] = nothing
    strong: bool = False


class Listing:
    """Content of a board."""

    note: ClassVar[str] = ""
    """Text above the keys."""
    guide: ClassVar[tuple[str, ...]] = KEYS
    """Lines of the page of help."""

    @property
    def always(self) -> tuple[Task, ...]:
        """Tasks of letters for any line, where that gives them no other meaning."""
        return ()

    def heading(self) -> str:
        """Text of the first row."""
        raise NotImplementedError

    def items(self, wide: int) -> Iterable[str | Row]:
        """The list for a width of ``wide`` cells: headings, and lines under them."""
        raise NotImplementedError

    def first(self) -> str:
        """The line selected where none was; '' for the first of all."""
        return ""

    def ready(self) -> bool:
        """True if Enter may take the line selected at first."""
        return True

    def printed(self, wide: int) -> list[str]:
        """The list in lines of ``wide`` cells, without its tasks."""
        lines: list[str] = []
        for item in self.items(wide):
            lines += ["", item] if isinstance(item, str) else [f"  {item.text}"]
        return hung(lines[not lines[0] :], wide)
