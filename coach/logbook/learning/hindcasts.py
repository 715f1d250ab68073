"""Forecasts of finished roasts as they were made: as they were said then, where that was kept, else as they would have
been made by the present program from the roasts before each; the latter are kept once worked out.

Each roast is forecast with what the newest ``learn.HISTORY`` roasts before it teach, and nothing that came later: so an
answer never changes when roasts are added, and many roasts cost only the new ones.  The newest come first, so that when
the time is up it is they that count.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from coach.forecast.learning import HISTORY, Lesson, counted, from_lessons, from_profile, lesson, usable
from coach.logbook.learning.cache import Worked, dump_lesson, dump_rows, load_lesson, load_rows
from coach.roast.remarks import left_out
from coach.verification.aggregate import Row
from coach.verification.hindcast import cases, learning_pays, row
from coach.verification.provenance import content, forecaster
from coach.verification.reference_forecasts import Made, past_mean

if TYPE_CHECKING:
    from coach.forecast.knowledge import Knowledge
    from coach.roast.profile import Profile
    from coach.session.journal_folder import StoredRoast
    from coach.verification.forecast_record import SaidFile

PLAIN: Final = 90
"""The lead at which forecasts without learning are made beside, s."""
EVERY: Final = 20
"""After so many roasts what was worked out is written."""
LEAST: Final = 5
"""So many roasts are gone through even when the time is up: fewer say nothing."""
Progress = Callable[[int, int], None]
"""Told how many roasts of how many are done."""


@dataclass(frozen=True)
class AsMade:
    """The rows of each roast, oldest first, with what the roasts before it had taught; and, of the crack at ``PLAIN`` s
    before alone, without any learning: empty where that was not worked out, and where an earlier program said the rows.

    ``said``: how many are as they were said then, ``older`` of them by an earlier program; ``left``: how many more
    roasts there are that were not worked out yet.
    """

    learnt: tuple[tuple[Row, ...], ...]
    plain: tuple[tuple[Row, ...], ...]
    said: int = 0
    older: int = 0
    left: int = 0


def lesson_of(worked: Worked, profile: Profile, e: StoredRoast, sign: str) -> Lesson | None:
    """What one roast teaches; None where it can't."""
    where = worked.key("lesson", profile, sign)
    kept = worked.get(where)
    if kept is not None:
        return load_lesson(kept)
    try:
        found = lesson(profile, e.roast) if usable([e.roast]) else None
    except Exception as error:  # one bad roast never costs the others
        left_out(e.header.id, error)
        return None
    worked.put(where, dump_lesson(found))
    return found


def ended(worked: Worked, profile: Profile, roasts: Sequence[StoredRoast]) -> None:
    """Work out what is asked for next, once the last of these roasts has ended: what they teach, and what would have
    been said of the last without any learning."""
    taught(worked, profile, roasts[-HISTORY:])
    worked.keep()
    if roasts:
        _Gone(worked, profile, roasts[-1:], {}).plain(0, anew=True)


def as_made(
    worked: Worked,
    profile: Profile,
    roasts: Sequence[StoredRoast],
    most: int = 0,
    progress: Progress | None = None,
    *,
    said: Mapping[int, SaidFile] | None = None,
    stop: Callable[[], bool] | None = None,
) -> AsMade:
    """The forecasts of the newest ``most`` (0: all) of these roasts (oldest first), as made then.

    ``said``: what was kept of some of them, by their place; it counts where it rests on the journal as it stands.  When
    ``stop`` says so and there are ``LEAST``, no more are worked out, and those left are counted.
    """
    found = _Gone(worked, profile, roasts, said or {})
    wanted = range(len(roasts) - 1, (max(len(roasts) - most, 0) if most else 0) - 1, -1)
    learnt: dict[int, tuple[Row, ...]] = {}
    for i in wanted:
        rows = found.at_hand(i)
        if rows is not None:
            learnt[i] = rows
    missing = [i for i in wanted if i not in learnt]
    plain: dict[int, tuple[Row, ...]] = {}
    for done, i in enumerate(wanted):
        over = stop is not None and len(learnt) >= LEAST and stop()
        if i not in learnt and not over:
            learnt[i] = found.worked_out(i)
        if i in learnt and i not in found.older:
            rows = found.plain(i, anew=not over)
            if rows is not None:
                plain[i] = rows
        if done % EVERY == 0:
            worked.keep()
        if progress is not None and missing and not over:
            progress(done + 1, len(wanted))
    order = sorted(learnt)
    return AsMade(
        tuple(learnt[i] for i in order),
        tuple(plain.get(i, ()) for i in order),
        len(found.said & learnt.keys()),
        len(found.older & learnt.keys()),
        len(wanted) - len(order),
    )


