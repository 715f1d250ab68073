"""Finding the unfinished roasts of a folder.

A roast is finished once the fold of its entries has a drop, or a result that says it was abandoned.  Active entries
decide: a drop that was withdrawn leaves the roast unfinished.

Several coaches and several files:

- A journal has one writer, which holds a lock on it; any other coach looks on, follows what is typed there and writes
  nothing.  When the writer is gone the onlooker says so; started again, it can go on with the roast.
- Of several files of one roast (the same id and start: a synced folder leaves conflict copies, a coach whose journal
  was taken away writes on in a second file) the one that a coach has open counts, else the fullest that can be read.
  The others stay as they are.  The file that counts decides if the roast is finished.
- A lock does not reach another computer.  A roast that was opened before this computer was switched on, or on another
  one, is offered with a remark: close it there first.  If two write, the sync makes two files of it, no line
  is lost, and ``coach result ROAST copies`` brings results and notes together.
"""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from coach.roast.errors import CoachError
from coach.session.journal import in_use, read_journal
from coach.session.journal_folder import HeadedFiles, because, headed, passed_over
from coach.session.offers import RESUMABLE, Offer
from coach.session.roast_clock import Now, elapsed, right_now


def unfinished(folder: Path, *, older: Collection[str] = ()) -> tuple[Offer, ...]:
    """The unfinished live roasts in a folder that may still be running, newest first; none where there is no such
    folder.  Files that can't be read are passed over with a remark.

    A roast without a typed entry does not count, unless a coach has it open.  Of older roasts only those are read whose
    files (relative to the folder) are in ``older``: the logbook's index knows those that have no drop.
    """
    now = right_now()
    if not folder.is_dir():
        return ()
    found = []
    for one in headed(folder):
        named = any(f.relative_to(folder).as_posix() in older for f in one.files)
        imported = bool(getattr(one.header, "imported_from", ""))  # a sheet without a drop runs nowhere
        lately = -RESUMABLE < elapsed(one.header, -RESUMABLE, now)[0] < RESUMABLE  # it may have been opened
        if one.header.run != "live" or imported or not (named or lately):
            continue
        offer = _offer(one, folder, now)
        if offer is not None and (offer.resumable or (named and offer.charged)):
            found.append(offer)
    return tuple(sorted(found, key=lambda o: o.age))


def _offer(one: HeadedFiles, folder: Path, now: Now) -> Offer | None:
    """The offer of an unfinished roast; None where it is finished, or nothing can be read of it."""
    used = [f for f in one.files if in_use(f)]
    for path in sorted(one.files, key=lambda f: f not in used):
        try:
            journal = read_journal(path)
            roast = journal.roast
            last = max((n.entry.came for n in journal.entries), default=0.0)
            age, _ = elapsed(journal.header, last, now)
        except CoachError as error:
            passed_over(str(path.relative_to(folder)), because(error, path))
            continue
        typed = any(n.entry.kind != "sound check" for n in journal.entries)  # type: ignore[attr-defined]
        if roast.finished or not (typed or path in used) or age < -1:
            return None
        boot = getattr(journal.header, "boot", "")
        return Offer(
            path, age, len(journal.entries), roast.charge_at is not None, path in used, len(one.files),
            journal.header.profile, roast.phase, roast.time(last), bool(boot) and boot != now.boot,
        )  # fmt: skip
    return None
