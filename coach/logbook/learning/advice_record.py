"""The record of advice over a logbook: computed from the journals, and cached on this machine."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Final

from coach.logbook.learning.cache import ResultCache
from coach.logbook.learning.replays import Replays
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
    folder: Path,
    profile: Profile,
    *,
    most: int = MOST,
    at_most: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> list[tuple[Journal, tuple[AdviceOutcome, ...]]]:
    """The newest ``most`` finished roasts of a profile, oldest first, each with its advised moves.

    No more than ``at_most`` (None: all) of the newest are computed where they are not cached; the others are left out.
    Raises JournalError when there is no such folder.
    """
    out: list[tuple[Journal, tuple[AdviceOutcome, ...]]] = []
    with ResultCache.of_this_machine() as cache:
        replays, places = Replays.of(cache, profile, folder, most=most)
        for done, i in enumerate(reversed(places), 1):
            advised = replays.advised(i, compute=False)
            if advised is None and (at_most is None or at_most > 0):
                advised = replays.advised(i)
                at_most = None if at_most is None else at_most - 1
            if progress is not None:
                progress(done, len(places))
            if advised is not None:
                out.append((replays.roasts[i], advised))
    return out[::-1]


def advice_state(folder: Path, profile: Profile) -> Trust:
    """State of advice before the next roast, from cached roasts and a few that are computed now."""
    try:
        return trust(counted([advised for _, advised in advice_of_roasts(folder, profile, at_most=AT_ONCE)]))
    except (CoachError, OSError):
        return trust([])
