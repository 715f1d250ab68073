"""Finished roasts as their coach saw them: the record of then, else a replay by the present program with the evidence
of the roasts before; every replay is cached.

Each result depends on the newest ``learning.HISTORY`` roasts before its roast, and on nothing later: so it never
changes when roasts are added, and only new roasts cost time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeVar

from pydantic import ConfigDict, TypeAdapter

from coach.cues.episodes import Episode
from coach.forecast.learning import HISTORY
from coach.logbook.learning.cache import ROWS, ResultCache
from coach.logbook.learning.lessons import known_then, made_of, taught, teachers
from coach.logbook.profiles.kept_versions import version_of
from coach.roast.errors import CoachError, EntryError
from coach.roast.remarks import left_out
from coach.session.coach import Coach
from coach.session.journal import Journal, read_journal
from coach.session.journal_folder import charged, dropped, newest_first
from coach.session.settings import load_settings
from coach.verification.advice_outcomes import AdviceOutcome, AdviceSeen
from coach.verification.advice_reliability import Trust, counted, trust
from coach.verification.aggregate import ScoredForecast
from coach.verification.cue_outcomes import OutcomeLine, demotions, judged, missed_window
from coach.verification.hindcast import cases
from coach.verification.provenance import program
from coach.verification.reference_forecasts import RoastOutcome, past_mean
from coach.verification.replay import walk
from coach.verification.roast_record import RoastRecord, finite, load_record

if TYPE_CHECKING:
    from coach.forecast.knowledge import Knowledge
    from coach.roast.profile import Profile
    from coach.roast.roast import Roast

Cues = tuple[Episode, ...]
Advised = tuple[AdviceOutcome, ...]
REPLAY: Final = TypeAdapter(tuple[Cues, Advised], config=ConfigDict(ser_json_inf_nan="constants"))
"""The cues of a roast, and the moves advised in it."""


def _own(profile: Profile, one: Journal) -> bool:
    """True if the version of a profile that a roast names was made of this very roast."""
    named = one.roast.result is not None and one.roast.result.profile  # else there is no version to look for
    version = one.header.profile_version or profile.document.version
    return bool(named) and made_of((version_of(profile, version) or profile).document, one)


class Replays:
    """Finished roasts of a profile (oldest first) as the coach that ran them saw them: knowledge, cues, forecasts and
    advice.

    The record of then counts; else the journal is replayed with the evidence of the roasts before it, by the profile's
    version that it followed, and the result is cached under a key of all its inputs.  Every command looks here.
    """

    def __init__(self, cache: ResultCache, profile: Profile, roasts: Sequence[Journal]) -> None:
        self.cache, self.roasts = cache, roasts
        self._settings = load_settings()
        self._newest = self._settings.applied(profile)
        self.records = {i: kept for i, e in enumerate(roasts) if (kept := load_record(e.path)) is not None}
        self._versions: dict[int, Profile] = {}
        self._made: dict[tuple[int, int], RoastOutcome] = {}

    @classmethod
    def of(
        cls,
        cache: ResultCache,
        profile: Profile,
        folder: Path,
        *,
        most: int = 0,
        wanted: Callable[[Roast], bool] = dropped,
    ) -> tuple[Replays, list[int]]:
        """The roasts of a profile in a folder, and the places of the newest ``most`` (0: all) of those ``wanted``; with
        them the ``HISTORY`` roasts before, which hold their evidence.  Raises FileError when there is no such folder.
        """
        found: list[Journal] = []
        places: list[int] = []
        older = 0
        for one in newest_first(folder, profile=profile.name):
            full = most > 0 and len(places) == most
            if full and older == HISTORY:
                break
            older += full and charged(one.roast)
            if not full and one.roast.charge_at is not None and wanted(one.roast) and not _own(profile, one):
                places.append(len(found))
            found.append(one)
        return cls(cache, profile, found[::-1]), [len(found) - 1 - i for i in reversed(places)]

    @classmethod
    def of_one(cls, cache: ResultCache, profile: Profile, one: Journal, folder: Path) -> Replays:
        """One roast, of any folder (the last place), that followed this very profile, and the roasts in ``folder`` that
        were there when it began."""
        found = cls(cache, profile, [*known_then(folder, profile, one.path, one.header.started), one])
        found._versions[one.header.profile_version or 0] = found._newest
        return found

    def profile(self, i: int) -> Profile:
        """The profile that a roast followed: the version that its journal names, where there is a file of it."""
        asked = self.roasts[i].header.profile_version or self._newest.document.version
        if asked not in self._versions:
            self._versions[asked] = self._settings.applied(version_of(self._newest, asked) or self._newest)
        return self._versions[asked]

    def before(self, i: int) -> list[int]:
        """Places of the roasts that a roast's coach had learnt from."""
        own = self.roasts[i].header.moment
        found: list[int] = []
        for j in range(i - 1, -1, -1):
            e = self.roasts[j]
            if charged(e.roast) and e.header.moment != own:
                found.append(j)
            if len(found) == HISTORY:
                break
        return [j for j in reversed(found) if teachers(self.profile(i), [self.roasts[j]])]

    def knowledge(self, i: int) -> Knowledge:
        """Knowledge of a roast's coach at its beginning."""
        return taught(self.cache, self.profile(i), [self.roasts[j] for j in self.before(i)])

    def episodes(self, i: int, compute: bool = True) -> tuple[Episode, ...] | None:
        """The cues of a roast: those recorded, else by a replay.  None where neither is at hand and ``compute`` is
        False."""
        noted = self.heard(i)
        return self._replayed(i, compute)[0] if noted is None else noted

    def heard(self, i: int) -> tuple[Episode, ...] | None:
        """The cues recorded while a roast went on; None where there is no record of them."""
        record = self.records.get(i)
        return None if record is None else record.heard

    def advised(self, i: int, compute: bool = True) -> tuple[AdviceOutcome, ...] | None:
        """The moves advised in a roast, by a replay.  None where it is not cached and ``compute`` is False."""
        return self._replayed(i, compute)[1]

    def _replayed(self, i: int, compute: bool) -> tuple[Cues, Advised] | tuple[None, None]:
        """The cues of a roast, and the moves advised in it, by a replay."""
        key = self._key("replay", i, self.roasts[i].replay_digest)
        kept = self.cache.load(key, REPLAY)
        if kept is not None or not compute:
            return kept or (None, None)
        e, seen = self.roasts[i], AdviceSeen()
        episodes: Cues = ()
        advised: Advised = ()
        try:
            coach = walk(Coach(self.profile(i), e.header, self.knowledge(i)), e.entries, each=seen.look)
            episodes, advised = coach.record.episodes, seen.outcomes(coach)
        except EntryError:
            pass
        kept = tuple(finite(x) for x in episodes), advised
        self.cache.store(key, REPLAY, kept)
        return kept

    def issued(self, i: int) -> RoastRecord | None:
        """The record of the forecasts issued in a roast; None where there is none, or the journal was corrected
        since."""
        kept = self.records.get(i)
        return kept if kept is not None and kept.rows and kept.basis == self.roasts[i].digest else None

    def rows(self, i: int) -> tuple[ScoredForecast, ...]:
        """The forecasts of a roast as issued, else hindcasts by this program."""
        if (record := self.issued(i)) is not None:
            return tuple(self._with_past(r, i) for r in record.rows)
        e = self.roasts[i]

        def recomputed() -> tuple[ScoredForecast, ...]:
            past = [self._past(j, i) for j in self.before(i)]
            return tuple(cases(self.profile(i), self.knowledge(i), e.header, e.entries, past))

        try:
            return self.cache.computed(self._key("rows", i, e.digest), ROWS, recomputed)
        except Exception as error:  # one bad roast never costs the others
            left_out(e.name, error)
            return ()

    def _with_past(self, r: ScoredForecast, i: int) -> ScoredForecast:
        """A recorded row, with the mean of the past roasts beside it."""
        crack, now = self.roasts[i].roast.marks.get("first crack"), r.happened - r.lead
        if r.what == "drop time" and crack is not None and crack > now:
            crack = None  # it had not come yet
        if "plan" not in r.others or "lag" not in r.others:
            return r
        mean = past_mean(r.what, r.others, [self._past(j, i) for j in self.before(i)], now, crack)
        return replace(r, others={**r.others, "past roasts": mean})

    def _key(self, what: str, i: int, own: str) -> str:
        """The key of a result of a roast: ``own``, the digest of its content."""
        return self.cache.key(what, self.profile(i), own, *(self.roasts[j].digest for j in self.before(i)))

    def _past(self, j: int, i: int) -> RoastOutcome:
        """Outcome of roast ``j``, by the profile of roast ``i``."""
        curve = self.profile(i).curve
        if (j, id(curve)) not in self._made:
            self._made[j, id(curve)] = RoastOutcome.of(self.roasts[j].roast, curve)
        return self._made[j, id(curve)]


