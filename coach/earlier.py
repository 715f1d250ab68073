"""The earlier roasts in a folder of journals, for the coach to learn from.  Reads the disk; rehearsals are left out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coach.entries import Header
from coach.errors import EntryError, JournalError
from coach.journal import parse_header, read_journal
from coach.roast import Roast, effective, fold

if TYPE_CHECKING:
    from coach.knowledge import Knowledge
    from coach.profile import Profile


def header_of(path: Path) -> Header | None:
    """The header of a journal without reading the rest; None where that is none."""
    try:
        with path.open(encoding="utf-8", errors="replace") as file:
            return parse_header(file.readline(100_000), str(path))
    except (OSError, JournalError):
        return None


def earlier_roasts(folder: Path, *, profile: str | None = None, but: Path | None = None, most: int = 0) -> list[Roast]:
    """The live roasts in a folder, oldest first: of one profile's name where that is given, all but one file, and the
    newest ``most`` of them (0: all).  Journals that can't be read are passed over.  Raises JournalError when there is
    no such folder."""
    if not folder.is_dir():
        raise JournalError(str(folder), "is no folder.", "Name a folder of journals.")
    left_out = None if but is None else but.resolve()
    found: list[tuple[str, str, Path]] = []
    for path in folder.glob("*.jsonl"):
        header = header_of(path)
        if header is None or header.run == "rehearsal" or path.resolve() == left_out:
            continue
        if profile is None or header.profile == profile:
            found.append((header.started, header.id, path))
    out: list[Roast] = []
    for _, _, path in sorted(found, reverse=True):
        if most and len(out) == most:
            break
        try:
            journal = read_journal(path, check=False)
            roast = fold(journal.header, effective(journal.entries))
        except (JournalError, EntryError):
            continue
        if roast.charge_at is not None and roast.readings:
            out.append(roast)
    return out[::-1]


def learn_from(folder: Path, profile: Profile, *, but: Path | None = None, own: bool = False) -> Knowledge:
    """What the journals in a folder teach about a profile.

    With ``own`` the folder is a person's whole logbook, and only roasts of this profile count; else it is one that was
    put together for this profile, and all count.  Raises JournalError when there is no such folder.
    """
    from coach.learn import HISTORY, from_roasts

    name = profile.name if own else None
    return from_roasts(profile, earlier_roasts(folder, profile=name, but=but, most=HISTORY))
