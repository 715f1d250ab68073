"""``coach learnt PROFILE``: the evidence of your own roasts on a profile, and the effect of the newest one."""

from __future__ import annotations

import argparse

from coach.app.commands import tell
from coach.app.printing import patience, width
from coach.forecast.learning import HISTORY, from_lessons
from coach.logbook.learning.cache import ResultCache
from coach.logbook.learning.learnt_text import text
from coach.logbook.learning.lessons import NOT_ITS_SOURCE, evidence_among, pays, teachers
from coach.roast.errors import CoachError
from coach.session.journal_folder import roasts
from coach.session.profile_files import load_profile, logbook_folder
from coach.session.settings import load_settings


def run(args: argparse.Namespace) -> int:
    """Print it."""
    profile = load_settings().applied(load_profile(args.profile))
    folder = logbook_folder(args.logbook)
    found = roasts(folder, profile=profile.name, most=HISTORY) if args.logbook or folder.is_dir() else []
    counted = teachers(profile, found)
    with patience("going through the roasts, some seconds the first time"), ResultCache.of_this_machine() as cache:
        lessons = evidence_among(cache, profile, counted)
        if not lessons:
            raise CoachError("There is no roast of this profile to learn from.", f"Roast first. {NOT_ITS_SOURCE}")
        worth = pays(cache, profile, counted, lessons)
    newest = max(lessons)
    before = from_lessons(profile, [x for i, x in lessons.items() if i != newest])
    after = from_lessons(profile, list(lessons.values()))
    said = text(profile, before, after, newest=counted[newest].header.started[:10],
                left_out=len(found) - len(counted), pays=worth, width=width())  # fmt: skip
    ids = [counted[i].header.id for i in sorted(lessons)]
    return tell(args, {"profile": profile, "roasts": ids, "left_out": len(found) - len(counted), "text": said}, said)
