"""Everything a review needs, gathered from disk: the journal, its profile, the roasts before it, its cues."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from coach.roast.errors import JournalError

if TYPE_CHECKING:
    from coach.cues.episodes import Episode
    from coach.forecast.knowledge import Knowledge
    from coach.logbook.review.review import Review
    from coach.roast.profile import Profile
    from coach.roast.roast import Roast
    from coach.session.journal import Journal
    from coach.session.journal_folder import StoredRoast
    from coach.verification.advice_outcomes import Told
    from coach.verification.cue_outcomes import Line


def profile_of(name: str, path: Path, version: int | None = None, roast: str = "") -> Profile:
    """The profile of this name: the version given, else the newest that was not made from this very ``roast`` (its id);
    the person's own, then the demo ones.

    Raises JournalError when there is none.
    """
    from coach.logbook.profiles.kept_versions import named
    from coach.roast.errors import printable
    from coach.roast.profile import Profile
    from coach.session.profile_files import bundled_profiles, load_profile, profile_folder

    found: list[Profile] = []
    for folder in (profile_folder(), bundled_profiles()):
        found += [Profile.from_document(v.document) for v in named(name, folder)]
        same = [p for p in found if p.document.version == version]
        if same:
            return same[0]
    if found:
        before = [p for p in found if roast not in p.document.sources] if version is None else found
        return max(before or found, key=lambda p: p.document.version)
    if name.endswith(".toml"):
        return load_profile(name)
    if not name:
        raise JournalError(str(path), "it names no profile.", "Say which it followed: --profile FILE")
    raise JournalError(
        str(path), f"its profile '{printable(name)[:60]}' is not among yours.", "Name its file: --profile FILE"
    )


def gather(
    path: Path,
    profile: Profile | None,
    logbook: Path,
    *,
    cues: bool = True,
    episodes: Sequence[Episode] | None = None,
    knowledge: Knowledge | None = None,
) -> Review:
    """The review of a journal.  ``logbook`` holds the earlier roasts that the coach had learnt from; ``episodes`` are
    the cues as they were noted and ``knowledge`` is what the coach knew, where the caller has them; without ``cues``
    there are none.

    Else what the coach knew is worked out as it is when a roast begins (``earlier.learn_from``), learning put aside
    where it doesn't pay.  Raises JournalError.
    """
    from coach.forecast.learning import from_profile
    from coach.logbook.earlier_roasts import learnt
    from coach.logbook.profiles.proposal import proposal
    from coach.logbook.review.forecasts import foretold
    from coach.logbook.review.review import review
    from coach.roast.roast import effective, fold
    from coach.session.journal import read_journal

    journal = read_journal(path)
    roast = fold(journal.header, effective(journal.entries))
    if profile is None:
        profile = profile_of(journal.header.profile, path, journal.header.profile_version, journal.header.id)
    if roast.charge_at is None or not roast.readings:
        raise JournalError(str(path), "has no charge or no readings.", "There is nothing to look back on.")
    before = [] if knowledge is not None else known_then(logbook, profile, path, journal.header.started)
    taught = "" if knowledge is not None else teaches(profile, journal, roast, before)
    if knowledge is None:
        knowledge = learnt(profile, before) if before else from_profile(profile)
    lines: tuple[Line, ...] = ()
    told: tuple[Told, ...] = ()
    heard = False
    if cues:
        told = advised_moves(profile, journal, roast, before, work_out=episodes is None)
        from coach.verification.cue_outcomes import judged
        from coach.verification.cue_record import load_cues

        kept = load_cues(path) if episodes is None else None
        heard = episodes is not None or (kept is not None and kept.source == "live")
        if episodes is None:
            episodes = (
                tuple(k.episode() for k in kept.episodes)
                if kept is not None
                else walked(path, profile, journal, knowledge, before)
            )
        lines = judged(episodes, roast, profile)
    return review(
        profile, roast, file=path.name,
        foretold=foretold(profile, journal.header, journal.entries, roast, knowledge),
        cues=lines, heard=heard, advised=told, proposal=proposal(profile, roast, knowledge),
        learnt_from=knowledge.count, put_aside=0 if knowledge.count else len(before),
        taught=taught,
    )  # fmt: skip


def teaches(profile: Profile, journal: Journal, roast: Roast, before: Sequence[StoredRoast]) -> str:
    """What a roast teaches beside those before it, in a sentence; '' where it teaches nothing."""
    from coach.forecast.learning import from_lessons
    from coach.logbook.learning.cache import Worked
    from coach.logbook.learning.hindcasts import lessons_among, signs_of
    from coach.logbook.learning.learnt_text import taught_by
    from coach.session.journal_folder import StoredRoast

    if journal.header.run == "rehearsal" or not roast.teaches:
        return ""
    counted = [*(e for e in before if e.roast.teaches), StoredRoast(journal.header, journal.entries, roast)]
    with Worked.of_this_machine() as worked:
        lessons = lessons_among(worked, profile, counted, signs_of(counted))
    own = lessons.pop(len(counted) - 1, None)
    if own is None:
        return ""
    others = list(lessons.values())
    return taught_by(profile, from_lessons(profile, others), from_lessons(profile, [*others, own]))


def advised_moves(
    profile: Profile, journal: Journal, roast: Roast, before: Sequence[StoredRoast], *, work_out: bool
) -> tuple[Told, ...]:
    """The moves that were advised; where they are not kept yet and not to be worked out, none."""
    from coach.logbook.learning.advice_record import told_of
    from coach.logbook.learning.cache import Worked
    from coach.session.journal_folder import StoredRoast

    with Worked.of_this_machine() as worked:
        one = StoredRoast(journal.header, journal.entries, roast)
        return told_of(worked, profile, one, before, work_out=work_out) or ()


def walked(
    path: Path, profile: Profile, journal: Journal, knowledge: Knowledge, before: Sequence[StoredRoast]
) -> tuple[Episode, ...]:
    """The cues of a journal gone through once more with what was known then; kept, since that takes seconds."""
    import hashlib

    from coach.logbook.learning.cache import Worked, content
    from coach.verification.cue_record import CueFile, Kept
    from coach.verification.replay import walk

    basis = [hashlib.sha256(path.read_bytes()).hexdigest(), str(knowledge.count)]
    with Worked.of_this_machine() as worked:
        where = worked.key("cues", profile, *basis, *(content(e.header, e.entries) for e in before))
        kept = worked.get(where)
        if kept is not None:
            return tuple(k.episode() for k in CueFile.model_validate_json(kept).episodes)
        episodes = walk(profile, journal.header, journal.entries, knowledge).episodes
        file = CueFile(source="journal", episodes=tuple(Kept.of(e) for e in episodes))
        worked.put(where, file.model_dump_json().encode())
        return tuple(k.episode() for k in file.episodes)


def known_then(logbook: Path, profile: Profile, path: Path, started: str) -> list[StoredRoast]:
    """The roasts that the coach could have learnt from when this one began, oldest first."""
    from coach.forecast.learning import HISTORY
    from coach.session.journal_folder import roasts

    if not logbook.is_dir():
        return []
    return roasts(logbook, profile=profile.name, but=path, most=HISTORY, before=started)
