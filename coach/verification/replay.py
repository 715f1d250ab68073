"""A journal replayed, for the ledger."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from coach.cues.episodes import Episode
from coach.forecast.knowledge import Knowledge
from coach.roast.entries import Header
from coach.roast.profile import Profile
from coach.roast.roast import Numbered, Roast, as_fed
from coach.session.coach import Coach

AFTER_DROP: Final = 5.0
"""Time after drop at which a replay ends, s."""


@dataclass(frozen=True)
class Walk:
    """A roast replayed: its episodes, and its fold."""

    episodes: tuple[Episode, ...]
    roast: Roast


def walk(
    profile: Profile,
    header: Header,
    entries: Sequence[Numbered],
    knowledge: Knowledge | None = None,
    demoted: Mapping[str, str] | None = None,
    each: Callable[[Coach], None] = lambda coach: None,
) -> Walk:
    """Replay a journal through a coach, second by second, until shortly after the drop: entries come in when they were
    typed, in the journal's order.

    ``each`` is shown the coach at every step.  Raises EntryError when the entries don't make a roast.
    """
    coach = Coach(profile, header, knowledge)
    coach.demote(demoted or {})
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
    return Walk(coach.record.episodes, coach.roast)
