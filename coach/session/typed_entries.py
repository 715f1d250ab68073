"""Entries of a running roast from typed lines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from coach.roast.entries import Correction, Entry, Mark, Move, Note, Reading
from coach.roast.errors import EntryError
from coach.roast.profile import Profile
from coach.roast.roast import Roast
from coach.roast.typed_line import Typed
from coach.roast.units import Control, clock

if TYPE_CHECKING:
    from coach.session.coach import Coach

MOST_TYPED: Final = 1e6
"""The highest temperature that a journal holds, in its unit."""
MOST_SET: Final = 1e5
"""The highest setting that a journal holds."""
EARLIEST: Final = 1800.0
"""Time before the opening of a roast up to which something is entered later, s: the beans may have been in the drum."""


def entry_from(coach: Coach, typed: Typed, now: float) -> Entry:
    """A parsed line as an entry that came in at ``now`` (s).  Raises EntryError when time or value is invalid."""
    at = _time(coach.roast, typed, now, "164 -10")
    late = None if at == now else now
    if typed.temperature is not None:
        if typed.temperature > MOST_TYPED:
            raise EntryError(f"{typed.temperature:.0f} is no temperature.", "Type the display's value, for example 198")
        if typed.turned and late is not None:
            raise EntryError("A turn is logged as it happens.", "With a time, end the number with Enter.")
        return Reading(at=at, typed=late, temperature=typed.temperature, turned=typed.turned or None)
    if typed.event is not None:
        return Mark(at=at, typed=late, event=typed.event)
    if typed.control is not None and typed.value is not None:
        _check_move(coach.profile, typed.control, typed.value)
        return Move(at=at, typed=late, control=typed.control, value=typed.value)
    return Note(at=at, typed=late, text=typed.note or "")


def retimed(coach: Coach, typed: Typed, now: float) -> Correction:
    """The correction that puts the mark of the event typed, else the newest active entry, at the time typed.

    Raises EntryError when there is no such entry, or the time is invalid.
    """
    found = [n for n in coach.folded.ordered if typed.event in (None, getattr(n.entry, "event", ""))]
    meant = max(found, key=lambda n: n.line, default=None)
    if meant is None:
        raise EntryError("There is no entry to give a time to.", "Type it first.")
    at = round(_time(coach.roast, typed, now, "@-10"), 1)
    return Correction(at=now, of=meant.line, replace={"at": at, "typed": max(meant.entry.came, at)})


def _time(roast: Roast, typed: Typed, now: float, example: str) -> float:
    """The time meant by a line (s since the journal's start); ``example``: a line that says how long ago.  Raises
    EntryError where it has not come yet, or was too long before the roast was opened."""
    at = now
    if typed.ago is not None:
        at = now - typed.ago
    elif typed.roast_time is not None:
        if roast.charge_at is None:
            raise EntryError("There is no roast time before charge.", f"Say how long ago: {example}")
        at = roast.charge_at + typed.roast_time
    if at > now + 0.5:
        raise EntryError(f"{clock(roast.time(at))} has not come yet.", f"It is {clock(roast.time(now))}.")
    if at < -EARLIEST:
        raise EntryError(f"That is over {EARLIEST / 60:.0f} min before this roast was opened.", "Check the time.")
    return at


def _check_move(profile: Profile, control: Control, value: float) -> None:
    """Raise EntryError where a setting is beyond what a journal holds, or far above the highest of the profile."""
    if value > MOST_SET:
        raise EntryError(f"{control} {value:.0f} is more than any dial shows.", "Type the dial's value.")
    limits = profile.document.limits
    top = {"gas": limits.gas, "air": limits.air, "drum": limits.drum}[control]
    planned = [s.shown for s in profile.steps if s.control == control]
    highest = max([*planned, top[1] if top else 0.0], default=0.0)
    if highest > 0 and value > 3 * highest:
        raise EntryError(
            f"{control} {value:g} is far above {highest:g}, the highest of this profile.",
            "Type the value on the gauge.",
        )
