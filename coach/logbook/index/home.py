"""What the home screen shows: unfinished roasts, profiles, last roasts, what needs attention, first steps."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final

from coach.roast.errors import CoachError
from coach.session.folders import home, logbook_folder, profile_folder

if TYPE_CHECKING:
    from coach.logbook.index.summary import Summary
    from coach.session.unfinished import Offer

SHOWN: Final = 8
"""So many of the last roasts are listed."""
ENOUGH: Final = 3
"""Who has roasted so often needs no first steps."""
RECENT: Final = timedelta(days=14)
"""Results are missed for so long after a roast."""
JUDGED: Final = 20
"""How right forecasts were is told of so many of the last roasts of a profile."""
AHEAD: Final = 90
"""How right forecasts were is told for so long before first crack, s."""


@dataclass(frozen=True)
class Unfinished:
    """An unfinished live roast, and its profile as it is called ('' where it is not among the person's)."""

    offer: Offer
    called: str


@dataclass(frozen=True)
class ProfileLine:
    """A profile: what it is called, its name, how many live roasts followed it, the day of the last ('' for none), and
    how far off first crack was from its forecast (mean, s; None where that isn't known) in how many roasts."""

    called: str
    title: str
    own: bool
    roasts: int = 0
    last: str = ""
    error: float | None = None
    judged: int = 0
    files: tuple[str, ...] = ()
    """Journals of the last ``JUDGED`` roasts."""
    newer: str = ""


@dataclass(frozen=True)
class HomePage:
    """All of it; ``heard``, ``rehearsed`` and ``own``: which of the first steps are done."""

    unfinished: tuple[Unfinished, ...] = ()
    profiles: tuple[ProfileLine, ...] = ()
    roasts: tuple[Summary, ...] = ()
    without_results: tuple[Summary, ...] = ()
    unreadable: int = 0
    heard: bool = False
    rehearsed: bool = False
    own: bool = False

    @property
    def first_steps(self) -> bool:
        """Whether the first steps are still to be shown."""
        return len(self.roasts) < ENOUGH and not (self.heard and self.rehearsed and self.own)


def heard_file() -> Path:
    """A file that is there once the sounds were played to the end."""
    return home() / "sounds-heard"


def profile_lines() -> tuple[ProfileLine, ...]:
    """The profiles, the person's own first, the newest version of each; what can't be read is left out."""
    from coach.session.profile_files import bundled_profiles, read_document

    out: dict[str, tuple[int, ProfileLine]] = {}
    for folder, own in ((profile_folder(), True), (bundled_profiles(), False)):
        for path in sorted(folder.glob("*.toml")) if folder.is_dir() else ():
            with contextlib.suppress(CoachError):
                document = read_document(path)
                known = out.get(document.name)
                if known is None or known[0] < document.version:
                    out[document.name] = (document.version, ProfileLine(path.stem, document.name, own))
    return tuple(line for _, line in out.values())


def home_page(now: datetime) -> HomePage:
    """Everything but how right the forecasts were.  ``now`` is the local time, without a zone."""
    from dataclasses import replace

    from coach.logbook.index.index import Index

    profiles, folder = profile_lines(), logbook_folder()
    live: list[Summary] = []
    rehearsed = unreadable = 0
    if folder.is_dir():
        with Index.of(folder) as index:
            index.refresh()
            live = list(index.rows("run = 'live' AND ended = 'dropped'"))
            rehearsed = index.count("run = 'rehearsal' AND ended = 'dropped'")
            unreadable = index.count("ended = 'unreadable'")
    since = (now - RECENT).isoformat()
    missing = [r for r in live if r.weight_out is None and r.moment >= since]
    by_name: dict[str, list[Summary]] = {}
    for r in live:
        by_name.setdefault(r.profile, []).append(r)
    lines = [
        replace(
            p,
            roasts=len(found),
            last=found[0].moment[:10] if found else "",
            files=tuple(r.file for r in found[:JUDGED]),
        )
        for p in profiles
        for found in (by_name.get(p.title, []),)
    ]
    lines.sort(key=lambda p: (p.last, p.own), reverse=True)
    return HomePage(
        unfinished=tuple(_unfinished(folder, lines)), profiles=tuple(lines), roasts=tuple(live[:SHOWN]),
        without_results=tuple(missing[:SHOWN]), unreadable=unreadable, heard=heard_file().exists() or bool(live),
        rehearsed=bool(rehearsed), own=bool(live) or any(p.own for p in profiles),
    )  # fmt: skip


def _unfinished(folder: Path, profiles: Iterable[ProfileLine]) -> Iterable[Unfinished]:
    from coach.logbook.index.find import left_unfinished

    called = {p.title: p.called for p in profiles}
    return (Unfinished(offer, called.get(offer.profile, "")) for offer in left_unfinished(folder))


def error_of(files: Sequence[Path]) -> tuple[float | None, int]:
    """Mean distance of first crack from the forecasts issued ``AHEAD`` of it (s; None where none were kept), and in how
    many of these roasts."""
    from coach.verification.roast_record import load_record

    kept = [record.rows for file in files if (record := load_record(file)) is not None]
    rows = [r for rows in kept for r in rows if (r.what, r.lead) == ("first crack", AHEAD)]
    errors = [abs(r.error) for r in rows if r.error is not None]
    return (sum(errors) / len(errors) if errors else None), len(errors)