T = TypeVar("T")
Progress = Callable[[int, int], None]
"""Receiver of the number of roasts done, and of all."""


def newest_known(
    folder: Path, profile: Profile, known: Callable[[Replays, int, bool], T | None], *, most: int,
    at_most: int | None = None, progress: Progress | None = None,
) -> list[tuple[Replays, int, T]]:  # fmt: skip
    """Results that are ``known`` of the newest ``most`` finished roasts of a profile, oldest first, with their places.

    No more than ``at_most`` (None: all) of the newest are replayed where it is not at hand, some seconds each; the
    others are left out.  Raises FileError when there is no such folder.
    """
    out: list[tuple[Replays, int, T]] = []
    with ResultCache.of_this_machine() as cache:
        replays, places = Replays.of(cache, profile, folder, most=most)
        for done, i in enumerate(reversed(places), 1):
            found = known(replays, i, False)
            if found is None and at_most != 0:
                found = known(replays, i, True)
                at_most = None if at_most is None else at_most - 1
            if progress is not None:
                progress(done, len(places))
            if found is not None:
                out.append((replays, i, found))
    return out[::-1]


@dataclass(frozen=True)
class PastForecasts:
    """Forecasts of each roast, oldest first; ``issued``: number of roasts with issued ones, ``older`` of them by an
    earlier program."""

    rows: tuple[tuple[ScoredForecast, ...], ...]
    issued: int = 0
    older: int = 0


