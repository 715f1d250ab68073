"""Forecasts of finished roasts as they would have been made then, from the roasts before each; kept once worked out.

Each roast is forecast with what the newest ``learn.HISTORY`` roasts before it teach, and nothing that came later: so an
answer never changes when roasts are added, and many roasts cost only the new ones.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from coach.learn import HISTORY, Lesson, from_lessons, from_profile, lesson, usable
from coach.logbook.worked import Worked, content, dump_lesson, dump_rows, load_lesson, load_rows
from coach.tally import Row
from coach.trust import cases, learning_pays, row

if TYPE_CHECKING:
    from coach.earlier import Earlier
    from coach.knowledge import Knowledge
    from coach.profile import Profile

PLAIN: Final = 90
"""The lead at which forecasts without learning are made beside, s."""
EVERY: Final = 20
"""After so many roasts what was worked out is written."""
Progress = Callable[[int, int], None]
"""Told how many roasts of how many are done."""


@dataclass(frozen=True)
class AsMade:
    """The rows of each roast with what the roasts before it taught; and, of the crack at ``PLAIN`` s before alone,
    without any learning."""

    learnt: tuple[tuple[Row, ...], ...]
    plain: tuple[tuple[Row, ...], ...]


def lesson_of(worked: Worked, profile: Profile, e: Earlier, sign: str) -> Lesson | None:
    """What one roast teaches; None where it can't."""
    where = worked.key("lesson", profile, sign)
    kept = worked.get(where)
    if kept is not None:
        return load_lesson(kept)
    found = lesson(profile, e.roast) if usable([e.roast]) else None
    worked.put(where, dump_lesson(found))
    return found


def as_made(
    worked: Worked,
    profile: Profile,
    roasts: Sequence[Earlier],
    most: int = 0,
    progress: Progress | None = None,
) -> AsMade:
    """The forecasts of the newest ``most`` (0: all) of these roasts (oldest first), as made then."""
    first = max(len(roasts) - most, 0) if most else 0
    begin = max(first - HISTORY, 0)
    signs = {i: content(e.header, e.entries) for i, e in enumerate(roasts) if i >= begin}
    lessons: dict[int, Lesson] = {}
    learnt, plain = [], []
    for i in range(begin, len(roasts)):
        e = roasts[i]
        if i >= first:
            before = [j for j in lessons if j >= i - HISTORY and roasts[j].roast.teaches]
            learnt.append(_rows(worked, profile, roasts, i, before, lessons, signs))
            plain.append(_plain(worked, profile, e, signs[i]))
        found = lesson_of(worked, profile, e, signs[i])
        if found is not None:
            lessons[i] = found
        if i % EVERY == 0:
            worked.keep()
        if progress is not None:
            progress(i - begin + 1, len(roasts) - begin)
    return AsMade(tuple(learnt), tuple(plain))


def _rows(
    worked: Worked,
    profile: Profile,
    roasts: Sequence[Earlier],
    i: int,
    before: Sequence[int],
    lessons: dict[int, Lesson],
    signs: dict[int, str],
) -> tuple[Row, ...]:
    """The rows of one roast, forecast with the lessons of those ``before``."""
    where = worked.key("rows", profile, signs[i], *(signs[j] for j in before))
    kept = worked.get(where)
    if kept is not None:
        return tuple(load_rows(kept))
    knowledge = from_lessons(profile, [lessons[j] for j in before]) if before else from_profile(profile)
    e = roasts[i]
    rows = [row(c) for c in cases(profile, knowledge, e.header, e.entries, [roasts[j].roast for j in before])]
    worked.put(where, dump_rows(rows))
    return tuple(rows)


def _plain(worked: Worked, profile: Profile, e: Earlier, sign: str) -> tuple[Row, ...]:
    """The crack of one roast, forecast without any learning."""
    where = worked.key("plain", profile, sign)
    kept = worked.get(where)
    if kept is not None:
        return tuple(load_rows(kept))
    found = cases(profile, from_profile(profile), e.header, e.entries, crack_leads=(PLAIN,), drop_leads=())
    rows = [row(c) for c in found]
    worked.put(where, dump_rows(rows))
    return tuple(rows)


def lessons_among(worked: Worked, profile: Profile, roasts: Sequence[Earlier]) -> dict[int, Lesson]:
    """The lessons of those roasts that can teach, by their place."""
    found = {i: lesson_of(worked, profile, e, content(e.header, e.entries)) for i, e in enumerate(roasts)}
    return {i: x for i, x in found.items() if x is not None}


def taught(worked: Worked, profile: Profile, roasts: Sequence[Earlier]) -> Knowledge:
    """What these roasts (oldest first, at most ``learn.HISTORY``) teach; nothing where learning would have made their
    own forecasts worse, each left out in turn (``trust.learning_pays``)."""
    roasts = [e for e in roasts if e.roast.teaches]
    signs = [content(e.header, e.entries) for e in roasts]
    lessons = lessons_among(worked, profile, roasts)
    if not pays(worked, profile, roasts, lessons, signs):
        return from_profile(profile)
    return from_lessons(profile, list(lessons.values()))


def pays(
    worked: Worked, profile: Profile, roasts: Sequence[Earlier], lessons: dict[int, Lesson], signs: Sequence[str]
) -> bool:
    """Whether learning from these roasts pays."""
    where = worked.key("pays", profile, *signs)
    kept = worked.get(where)
    if kept is not None:
        return kept == b"1"
    found = learning_pays(profile, [(e.header, e.entries, e.roast) for e in roasts], lessons)
    worked.put(where, b"1" if found else b"0")
    return found
