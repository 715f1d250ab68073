"""Evidence of finished roasts, the check that learning from it pays, and the knowledge that follows; computed once and
cached on this machine.  Rehearsals are left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from statistics import fmean
from typing import TYPE_CHECKING, Final

from coach.forecast.learning import HISTORY, Lesson, from_lessons, from_profile, gas_evidence, lesson, usable
from coach.logbook.learning.cache import ROWS, ResultCache, dump_lesson, load_lesson
from coach.logbook.profiles.kept_versions import profile_of
from coach.roast.errors import CoachError
from coach.roast.remarks import left_out
from coach.session.journal import Journal
from coach.session.journal_folder import roasts
from coach.session.settings import load_settings
from coach.verification.hindcast import cases

if TYPE_CHECKING:
    from coach.forecast.gas_answer import Evidence
    from coach.forecast.knowledge import Knowledge
    from coach.roast.profile import Profile, ProfileDocument
    from coach.verification.aggregate import ScoredForecast


def lesson_of(cache: ResultCache, profile: Profile, e: Journal) -> Lesson | None:
    """Evidence of one roast; None where it has none."""
    where = cache.key("lesson", profile, e.digest)
    kept = cache.get(where)
    if kept is not None:
        return load_lesson(kept)
    try:
        found = lesson(profile, e.roast) if usable(e.roast) else None
    except Exception as error:  # one bad roast never costs the others
        left_out(e.name, error)
        return None
    cache.put(where, dump_lesson(found))
    return found


NOT_ITS_SOURCE: Final = "The roast that the profile comes from does not count."
"""Hint where a profile has no other roast."""
LEARNING_LEADS: Final = (150, 120, 90, 60, 30)
"""Leads of first crack by which learning is judged, s."""
CHECKED_FROM: Final = 6
"""Number of roasts from which on learning is judged."""
WORSE: Final = 1.05
"""Factor on the mean CRPS without learning: learning that makes it larger than that is not used."""


def made_of(document: ProfileDocument, e: Journal) -> bool:
    """True if this roast is the only source of a profile that a result gave it afterwards: it can neither teach about
    the profile nor verify it."""
    named = e.roast.result is not None and e.roast.result.profile
    return bool(named) and document.sources == [e.header.id]


def teachers(profile: Profile, found: Sequence[Journal]) -> list[Journal]:
    """The roasts that teach about a profile: neither those left out by a result nor its only source."""
    return [e for e in found if e.roast.teaches and not made_of(profile.document, e)]


def evidence_among(cache: ResultCache, profile: Profile, found: Sequence[Journal]) -> dict[int, Lesson]:
    """Evidence of those roasts that have any, by their place."""
    made = {i: lesson_of(cache, profile, e) for i, e in enumerate(found)}
    return {i: x for i, x in made.items() if x is not None}


def taught(cache: ResultCache, profile: Profile, found: Sequence[Journal]) -> Knowledge:
    """Knowledge from these roasts (oldest first, at most ``learning.HISTORY``); from the profile alone where learning
    would have made their own forecasts worse, each left out in turn (``pays``)."""
    found = teachers(profile, found)
    lessons = evidence_among(cache, profile, found)
    known = from_lessons(profile, list(lessons.values()))
    if not pays(cache, profile, found, lessons):
        return replace(from_profile(profile), gas=known.gas)  # no forecast depends on the gas
    return known


def pays(cache: ResultCache, profile: Profile, found: Sequence[Journal], lessons: dict[int, Lesson]) -> bool:
    """True if learning from these roasts does not worsen their own forecasts of first crack, each left out in turn.

    Below ``CHECKED_FROM`` roasts chance decides, and learning is used.  A roast that can't be forecast is named, and is
    no evidence either.
    """
    where = cache.key("pays", profile, *(e.digest for e in found))
    kept = cache.get(where)
    if kept is not None or len(found) < CHECKED_FROM:
        return kept != b"0"

    def forecasts(e: Journal, evidence: Sequence[Lesson]) -> tuple[ScoredForecast, ...]:
        known = from_lessons(profile, evidence)
        return tuple(cases(profile, known, e.header, e.entries, crack_leads=LEARNING_LEADS, drop_leads=()))

    learnt: list[ScoredForecast] = []
    bare: list[ScoredForecast] = []
    failed: list[int] = []
    for i, e in enumerate(found):
        try:
            with_others = forecasts(e, [x for j, x in lessons.items() if j != i])
            without = cache.computed(cache.key("plain", profile, e.digest), ROWS, partial(forecasts, e, ()))
            learnt, bare = [*learnt, *with_others], [*bare, *without]
        except Exception as error:
            left_out(e.name, error)
            failed.append(i)
    answer = _mean_crps(learnt) <= WORSE * _mean_crps(bare)
    for i in failed:
        lessons.pop(i, None)
    if not failed:
        cache.put(where, b"1" if answer else b"0")
    return answer


def _mean_crps(rows: Sequence[ScoredForecast]) -> float:
    return fmean([r.said.crps for r in rows if r.said] or [0.0])


def known_then(logbook: Path, profile: Profile, path: Path, started: str) -> list[Journal]:
    """The roasts that the coach could have learnt from when this one began, oldest first."""
    if not logbook.is_dir():
        return []
    return roasts(logbook, profile=profile.name, but=path, most=HISTORY, before=started)


def learn_from(folder: Path, profile: Profile, *, but: Path | None = None) -> Knowledge:
    """Learn about a profile from its roasts in a logbook, and about its machine's gas from those of other profiles.

    Where learning would have made the roasts' own forecasts worse, each left out in turn, nothing is learnt.  Raises
    FileError when there is no such folder.
    """
    found = learnt(profile, roasts(folder, profile=profile.name, but=but, most=HISTORY))
    if not profile.document.machine:
        return found
    return replace(found, gas=found.gas.after(of_the_machine(folder, profile, but=but)))


def of_the_machine(folder: Path, profile: Profile, *, but: Path | None = None) -> list[Evidence]:
    """Evidence on a machine's gas from the newest roasts of its other profiles.  A roast whose profile can't be found
    is left out."""
    out: list[Evidence] = []
    for one in roasts(folder, machine=profile.document.machine, but=but, most=HISTORY):
        if one.header.profile == profile.name or not one.roast.teaches:
            continue
        try:
            followed = profile_of(one.header, one.path)
            out.append(gas_evidence(followed, one.roast))
        except CoachError:
            continue
        except Exception as error:  # one bad roast never costs the others
            left_out(one.name, error)
    return out


def learnt(profile: Profile, found: Sequence[Journal]) -> Knowledge:
    """Knowledge from these roasts, checked as in ``learn_from``, by this machine's cache and the person's settings."""
    profile = load_settings().applied(profile)
    with ResultCache.of_this_machine() as cache:
        return taught(cache, profile, found)
