"""Selection of roasts: filters over the index, and the one roast that a name means."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any, Final

from coach.roast.errors import CoachError, JournalError, did_you_mean, printable
from coach.session.folders import own_path

if TYPE_CHECKING:
    from coach.logbook.index.index import Index
    from coach.logbook.index.summary import Summary
    from coach.session.unfinished import Offer

_DATE = re.compile(r"\d{4}(-\d\d(-\d\d)?)?")
ENDED = ("dropped", "unfinished", "abandoned", "no drop", "not charged", "unreadable", "accepted", "refused")


@dataclass(frozen=True)
class Filter:
    """Conditions on the roasts of a list: texts are found anywhere in the field, without regard to case; dates are
    YYYY, YYYY-MM or YYYY-MM-DD, both ends included."""

    profile: str = ""
    coffee: str = ""
    person: str = ""
    machine: str = ""
    since: str = ""
    until: str = ""
    ended: str = ""
    rehearsals: bool = False

    def sql(self) -> tuple[str, tuple[Any, ...]]:
        """The filter as SQL over the columns of the index.  Raises CoachError on an invalid date or ending."""
        parts: list[str] = [] if self.rehearsals else ["run <> 'rehearsal'"]
        values: list[Any] = []
        for field in ("profile", "coffee", "person", "machine"):
            wanted = getattr(self, field)
            if wanted:
                parts.append(f"instr(lower({field}), ?) > 0")
                values.append(wanted.lower())
        for word, date in (("--since", self.since), ("--until", self.until)):
            if date and not is_date(date):
                raise CoachError(f"{word} '{date[:20]}' is no date.", "Write 2026-11-02, 2026-11 or 2026.")
        if self.since:
            parts.append("moment >= ?")
            values.append(self.since)
        if self.until:
            parts.append("substr(moment, 1, ?) <= ?")
            values += [len(self.until), self.until]
        if self.ended:
            if self.ended not in ENDED:
                raise CoachError(f"--ended '{self.ended[:20]}' is not known.", "Known: " + ", ".join(ENDED) + ".")
            if self.ended in ("accepted", "refused"):
                parts.append("accepted = ?")
                values.append(self.ended == "accepted")
            else:
                parts.append("ended = ?")
                values.append(self.ended)
        return " AND ".join(parts), tuple(values)


ALL: Final = Filter()


def is_date(text: str) -> bool:
    """True if this is a day, a month or a year of the calendar, as the filters take it."""
    if not _DATE.fullmatch(text):
        return False
    try:
        datetime.strptime(text, ("%Y", "%Y-%m", "%Y-%m-%d")[text.count("-")])
    except ValueError:
        return False
    return True


def of_profile(index: Index, name: str, among: Filter = ALL) -> list[Summary]:
    """The live roasts of one profile (its exact name) that were dropped, oldest first; only those ``among`` a filter's.

    Of several files with one id (copies that a syncing folder made) the longest counts, and only it.
    """
    where, values = among.sql()
    rows = list(index.rows(f"profile = ? AND run = 'live' AND ended = 'dropped' AND {where}", (name, *values)))[::-1]
    sizes = index.sizes()
    best: dict[tuple[str, str], Summary] = {}
    for row in sorted(rows, key=lambda r: (-sizes[r.file], r.file)):
        best.setdefault((row.id, row.started), row)
    return [r for r in rows if best[r.id, r.started] is r]


def find_roast(name: str, folder: Path) -> Path:
    """The journal that a name means: a path, or the (beginning of the) name of a journal in the logbook; ``last`` is
    the newest live one that was charged.  Raises JournalError that lists the roasts there are."""
    from coach.session.journal_folder import scan

    path = own_path(name)
    if path.suffix == ".jsonl" or path.exists():
        return path
    if not folder.is_dir():
        raise JournalError(printable(name)[:80], "no such roast, and there is no logbook yet.", "Name a journal file.")
    if name == "last":
        from coach.logbook.index.index import Index

        with Index.of(folder) as index:
            index.refresh()
            newest = next(
                iter(index.rows("run = 'live' AND ended IN ('dropped', 'unfinished', 'no drop')", limit=1)), None
            )
        if newest is None:
            raise JournalError(str(folder), "holds no roast.", "Roast one first.")
        return folder / newest.file
    found = sorted(p for n in scan(folder).journals if (p := folder / n).name.startswith(name) and name)
    exact = [p for p in found if p.stem == name]
    if len(exact or found) == 1:
        return (exact or found)[0]
    if found:
        some = ", ".join(printable(p.stem) for p in found[:4])
        raise JournalError(printable(name)[:80], f"{len(found)} roasts begin like that: {some}.", "Type more of it.")
    close = did_you_mean(name, ["last", *(PurePath(n).stem for n in scan(folder).journals)])
    raise JournalError(printable(name)[:80], "no such roast in the logbook.", f"{close}List them with: coach log")


def left_unfinished(folder: Path) -> tuple[Offer, ...]:
    """The unfinished roasts of a logbook, of any age, newest first."""
    from coach.logbook.index.index import Index
    from coach.session.unfinished import unfinished

    if not folder.is_dir():
        return ()
    with Index.of(folder) as index:
        index.refresh()
        files = {row.file for row in index.rows("run = 'live' AND ended = 'unfinished'")}
    return unfinished(folder, older=files)


def find_unfinished(folder: Path, name: str = "") -> Offer:
    """The unfinished roast that (the beginning of) a journal's name means; without a name the only one.

    Raises JournalError that lists the unfinished roasts.
    """
    from coach.session.unfinished import described

    found = left_unfinished(folder)
    meant = [o for o in found if o.path.stem.startswith(name)]
    if len(meant) == 1:
        return meant[0]
    if not found:
        raise JournalError(str(folder), "no roast is left unfinished.", "There is nothing to close.")
    listed = "; ".join(f"{o.path.stem} ({described(o)})" for o in (meant or found)[:20])
    which = "begin like that" if name and meant else "are unfinished"
    raise JournalError(name or str(folder), f"{len(meant or found)} {which}: {listed}.", "Name one: coach close NAME")
