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


def told_by(
    folder: Path,
    profile: Profile,
    *,
    most: int = MOST,
    anew: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> list[tuple[Journal, tuple[AdviceOutcome, ...]]]:
    """The newest ``most`` finished roasts of a profile, oldest first, each with its advised moves.

    No more than ``anew`` (None: all) of the newest are computed where they are not cached; the others are left out.
    Raises JournalError when there is no such folder.
    """
    out: list[tuple[Journal, tuple[AdviceOutcome, ...]]] = []
    with ResultCache.of_this_machine() as worked:
        replays, places = Replays.of(worked, profile, folder, most=most)
        for done, i in enumerate(reversed(places), 1):
            told = replays.told(i, work_out=False)
            if told is None and (anew is None or anew > 0):
                told = replays.told(i)
                anew = None if anew is None else anew - 1
            if progress is not None:
                progress(done, len(places))
            if told is not None:
                out.append((replays.roasts[i], told))
    return out[::-1]


def stands(folder: Path, profile: Profile) -> Trust:
    """State of advice before the next roast, from cached roasts and a few that are computed now."""
    try:
        return trust(counted([told for _, told in told_by(folder, profile, anew=AT_ONCE)]))
    except (CoachError, OSError):
        return trust([])
