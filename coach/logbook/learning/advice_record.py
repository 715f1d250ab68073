"""The record of advice over a logbook: computed from the journals, and cached on this machine."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from coach.logbook.learning.replays import Progress, Replays, newest_known
from coach.roast.errors import CoachError
from coach.session.journal import Journal
from coach.verification.advice_outcomes import AdviceOutcome
from coach.verification.advice_reliability import Trust, counted, trust

if TYPE_CHECKING:
    from coach.roast.profile import Profile

MOST: Final = 30
"""Number of newest roasts that are read: not each has an advised move that can be judged."""
AT_ONCE: Final = 2
"""Number of roasts computed at most before a roast: about two seconds each."""


def advice_of_roasts(
    folder: Path, profile: Profile, *, most: int = MOST, at_most: int | None = None, progress: Progress | None = None
) -> list[tuple[Journal, tuple[AdviceOutcome, ...]]]:
    """The newest ``most`` finished roasts of a profile, oldest first, with its advised moves (``newest_known``)."""
    found = newest_known(folder, profile, Replays.advised, most=most, at_most=at_most, progress=progress)
    return [(replays.roasts[i], advised) for replays, i, advised in found]


def advice_state(folder: Path, profile: Profile) -> Trust:
    """State of advice before the next roast, from cached roasts and a few that are computed now."""
    try:
        return trust(counted([advised for _, advised in advice_of_roasts(folder, profile, at_most=AT_ONCE)]))
    except (CoachError, OSError):
        return trust([])
