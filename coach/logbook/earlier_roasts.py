"""Knowledge from the earlier roasts in a folder of journals.  Reads the disk; rehearsals are left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from coach.roast.errors import CoachError
from coach.roast.remarks import left_out
from coach.session.journal import Journal
from coach.session.journal_folder import roasts

if TYPE_CHECKING:
    from coach.forecast.gas_answer import Evidence
    from coach.forecast.knowledge import Knowledge
    from coach.roast.profile import Profile


def learn_from(folder: Path, profile: Profile, *, but: Path | None = None, own: bool = False) -> Knowledge:
    """Learn about a profile from the journals in a folder.

    With ``own`` the folder is a person's whole logbook, and only roasts of this profile count; else it is one that was
    put together for this profile, and all count.  Where learning would have made the roasts' own forecasts worse, each
    left out in turn, nothing is learnt.  Raises JournalError when there is no such folder.
    """
    from coach.forecast.learning import HISTORY

    name = profile.name if own else None
    found = learnt(profile, roasts(folder, profile=name, but=but, most=HISTORY))
    if not own or not profile.document.machine:
        return found
    return replace(found, gas=found.gas.after(of_the_machine(folder, profile, but=but)))


def of_the_machine(folder: Path, profile: Profile, *, but: Path | None = None) -> list[Evidence]:
    """Evidence on a machine's gas from the newest roasts of its other profiles.  A roast whose profile can't be found
    is left out."""
    from coach.forecast.learning import HISTORY, gas_evidence
    from coach.logbook.learning.reviewed import profile_of

    out: list[Evidence] = []
    for one in roasts(folder, machine=profile.document.machine, but=but, most=HISTORY):
        if one.header.profile == profile.name or not one.roast.teaches:
            continue
        try:
            followed = profile_of(one.header.profile, one.path, one.header.profile_version, one.header.id)
            out.append(gas_evidence(followed, one.roast))
        except CoachError:
            continue
        except Exception as error:  # one bad roast never costs the others
            left_out(one.name, error)
    return out


def learnt(profile: Profile, found: Sequence[Journal]) -> Knowledge:
    """Knowledge from these roasts, checked as in ``learn_from``; the slow parts are cached on this machine."""
    from coach.logbook.learning.cache import ResultCache
    from coach.logbook.learning.lessons import taught
    from coach.session.settings import load_settings

    profile = load_settings().applied(profile)
    with ResultCache.of_this_machine() as cache:
        return taught(cache, profile, found)
