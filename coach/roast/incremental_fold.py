"""The entries in force, with their fold, a roast, one entry after another.

``roast.fold`` defines a roast; this gives the same (a test checks that) without folding all entries again for each
reading: one more, or one corrected, is put in its place.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from coach.roast.entries import Correction, Header, Move, Note, Pop, Reading, Reply
from coach.roast.roast import (
    Numbered,
    Probe,
    Roast,
    Turned,
    corrected,
    effective,
    fold,
    probe_of,
    turned_of,
    until,
    within_a_day,
)


def _place(n: Numbered) -> tuple[float, int]:
    return n.entry.at, n.line


@dataclass(frozen=True)
class Standing:
    """``entries`` as they came in, those in force in order of ``at``, the ``roast``, and the highest line."""

    header: Header
    entries: tuple[Numbered, ...]
    ordered: tuple[Numbered, ...]
    roast: Roast
    top: int

    @classmethod
    def of(cls, header: Header, entries: Sequence[Numbered] = ()) -> Standing:
        """Fold from the start.  Raises EntryError when the entries can't be a roast."""
        ordered = tuple(effective(entries))
        return cls(header, tuple(entries), ordered, fold(header, ordered), max((n.line for n in entries), default=1))

    def with_entry(self, numbered: Numbered) -> Standing:
        """Add one entry, which came in last.  Raises EntryError when it doesn't fit; this one is unchanged."""
        found = None
        if numbered.line > self.top:
            found = self._corrected(numbered) if isinstance(numbered.entry, Correction) else self._added(numbered)
        if found is None:
            return Standing.of(self.header, (*self.entries, numbered))
        return Standing(self.header, (*self.entries, numbered), *found, numbered.line)

    def _added(self, n: Numbered) -> tuple[tuple[Numbered, ...], Roast] | None:
        """Add a reading or move anywhere, any other entry at the end; None where all must be folded."""
        e = n.entry
        ordered = _put(self.ordered, n)
        within_a_day(n, self.roast.charge_at)
        if isinstance(e, Reading | Move):
            roast = self._with(self.roast, n)
            return None if roast is None else (ordered, roast)
        if ordered[-1] is not n or not isinstance(e, Pop | Note | Reply):
            return None
        t = e.at - (self.roast.charge_at or 0.0)
        if isinstance(e, Pop):
            return ordered, replace(self.roast, pops=(*self.roast.pops, t))
        if isinstance(e, Note):
            return ordered, replace(self.roast, notes=(*self.roast.notes, (t, e.text)))
        came = e.came - (self.roast.charge_at or 0.0)
        return ordered, replace(self.roast, replies=(*self.roast.replies, (came, e)))

    def _corrected(self, n: Numbered) -> tuple[tuple[Numbered, ...], Roast] | None:
        """Correct or withdraw a reading or a move; None where all must be folded."""
        correction = n.entry
        assert isinstance(correction, Correction)
        old = next((x for x in reversed(self.ordered) if x.line == correction.of), None)
        if old is None or not isinstance(old.entry, Reading | Move):
            return None
        new = None if correction.replace is None else corrected(old, correction)
        if new is not None and type(new.entry) is not type(old.entry):
            return None
        i = bisect_left(self.ordered, _place(old), key=_place)
        ordered = (*self.ordered[:i], *self.ordered[i + 1 :])
        name = _where(old, self.roast)
        items: tuple[Any, ...] = getattr(self.roast, name)
        j = next(j for j in range(len(items) - 1, -1, -1) if items[j].line == old.line)
        roast = _having(self.roast, name, (*items[:j], *items[j + 1 :]))
        if new is None:
            return ordered, roast
        within_a_day(new, self.roast.charge_at)
        again = self._with(roast, new)
        return None if again is None else (_put(ordered, new), again)

    def _with(self, roast: Roast, n: Numbered) -> Roast | None:
        """The roast with a reading or a move in its place; None where another has the very same time."""
        base, e, name = roast.charge_at or 0.0, n.entry, _where(n, roast)
        items: tuple[Any, ...] = getattr(roast, name)
        item: Probe | Turned
        if isinstance(e, Reading):
            item = probe_of(e, n.line, base, self.header)
        else:
            assert isinstance(e, Move)
            item = turned_of(e, n.line, base, self.header)
        i = until(items, item.t)
        if i and items[i - 1].t == item.t:
            return None
        return _having(roast, name, (*items[:i], item, *items[i:]))


def _where(n: Numbered, roast: Roast) -> str:
    """The one of a roast's lists that holds a reading or a move."""
    if isinstance(n.entry, Move):
        return "moves"
    return "preheat" if roast.charge_at is None or n.entry.at - roast.charge_at < 0 else "readings"


def _having(roast: Roast, name: str, items: tuple[Any, ...]) -> Roast:
    change: dict[str, Any] = {name: items}
    return replace(roast, **change)


def _put(ordered: tuple[Numbered, ...], n: Numbered) -> tuple[Numbered, ...]:
    i = bisect_right(ordered, _place(n), key=_place)
    return (*ordered[:i], n, *ordered[i:])
