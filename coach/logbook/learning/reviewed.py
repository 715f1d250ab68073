"""Inputs of a review, gathered from disk: the journal, its profile, the roasts before it, its cues."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from coach.cues.episodes import Episode
from coach.forecast.knowledge import Knowledge
from coach.forecast.learning import from_lessons
from coach.logbook.learning.cache import ResultCache
from coach.logbook.learning.learnt_text import taught_by
from coach.logbook.learning.lessons import evidence_among, teachers
from coach.logbook.learning.replays import Replays
from coach.logbook.profiles.kept_versions import profile_of
from coach.logbook.profiles.proposal import proposal
from coach.logbook.review.review import Review, review, shown
from coach.roast.errors import FileError
from coach.roast.profile import Profile
from coach.session.journal import read_journal
from coach.verification.cue_outcomes import judged
from coach.verification.hindcast import cases


def gather(
    path: Path,
    profile: Profile | None,
    logbook: Path,
    *,
    episodes: Sequence[Episode] | None = None,
    knowledge: Knowledge | None = None,
) -> Review:
    """The review of a journal.  ``logbook`` holds the earlier roasts that the coach had learnt from; ``episodes`` (the
    cues as recorded) and ``knowledge`` (that of the coach) are given where the caller has them.

    Else all comes from ``Replays``, as for every command.  Raises FileError.
    """
    journal = read_journal(path)
    roast = journal.roast
    if profile is None:
        profile = profile_of(journal.header, path)
    if roast.charge_at is None or not roast.readings:
        raise FileError(str(path), "has no charge or no readings.", "There is nothing to look back on.")
    with ResultCache.of_this_machine() as cache:
        replays = Replays.of_one(cache, profile, journal, logbook)
        last = len(replays.roasts) - 1
        if knowledge is None:
            known, rows = replays.knowledge(last), replays.rows(last)
            put_aside, taught = 0 if known.count else len(replays.before(last)), teaches(replays)
        else:
            known, put_aside, taught = knowledge, 0, ""
            rows = tuple(cases(profile, known, journal.header, journal.entries))
        heard = episodes is not None or replays.heard(last) is not None
        advised = replays.advised(last, compute=episodes is None) or ()
        if episodes is None:
            episodes = replays.episodes(last) or ()
        followed = replays.profile(last)
    return replace(
        review(followed, roast, path.name), forecasts=shown(rows), cues=judged(episodes, roast, followed), heard=heard,
        advised=advised, proposal=proposal(followed, roast, known), learnt_from=known.count, put_aside=put_aside,
        taught=taught,
    )  # fmt: skip


def teaches(replays: Replays) -> str:
    """Effect of the last roast's evidence beside that of those before it, in a sentence; '' where it has none."""
    last = len(replays.roasts) - 1
    own, profile = replays.roasts[last], replays.profile(last)
    if own.header.run == "rehearsal" or not teachers(profile, [own]):
        return ""
    counted = [*(replays.roasts[j] for j in replays.before(last)), own]
    lessons = evidence_among(replays.cache, profile, counted)
    mine = lessons.pop(len(counted) - 1, None)
    if mine is None:
        return ""
    others = list(lessons.values())
    return taught_by(profile, from_lessons(profile, others), from_lessons(profile, [*others, mine]), own.name)
