"""The ledgers of the roasts in a logbook folder.  Reads journals and the cues kept with them."""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from coach.cues.episodes import Episode
from coach.cues.table import CUES
from coach.forecast.learning import from_roasts
from coach.roast.entries import Header
from coach.roast.errors import CoachError, EntryError, FileError
from coach.roast.profile import Profile
from coach.roast.roast import Roast
from coach.session.folders import cache_folder
from coach.session.journal_folder import dropped, roasts
from coach.verification.cue_outcomes import Line, Miss, judged, misses
from coach.verification.cue_precision import demotions
from coach.verification.cue_record import CueFile, load_cues, read_cues, write_cues
from coach.verification.replay import walk
from coach.verification.tolerance_what_if import Past

MOST: Final = 40
"""So many of the newest roasts are looked at."""
REVISION: Final = 1
"""Raised when a walk gives other episodes than before: what was kept of older ones is then worked out anew."""


@dataclass(frozen=True)
class Page:
    """One roast in the ledger: its file, its fold, its lines, and what left its tolerance."""

    path: Path
    header: Header
    roast: Roast
    lines: tuple[Line, ...]
    missed: tuple[Miss, ...]


def pages(
    folder: Path,
    profile: Profile,
    *,
    most: int = MOST,
    work_out: bool = True,
    progress: Callable[[int, int], None] | None = None,
) -> list[Page]:
    """The ledger of each finished roast of a profile, oldest first.

    Where the cues heard were not kept, the journal is gone through once more with what the roasts before it teach:
    about a second each, the first time.  Without ``work_out`` such roasts are left out unless that was done before.
    """
    read = roasts(folder, profile=profile.name, most=most, wanted=dropped)
    out: list[Page] = []
    for i, r in enumerate(read):
        episodes = kept(r.path, profile)
        if episodes is None and work_out:
            if progress is not None:
                progress(i, len(read))
            with contextlib.suppress(EntryError):
                knowledge = from_roasts(profile, [x.roast for x in read[:i]]) if i else None
                episodes = walk(profile, r.header, r.entries, knowledge).episodes
                with contextlib.suppress(OSError, FileError):
                    write_cues(_cached(r.path), episodes, "journal", _basis(r.path, profile))
        if episodes is not None:
            lines = judged(episodes, r.roast, profile)
            out.append(Page(r.path, r.header, r.roast, lines, misses(r.roast, profile)))
    return out


def kept(journal: Path, profile: Profile) -> tuple[Episode, ...] | None:
    """The episodes kept of a roast: those really heard, else those worked out before from the same journal and profile;
    None when there are neither."""
    with contextlib.suppress(FileError):
        heard = load_cues(journal)
        if heard is not None:
            return _known(heard)
    with contextlib.suppress(FileError, OSError):
        cached = read_cues(_cached(journal))
        if cached is not None and cached.basis == _basis(journal, profile):
            return _known(cached)
    return None


def _known(file: CueFile) -> tuple[Episode, ...]:
    """The episodes of cues that the table has: a file may be older than the table, or not ours."""
    return tuple(k.episode() for k in file.episodes if k.cue in CUES)


def silenced(folder: Path, profile: Profile) -> dict[str, str]:
    """The cues that were wrong too often in a person's last roasts of a profile, with the reason: quick, from what was
    kept; nothing where there is no logbook yet."""
    try:
        return demotions([p.lines for p in pages(folder, profile, work_out=False)])
    except (CoachError, OSError):
        return {}


def pasts(folder: Path, profile: Profile, most: int) -> list[Past]:
    """The newest finished roasts of a profile with what was known before each, oldest first."""
    read = roasts(folder, profile=profile.name, most=most, wanted=dropped)
    return [
        Past(r.header, r.entries, from_roasts(profile, [x.roast for x in read[:i]]) if i else None)
        for i, r in enumerate(read)
    ]


def _cached(journal: Path) -> Path:
    name = hashlib.sha256(str(journal.resolve()).encode()).hexdigest()[:20]
    return cache_folder() / "cues" / f"{name}.json"


def _basis(journal: Path, profile: Profile) -> str:
    """What a walk rests on: the journal's bytes and the profile."""
    digest = hashlib.sha256(journal.read_bytes())
    digest.update(profile.document.model_dump_json().encode())
    return f"{REVISION}-{digest.hexdigest()[:20]}"
