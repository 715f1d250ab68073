"""What the earlier roasts in a folder of journals teach.  Reads the disk; rehearsals are left out."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from coach.session.journal_folder import StoredRoast, roasts

if TYPE_CHECKING:
    from coach.forecast.knowledge import Knowledge
    from coach.roast.profile import Profile


def learn_from(folder: Path, profile: Profile, *, but: Path | None = None, own: bool = False) -> Knowledge:
    """What the journals in a folder teach about a profile.

    With ``own`` the folder is a person's whole logbook, and only roasts of this profile count; else it is one that was
    put together for this profile, and all count.  Where learning would have made the roasts' own forecasts worse, each
    left out in turn, nothing is learnt.  Raises JournalError when there is no such folder.
    """
    from coach.forecast.learning import HISTORY

    name = profile.name if own else None
    return learnt(profile, roasts(folder, profile=name, but=but, most=HISTORY))


def learnt(profile: Profile, found: Sequence[StoredRoast]) -> Knowledge:
    """What these roasts teach, checked as ``learn_from`` says; what costs time is kept in this machine's cache."""
    from coach.logbook.learning.cache import Worked
    from coach.logbook.learning.hindcasts import taught

    with Worked.of_this_machine() as worked:
        return taught(worked, profile, found)
