"""A journal gone through once more, for the ledger: its episodes and its sounds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from coach.cues.episodes import Episode
from coach.cues.situation import ActiveCue
from coach.forecast.knowledge import Knowledge
from coach.roast.entries import Header
from coach.roast.profile import Profile
from coach.roast.roast import Numbered, Roast
from coach.session.coach import Coach

AFTER_DROP: Final = 5.0
"""A walk ends so long after drop, s."""


@dataclass(frozen=True)
class Walk:
    """A roast gone through once more: its episodes, every sound (``at`` axis, s), and its fold."""

    episodes: tuple[Episode, ...]
    sounds: tuple[tuple[float, ActiveCue], ...]
    roast: Roast


def walk(
    profile: Profile,
    header: Header,
    entries: Sequence[Numbered],
    knowledge: Knowledge | None = None,
    demoted: Mapping[str, str] | None = None,
) -> Walk:
    """A journal through a coach, second by second: entries come in when they were typed, in the journal's order.

    Raises EntryError when the entries don't make a roast.
    """
    coach = Coach(profile, header, knowledge, demoted)
    sounds: list[tuple[float, ActiveCue]] = []
    at, end = 0.0, float("inf")

    def note(sounded: Sequence[ActiveCue]) -> None:
        sounds.extend((coach.at, c) for c in sounded)

    for n in entries:
        while at + 1.0 <= min(n.entry.came, end):
            at += 1.0
            note(coach.advance(at))
        if n.entry.came <= end:
            note(coach.advance(n.entry.came))
        coach.receive(n.entry, n.line)
        note([c for c in coach.cues if c.sounds])
        if "drop" in coach.roast.marks and coach.roast.charge_at is not None:
            end = max(coach.roast.charge_at + coach.roast.marks["drop"], n.entry.came) + AFTER_DROP
            end = min(end, coach.roast.charge_at + coach.roast.marks["drop"] + 60.0)
    return Walk(coach.record.episodes, tuple(sounds), coach.roast)
