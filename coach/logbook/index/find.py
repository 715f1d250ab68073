"""Selection of roasts: filters over the index, and the one roast that a name means."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any, Final

from coach.roast.errors import CoachError, FileError, did_you_mean, printable
from coach.session.folders import own_path

if TYPE_CHECKING:
    from coach.logbook.index.index import Index
    from coach.logbook.index.summary import Summary
    from coach.session.offers import Offer

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
    """The dropped live roasts of one profile (its exact name), oldest first; only those ``among`` a filter's."""
    where, values = among.sql()
    return list(index.rows(f"profile = ? AND run = 'live' AND ended = 'dropped' AND {where}", (name, *values)))[::-1]


def find_roast(name: str, folder: Path) -> Path:
    """The journal that a name means: a path, or the (beginning of the) name of a journal in the logbook, with or
    without its folder there, or of the roast's id, which a file that was renamed keeps; ``last`` is the newest live one
    that was charged.  Of several files of one roast the one that counts.  Raises FileError that lists the roasts
    there are."""
    from coach.session.journal_folder import headed, scan

    path = own_path(name)
    if path.suffix == ".jsonl" or path.exists():
        return path
    if not folder.is_dir():
        raise FileError(printable(name)[:80], "no such roast, and there is no logbook yet.", "Name a journal file.")
    if name == "last":
        from coach.logbook.index.index import Index

        with Index.of(folder) as index:
            index.refresh()
            newest = next(
                iter(index.rows("run = 'live' AND ended IN ('dropped', 'unfinished', 'no drop')", limit=1)), None
            )
        if newest is None:
            raise FileError(str(folder), "holds no roast.", "Roast one first.")
        return folder / newest.file
    journals = sorted(scan(folder).journals)
    meant = _meant(name, [(alias, n) for n in journals for alias in (PurePath(n).stem, n.removesuffix(".jsonl"))])
    if len(meant) == 1:
        return folder / meant[0]
    known = headed(folder)
    meant = meant or _meant(name, [(one.header.id, str(f.relative_to(folder))) for one in known for f in one.files])
    for one in known:
        if meant and {folder / n for n in meant} <= set(one.files):
            return one.files[0]
    if meant:
        some = ", ".join(printable(n.removesuffix(".jsonl")) for n in meant[:4])
        raise FileError(printable(name)[:80], f"{len(meant)} roasts begin like that: {some}.", "Type more of it.")
    close = did_you_mean(name, ["last", *(PurePath(n).stem for n in journals)])
    raise FileError(printable(name)[:80], "no such roast in the logbook.", f"{close}List them with: coach log")


def _meant(name: str, called: list[tuple[str, str]]) -> list[str]:
    """The files of those names that are this one, else that begin with it."""
    found = [(alias, file) for alias, file in called if name and alias.startswith(name)]
    return list(dict.fromkeys([file for alias, file in found if alias == name] or [file for _, file in found]))


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


def only_unfinished(folder: Path) -> Offer:
    """The only unfinished roast of a logbook.  Raises FileError that lists them where there are more, or none."""
    from coach.session.offers import described

    found = left_unfinished(folder)
    if len(found) == 1:
        return found[0]
    if not found:
        raise FileError(str(folder), "no roast is left unfinished.", "There is nothing to close.")
    listed = "; ".join(f"{o.path.stem} ({described(o)})" for o in found[:20])
    raise FileError(str(folder), f"{len(found)} are unfinished: {listed}.", "Name one: coach close NAME")
