"""Selection of roasts: filters over the index, and the one roast that a name means."""

from __future__ import annotations

import contextlib
from datetime import datetime
from pathlib import Path, PurePath
from typing import Any, Final, get_args

from coach.logbook.index.index import Index
from coach.logbook.index.summary import Ended, Summary
from coach.roast.errors import CoachError, FileError, did_you_mean, printable
from coach.session.folders import own_path
from coach.session.journal_folder import headed, scan
from coach.session.offers import Offer, described
from coach.session.unfinished import unfinished

ENDED: Final = (*get_args(Ended), "accepted", "refused")
Where = tuple[str, tuple[Any, ...]]
"""A condition in SQL over the columns of the index, and its values."""


def selected(
    *, profile: str = "", coffee: str = "", person: str = "", machine: str = "", since: str = "", until: str = "",
    ended: str = "", rehearsals: bool = False,
) -> Where:  # fmt: skip
    """The condition on the roasts of a list: texts are found anywhere in the field, without regard to case; dates are
    YYYY, YYYY-MM or YYYY-MM-DD, both ends included.  Raises CoachError on an invalid date or ending."""
    parts = [] if rehearsals else ["run <> 'rehearsal'"]
    values: list[Any] = []
    for field, wanted in (("profile", profile), ("coffee", coffee), ("person", person), ("machine", machine)):
        if wanted:
            parts.append(f"instr(lower({field}), ?) > 0")
            values.append(wanted.lower())
    for word, date, sign in (("since", since, ">="), ("until", until, "<=")):
        if date and not _is_date(date):
            raise CoachError(f"--{word} '{date[:20]}' is no date.", "Write 2026-11-02, 2026-11 or 2026.")
        if date:
            parts.append(f"substr(moment, 1, {len(date)}) {sign} ?")
            values.append(date)
    if ended and ended not in ENDED:
        raise CoachError(f"--ended '{ended[:20]}' is not known.", "Known: " + ", ".join(ENDED) + ".")
    if ended in ("accepted", "refused"):
        parts.append("accepted = ?")
        values.append(ended == "accepted")
    elif ended:
        parts.append("ended = ?")
        values.append(ended)
    return " AND ".join(parts) or "1", tuple(values)


def _is_date(text: str) -> bool:
    """True if this is a year, a month or a day of the calendar."""
    with contextlib.suppress(ValueError):
        form = ("%Y", "%Y-%m", "%Y-%m-%d")[min(text.count("-"), 2)]
        return datetime.strptime(text, form).strftime(form) == text
    return False


def of_profile(index: Index, name: str, among: Where = ("1", ())) -> list[Summary]:
    """The dropped live roasts of one profile (its exact name), oldest first; only those ``among`` a condition's."""
    where, values = among
    return list(index.rows(f"profile = ? AND run = 'live' AND ended = 'dropped' AND {where}", (name, *values)))[::-1]


def find_roast(name: str, folder: Path) -> Path:
    """The journal that a name means: a path, or the (beginning of the) name of a journal in the logbook, with or
    without its folder there, or of the roast's id, which a file that was renamed keeps; ``last`` is the newest live one
    that was charged.  Of several files of one roast the one that counts.  Raises FileError that lists the roasts
    there are."""
    path = own_path(name)
    if path.suffix == ".jsonl" or path.exists():
        return path
    if not folder.is_dir():
        raise FileError(printable(name)[:80], "no such roast, and there is no logbook yet.", "Name a journal file.")
    if name == "last":
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
    if not folder.is_dir():
        return ()
    with Index.of(folder) as index:
        index.refresh()
        files = {row.file for row in index.rows("run = 'live' AND ended = 'unfinished'")}
    return unfinished(folder, older=files)


def only_unfinished(folder: Path) -> Offer:
    """The only unfinished roast of a logbook.  Raises FileError that lists them where there are more, or none."""
    found = left_unfinished(folder)
    if len(found) == 1:
        return found[0]
    if not found:
        raise FileError(str(folder), "no roast is left unfinished.", "There is nothing to close.")
    listed = "; ".join(f"{o.path.stem} ({described(o)})" for o in found[:20])
    raise FileError(str(folder), f"{len(found)} are unfinished: {listed}.", "Name one: coach close NAME")
