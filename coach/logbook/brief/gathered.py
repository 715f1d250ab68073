"""Inputs of a brief, gathered from disk: the roasts before, and the state of a running one."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from coach.logbook.brief.brief import Brief, PastRoast, brief
from coach.logbook.brief.handover import HandoverState
from coach.logbook.index.summary import summarise
from coach.logbook.learning.lessons import known_then, learnt
from coach.logbook.profiles.kept_versions import newer, version_of
from coach.roast.errors import EntryError, FileError
from coach.roast.profile import Profile, in_unit
from coach.roast.units import TemperatureUnit, parse_clock
from coach.session.journal import read_journal
from coach.session.journal_folder import dropped, roasts

MOST: Final = 11
"""Number of newest roasts that are read."""
LONGEST: Final = 3 * 3600.0
"""Age beyond which a roast is not running any more, s."""


def gather(
    profile: Profile, folder: Path, *, unit: TemperatureUnit | None = None, beside: Path | None = None,
    running: Path | None = None, at: str | None = None,
) -> Brief:  # fmt: skip
    """The brief for a profile whose file lies in the folder ``beside``, shown in ``unit`` (None: its own); or for the
    takeover of a ``running`` roast, in that roast's unit, ``at`` a roast time (m:ss) or now.  Raises FileError."""
    now = datetime.now(UTC)
    state = None if running is None else running_state(profile, running, at, now, folder)
    past, on_machine = past_roasts(profile, folder, running)
    shown = in_unit(profile, unit) if state is None else state.profile
    before = version_of(profile, profile.document.version - 1, beside)
    parent = None if before is None else in_unit(before, shown.unit)
    later = newer(profile, beside) if state is None else ""
    return brief(shown, past, now, on_machine=on_machine, parent=parent, state=state, newer=later)


def running_state(profile: Profile, path: Path, at: str | None, now: datetime, folder: Path) -> HandoverState:
    """State of the running roast, forecast with the knowledge of its coach, ``at`` a roast time (m:ss) or now.

    ``now`` is aware.  Raises FileError.
    """
    journal = read_journal(path)
    roast, header = journal.roast, journal.header
    if at is not None:
        try:
            moment = (roast.charge_at or 0.0) + parse_clock(at)
        except ValueError as error:
            raise FileError(str(path), f"--at: {error}.") from None
    else:
        moment = (now - journal.header.moment).total_seconds()
        if "drop" in roast.marks or not 0 <= moment <= LONGEST:
            raise FileError(str(path), "is not running any more.", "Give --at m:ss to see it as it stood.")
    try:
        before = known_then(folder, profile, path, header.started)
        knowledge = learnt(profile, before) if before else None
        return HandoverState.of(profile, header, journal.entries, moment, knowledge)
    except EntryError as error:
        raise FileError(str(path), error.message, error.hint) from None


def past_roasts(profile: Profile, folder: Path, running: Path | None) -> tuple[list[PastRoast], PastRoast | None]:
    """The newest dropped roasts of the profile, and the newest of any on the same machine, but for the ``running``
    one."""
    if not folder.is_dir():
        return [], None

    def past(most: int, *, profile: str | None = None, machine: str | None = None) -> list[PastRoast]:
        found = roasts(folder, profile=profile, machine=machine, but=running, most=most, wanted=dropped)
        return [PastRoast(summarise(e.roast, str(e.path.relative_to(folder))), e.roast) for e in reversed(found)]

    machine = profile.document.machine
    on_machine = past(1, machine=machine) if machine else []
    return past(MOST, profile=profile.name), on_machine[0] if on_machine else None
