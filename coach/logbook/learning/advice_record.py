"""The record of advice over a logbook: worked out from the journals, and kept in this machine's cache."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from coach.forecast.learning import HISTORY, from_profile
from coach.logbook.learning.cache import Worked, content
from coach.logbook.learning.hindcasts import taught
from coach.roast.errors import CoachError, EntryError
from coach.session.journal_folder import StoredRoast, roasts
from coach.verification.advice_outcomes import Told, advised
from coach.verification.advice_outcomes_text import from_plain, plain
from coach.verification.advice_reliability import Trust, counted, trust

if TYPE_CHECKING:
    from coach.roast.profile import Profile

MOST: Final = 30
"""So many of the newest roasts are looked at: not each has an advised move that can be judged."""
AT_ONCE: Final = 2
"""Before a roast no more than so many are worked out anew: about two seconds each."""


def told_of(
    worked: Worked, profile: Profile, e: StoredRoast, before: Sequence[StoredRoast], *, work_out: bool = True
) -> tuple[Told, ...] | None:
    """The advised moves of one roast, given with what the roasts ``before`` it (oldest first) had taught.

    Without ``work_out`` None where they were not worked out before.
    """
    signs = [content(x.header, x.entries) for x in (e, *before)]
    where = worked.key("advised", profile, *signs)
    kept = worked.get(where)
    if kept is not None:
        return from_plain(json.loads(kept))
    if not work_out:
        return None
    knowledge = taught(worked, profile, before) if before else from_profile(profile)
    try:
        found = advised(profile, e.header, e.entries, knowledge)
    except EntryError:
        found = ()
    worked.put(where, json.dumps(plain(found)).encode())
    return found


def told_by(
    folder: Path,
    profile: Profile,
    *,
    most: int = MOST,
    anew: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> list[tuple[StoredRoast, tuple[Told, ...]]]:
    """The newest ``most`` finished roasts of a profile, oldest first, each with its advised moves.

    No more than ``anew`` (None: all) of the newest are worked out where that was not done before; the others are left
    out.  Raises JournalError when there is no such folder.
    """
    found = roasts(folder, profile=profile.name, most=most + HISTORY)
    first = max(len(found) - most, 0)
    out: list[tuple[StoredRoast, tuple[Told, ...]]] = []
    with Worked.of_this_machine() as worked:
        for i in reversed(range(first, len(found))):
            if "drop" not in found[i].roast.marks:
                continue
            before = found[max(i - HISTORY, 0) : i]
            told = told_of(worked, profile, found[i], before, work_out=False)
            if told is None and (anew is None or anew > 0):
                told = told_of(worked, profile, found[i], before)
                anew = None if anew is None else anew - 1
            if progress is not None:
                progress(len(found) - i, len(found) - first)
            if told is None:
                continue
            out.append((found[i], told))
    return out[::-1]


def stands(folder: Path, profile: Profile) -> Trust:
    """Whether advice is given before the next roast: from what was worked out before, and a few roasts anew."""
    try:
        return trust(counted([told for _, told in told_by(folder, profile, anew=AT_ONCE)]))
    except (CoachError, OSError):
        return trust([])