def past_forecasts(found: Replays, places: Sequence[int], progress: Progress | None = None) -> PastForecasts:
    """Issued forecasts, else hindcasts, of the roasts in these ``places`` (oldest first)."""
    rows = []
    for done, i in enumerate(places, 1):
        rows.append(found.rows(i))
        if progress is not None:
            progress(done, len(places))
    records = [record for i in places if (record := found.issued(i)) is not None]
    return PastForecasts(tuple(rows), len(records), sum(r.program != program() for r in records))


def judgeable(roast: Roast) -> bool:
    """True if a roast has marks to verify its forecasts by."""
    return "first crack" in roast.marks or "drop" in roast.marks


# -- record of cues and advice ----------------------------------------------------------------------------------------

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
    folder: Path, profile: Profile, *, most: int = MOST, at_most: int | None = None, progress: Progress | None = None
) -> list[CuePage]:
    """The ledger of each of the newest ``most`` finished roasts of a profile, oldest first (``newest_known``)."""
    known = newest_known(folder, profile, Replays.episodes, most=most, at_most=at_most, progress=progress)
    return [page(*one) for one in known]


def page(replays: Replays, i: int, episodes: tuple[Episode, ...]) -> CuePage:
    """The ledger of one roast, judged by the profile that it followed."""
    e, profile = replays.roasts[i], replays.profile(i)
    return CuePage(e.path, judged(episodes, e.roast, profile), missed_window(e.roast, profile))


def page_of(path: Path, profile: Profile, folder: Path) -> CuePage:
    """The ledger of one journal, for any name of its profile; ``folder`` holds the roasts before it.  Raises
    FileError."""
    journal = read_journal(path)
    followed = version_of(profile, journal.header.profile_version or profile.document.version) or profile
    with ResultCache.of_this_machine() as cache:
        replays = Replays.of_one(cache, followed, journal, folder)
        last = len(replays.roasts) - 1
        return page(replays, last, replays.episodes(last) or ())


def silenced(folder: Path, profile: Profile) -> dict[str, str]:
    """The cues that were wrong too often in a person's last roasts of a profile, each with the reason: quick, from
    records and cache alone; empty where there is no logbook yet."""
    try:
        return demotions([p.lines for p in pages(folder, profile, at_most=0)])
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
