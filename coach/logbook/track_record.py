"""Outcomes of cues and advice over the roasts of a logbook.  Reads journals and the records beside them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from coach.cues.episodes import Episode
from coach.logbook.learning.cache import ResultCache
from coach.logbook.learning.replays import Progress, Replays, newest_known
from coach.logbook.profiles.kept_versions import version_of
from coach.roast.errors import CoachError
from coach.roast.profile import Profile
from coach.session.journal import Journal, read_journal
from coach.verification.advice_outcomes import AdviceOutcome
from coach.verification.advice_reliability import Trust, counted, trust
from coach.verification.cue_outcomes import OutcomeLine, demotions, judged, missed_window

MOST: Final = 40
"""Number of newest roasts that are read for their cues."""
MOST_ADVISED: Final = 30
"""Number of newest roasts that are read for their advice: not each has a move that can be judged."""
AT_ONCE: Final = 2
"""Number of roasts computed at most before a roast: about two seconds each."""


@dataclass(frozen=True)
class CuePage:
    """One roast in the ledger: its file, its lines, and the cue that its crack called for (``missed_window``)."""

    path: Path
    lines: tuple[OutcomeLine, ...]
    missed: str


def pages(
    folder: Path, profile: Profile, *, most: int = MOST, compute: bool = True, progress: Progress | None = None
) -> list[CuePage]:
    """The ledger of each finished roast of a profile, oldest first.  Without ``compute`` roasts whose cues were not
    recorded are left out unless their replay is cached."""
    known = newest_known(
        folder, profile, Replays.episodes, most=most, at_most=None if compute else 0, progress=progress
    )
    return [page(*one) for one in known]


def page(replays: Replays, i: int, episodes: tuple[Episode, ...]) -> CuePage:
    """The ledger of one roast, judged by the profile that it followed."""
    e, profile = replays.roasts[i], replays.profile(i)
    return CuePage(e.path, judged(episodes, e.roast, profile), missed_window(e.roast, profile))


def page_of(path: Path, profile: Profile, folder: Path) -> CuePage:
    """The ledger of one journal, for any name of its profile; ``folder`` holds the roasts before it.  Raises
    JournalError."""
    journal = read_journal(path)
    followed = version_of(profile, journal.header.profile_version or 0)
    with ResultCache.of_this_machine() as cache:
        replays = Replays.of_one(cache, followed, journal, folder)
        last = len(replays.roasts) - 1
        return page(replays, last, replays.episodes(last) or ())


def silenced(folder: Path, profile: Profile) -> dict[str, str]:
    """The cues that were wrong too often in a person's last roasts of a profile, each with the reason: quick, from
    records and cache alone; empty where there is no logbook yet."""
    try:
        return demotions([p.lines for p in pages(folder, profile, compute=False)])
    except (CoachError, OSError):
        return {}


def advice_of_roasts(
    folder: Path, profile: Profile, *, most: int, at_most: int | None = None, progress: Progress | None = None
) -> list[tuple[Journal, tuple[AdviceOutcome, ...]]]:
    """The newest ``most`` finished roasts of a profile, oldest first, with its advised moves (``newest_known``)."""
    found = newest_known(folder, profile, Replays.advised, most=most, at_most=at_most, progress=progress)
    return [(replays.roasts[i], advised) for replays, i, advised in found]


def advice_state(folder: Path, profile: Profile) -> Trust:
    """State of advice before the next roast, from cached roasts and a few that are computed now."""
    try:
        found = advice_of_roasts(folder, profile, most=MOST_ADVISED, at_most=AT_ONCE)
        return trust(counted([advised for _, advised in found]))
    except (CoachError, OSError):
        return trust([])
