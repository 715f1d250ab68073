"""A journal replayed through a coach."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from coach.roast.roast import Numbered, as_fed
from coach.session.coach import Coach

AFTER_DROP: Final = 5.0
"""Time after drop at which a replay ends, s."""


def walk(coach: Coach, entries: Sequence[Numbered], each: Callable[[Coach], None] = lambda coach: None) -> Coach:
    """Replay a journal through a new coach, second by second, until shortly after the drop: entries come in when they
    were typed, in the journal's order.

    ``each`` is shown the coach at every step.  Raises EntryError when the entries don't make a roast.
    """
    at, end = 0.0, float("inf")
    for n in as_fed(entries):
        came = n.entry.came
        while at + 1.0 <= min(came, end):
            at += 1.0
            coach.advance(at)
            each(coach)
        if came <= end:
            coach.advance(came)
            each(coach)
        coach.receive(n.entry, n.line)
        each(coach)
        if "drop" in coach.roast.marks and coach.roast.charge_at is not None:
            drop = coach.roast.charge_at + coach.roast.marks["drop"]
            end = min(max(drop, came) + AFTER_DROP, drop + 60.0)
    return coach