class _Gone:
    """Roasts (oldest first) that are gone through: what is at hand of each, and what has to be worked out."""

    def __init__(
        self, worked: Worked, profile: Profile, roasts: Sequence[StoredRoast], said: Mapping[int, SaidFile]
    ) -> None:
        self.worked, self.profile, self.roasts, self._said = worked, profile, roasts, said
        self.said: set[int] = set()
        self.older: set[int] = set()
        self._signs: dict[int, str] = {}
        self._made: dict[int, Made] = {}
        self._lessons: dict[int, Lesson | None] = {}

    def at_hand(self, i: int) -> tuple[Row, ...] | None:
        """The rows of one roast as said, or as worked out before; None where there are neither."""
        kept = self._said.get(i)
        if kept is not None and kept.basis == self._sign(i):
            self.said.add(i)
            if kept.program != forecaster():
                self.older.add(i)
            return tuple(self._with_past(r.row(), i) for r in kept.rows)
        answer = self.worked.get(self._where(i))
        return None if answer is None else tuple(load_rows(answer))

    def worked_out(self, i: int) -> tuple[Row, ...]:
        """The rows of one roast, forecast with the lessons of those before."""
        e, lessons = self.roasts[i], [x for j in self._before(i) if (x := self._lesson(j)) is not None]
        knowledge = from_lessons(self.profile, lessons)
        past = [self._past(j) for j in self._before(i)]
        try:
            rows = [row(c) for c in cases(self.profile, knowledge, e.header, e.entries, past)]
        except Exception as error:
            left_out(e.header.id, error)
            return ()
        self.worked.put(self._where(i), dump_rows(rows))
        return tuple(rows)

    def plain(self, i: int, *, anew: bool) -> tuple[Row, ...] | None:
        """The crack of one roast, forecast without any learning; None where it isn't kept and not to be done anew."""
        where = self.worked.key("plain", self.profile, self._sign(i))
        answer = self.worked.get(where)
        if answer is not None:
            return tuple(load_rows(answer))
        if not anew:
            return None
        e = self.roasts[i]
        knowledge = from_profile(self.profile)
        try:
            found = cases(self.profile, knowledge, e.header, e.entries, crack_leads=(PLAIN,), drop_leads=())
        except Exception as error:
            left_out(e.header.id, error)
            return ()
        rows = [row(c) for c in found]
        self.worked.put(where, dump_rows(rows))
        return tuple(rows)

    def _with_past(self, r: Row, i: int) -> Row:
        """A row that was kept, with the mean of the past roasts beside it."""
        crack, now = self.roasts[i].roast.marks.get("first crack"), r.happened - r.lead
        if r.what == "drop time" and crack is not None and crack > now:
            crack = None  # had not come yet
        if "plan" not in r.others or "lag" not in r.others:
            return r
        mean = past_mean(r.what, r.others, [self._past(j) for j in self._before(i)], now, crack)
        return replace(r, others={**r.others, "past roasts": mean})

    def _before(self, i: int) -> list[int]:
        """Those that a roast is forecast from."""
        return [j for j in range(max(i - HISTORY, 0), i) if counted([self.roasts[j].roast])]

    def _where(self, i: int) -> str:
        return self.worked.key("rows", self.profile, self._sign(i), *(self._sign(j) for j in self._before(i)))

    def _sign(self, i: int) -> str:
        if i not in self._signs:
            self._signs[i] = content(self.roasts[i].header, self.roasts[i].entries)
        return self._signs[i]

    def _past(self, i: int) -> Made:
        if i not in self._made:
            self._made[i] = Made.of(self.roasts[i].roast, self.profile.curve)
        return self._made[i]

    def _lesson(self, i: int) -> Lesson | None:
        if i not in self._lessons:
            self._lessons[i] = lesson_of(self.worked, self.profile, self.roasts[i], self._sign(i))
        return self._lessons[i]


def signs_of(roasts: Sequence[StoredRoast]) -> list[str]:
    """The sign of each journal's content."""
    return [content(e.header, e.entries) for e in roasts]


def lessons_among(
    worked: Worked, profile: Profile, roasts: Sequence[StoredRoast], signs: Sequence[str]
) -> dict[int, Lesson]:
    """The lessons of those roasts that can teach, by their place; ``signs``: see ``signs_of``."""
    found = {i: lesson_of(worked, profile, e, sign) for i, (e, sign) in enumerate(zip(roasts, signs, strict=True))}
    return {i: x for i, x in found.items() if x is not None}


def taught(worked: Worked, profile: Profile, roasts: Sequence[StoredRoast]) -> Knowledge:
    """What these roasts (oldest first, at most ``learn.HISTORY``) teach; nothing where learning would have made their
    own forecasts worse, each left out in turn (``trust.learning_pays``)."""
    roasts = [e for e in roasts if e.roast.teaches]
    signs = signs_of(roasts)
    lessons = lessons_among(worked, profile, roasts, signs)
    known = from_lessons(profile, list(lessons.values()))
    if not pays(worked, profile, roasts, lessons, signs):
        return replace(from_profile(profile), gas=known.gas)  # no forecast rests on that
    return known


def pays(
    worked: Worked, profile: Profile, roasts: Sequence[StoredRoast], lessons: dict[int, Lesson], signs: Sequence[str]
) -> bool:
    """Whether learning from these roasts pays."""
    where = worked.key("pays", profile, *signs)
    kept = worked.get(where)
    if kept is not None:
        return kept == b"1"
    failed: dict[int, Exception] = {}
    found = learning_pays(
        profile, [(e.header, e.entries, e.roast) for e in roasts], lessons, lambda i, error: failed.update({i: error})
    )
    for i, error in failed.items():
        left_out(roasts[i].header.id, error)
        lessons.pop(i, None)  # what can't be forecast does not teach either
    if failed:
        return found
    worked.put(where, b"1" if found else b"0")
    return found
