"""Another time for the newest entry."""

from __future__ import annotations

from coach.roast.entries import Correction
from coach.roast.errors import EntryError
from coach.roast.typed_line import Typed
from coach.roast.units import clock
from coach.session.coach import Coach


def retimed(coach: Coach, typed: Typed, now: float) -> Correction:
    """The correction that puts the newest active entry at the time typed (s roast time, or s ago).

    Raises EntryError when there is no entry, or the time is invalid.
    """
    standing = {n.line: n.entry for n in coach.standing.ordered}
    line = max(standing, default=None)
    if line is None:
        raise EntryError("There is no entry to give a time to.", "Type it first.")
    entry = standing[line]
    if typed.ago is not None:
        at = now - typed.ago
    elif coach.roast.charge_at is not None:
        at = coach.roast.charge_at + (typed.roast_time or 0.0)
    else:
        raise EntryError("There is no roast time before charge.", "Say how long ago: @-10")
    if at > now + 0.5:
        raise EntryError(f"{clock(coach.roast.time(at))} has not come yet.", f"It is {clock(coach.roast.time(now))}.")
    if at < 0:
        raise EntryError("That is before this roast was opened.", "Check the time.")
    return Correction(at=now, of=line, replace={"at": round(at, 1), "typed": max(entry.came, round(at, 1))})
