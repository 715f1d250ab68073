"""Content of the home screen: unfinished roasts, profiles, last roasts, open tasks, first steps."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final

from coach.session.folders import bundled_profiles, logbook_folder, profile_folder, sounds_heard

if TYPE_CHECKING:
    from coach.logbook.index.summary import Summary
    from coach.session.offers import Offer

SHOWN: Final = 8
"""Number of last roasts that are listed."""
ENOUGH: Final = 3
"""Number of roasts from which on no first steps are shown."""
RECENT: Final = timedelta(days=14)
"""Time after a roast for which missing results are shown."""
JUDGED: Final = 20
"""Number of a profile's last roasts over which the forecast's error is averaged."""
AHEAD: Final = 90
"""Lead at which the forecast's error is shown, s before first crack."""


@dataclass(frozen=True)
class ProfileLine:
    """A profile: its short name and its name, the number of live roasts that followed it, the day of the last ('' for
    none), and the mean absolute ``error`` of its forecasts of first crack (s; None where unknown) over ``judged``
    roasts."""

    called: str
    title: str
    own: bool
    roasts: int = 0
    last: str = ""
    error: float | None = None
    judged: int = 0
    files: tuple[str, ...] = ()
    """Journals of the last ``JUDGED`` roasts."""


@dataclass(frozen=True)
class HomePage:
    """The whole content; ``count`` of finished live roasts; ``heard``, ``rehearsed`` and ``own``: first steps that are
    done."""

    unfinished: tuple[Offer, ...] = ()
    profiles: tuple[ProfileLine, ...] = ()
    roasts: tuple[Summary, ...] = ()
    without_results: tuple[Summary, ...] = ()
    unreadable: int = 0
    count: int = 0
    heard: bool = False
    rehearsed: bool = False
    own: bool = False

    @property
    def first_steps(self) -> bool:
        """True while the first steps are still to be shown."""
        return len(self.roasts) < ENOUGH and not (self.heard and self.rehearsed and self.own)


def profile_lines() -> tuple[ProfileLine, ...]:
    """The newest version of each profile by its name alone, the person's own first; files without one are left out.
    What else is wrong with a profile shows where it is opened."""
    import tomllib

    out: dict[str, tuple[int, ProfileLine]] = {}
    for folder, own in ((profile_folder(), True), (bundled_profiles(), False)):
        for path in sorted(folder.glob("*.toml")) if folder.is_dir() else ():
            with contextlib.suppress(OSError, ValueError):
                table = tomllib.loads(path.read_text(encoding="utf-8"))
                name, version = table.get("name"), table.get("version", 1)
                if isinstance(name, str) and isinstance(version, int) and (name not in out or out[name][0] < version):
                    out[name] = (version, ProfileLine(path.stem, name, own))
    return tuple(line for _, line in out.values())


def home_page(now: datetime) -> HomePage:
    """Everything but the errors of forecasts.  ``now`` is the local time, without a zone."""
    from coach.logbook.index.find import left_unfinished
    from coach.logbook.index.index import Index

    profiles, folder = profile_lines(), logbook_folder()
    live: list[Summary] = []
    rehearsed = unreadable = 0
    if folder.is_dir():
        with Index.of(folder) as index:
            index.refresh()
            live = list(index.rows("run = 'live' AND ended = 'dropped'"))
            rehearsed = index.count("run = 'rehearsal' AND ended = 'dropped'")
            unreadable = len(index.not_counted()[1])
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
        unfinished=left_unfinished(folder), profiles=tuple(lines), roasts=tuple(live[:SHOWN]),
        without_results=tuple(missing[:SHOWN]), unreadable=unreadable, count=len(live),
        heard=sounds_heard(), rehearsed=bool(rehearsed),
        own=bool(live) or any(p.own for p in profiles),
    )  # fmt: skip


def error_of(files: Sequence[Path]) -> tuple[float | None, int]:
    """Mean absolute error (s; None where none is recorded) of forecasts issued ``AHEAD`` of first crack, and the number
    of roasts in it."""
    from coach.verification.roast_record import load_record

    kept = [record.rows for file in files if (record := load_record(file)) is not None]
    rows = [r for rows in kept for r in rows if (r.what, r.lead) == ("first crack", AHEAD)]
    errors = [abs(r.error) for r in rows if r.error is not None]
    return (sum(errors) / len(errors) if errors else None), len(errors)
