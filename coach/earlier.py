"""The earlier roasts in a folder of journals, for the coach to learn from.  Reads the disk; rehearsals are left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from coach.entries import Header
from coach.errors import EntryError, JournalError
from coach.journal import parse_header, read_journal
from coach.roast import Numbered, Roast, effective, fold

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


@dataclass(frozen=True)
class Earlier:
    """One earlier roast: its entries, and their fold."""

    header: Header
    entries: tuple[Numbered, ...]
    roast: Roast


def earlier(
    folder: Path, *, profile: str | None = None, but: Path | None = None, most: int = 0, before: str = ""
) -> list[Earlier]:
    """The live roasts in a folder, oldest first: of one profile's name where that is given, all but one file, and the
    newest ``most`` of them (0: all) that were started ``before`` a moment (as headers write it; '': at any time).
    Journals that can't be read are passed over.  Raises JournalError when there is no such folder."""
    if not folder.is_dir():
        raise JournalError(str(folder), "is no folder.", "Name a folder of journals.")
    left_out = None if but is None else but.resolve()
    found: list[tuple[str, str, Path]] = []
    for path in folder.glob("*.jsonl"):
        header = header_of(path)
        if header is None or header.run == "rehearsal" or path.resolve() == left_out:
            continue
        if before and header.started >= before:
            continue
        if profile is None or header.profile == profile:
            found.append((header.started, header.id, path))
    out: list[Earlier] = []
    for _, _, path in sorted(found, reverse=True):
        if most and len(out) == most:
            break
        try:
            journal = read_journal(path, check=False)
            roast = fold(journal.header, effective(journal.entries))
        except (JournalError, EntryError):
            continue
        if roast.charge_at is not None and roast.readings:
            out.append(Earlier(journal.header, journal.entries, roast))
    return out[::-1]


def earlier_roasts(folder: Path, *, profile: str | None = None, but: Path | None = None, most: int = 0) -> list[Roast]:
    """The folds of the roasts that ``earlier`` gives."""
    return [e.roast for e in earlier(folder, profile=profile, but=but, most=most)]


def learn_from(folder: Path, profile: Profile, *, but: Path | None = None, own: bool = False) -> Knowledge:
    """What the journals in a folder teach about a profile.

    With ``own`` the folder is a person's whole logbook, and only roasts of this profile count; else it is one that was
    put together for this profile, and all count.  Where learning would have made the roasts' own forecasts worse, each
    left out in turn, nothing is learnt.  Raises JournalError when there is no such folder.
    """
    from coach.learn import HISTORY

    name = profile.name if own else None
    return learnt(profile, earlier(folder, profile=name, but=but, most=HISTORY))


def learnt(profile: Profile, found: Sequence[Earlier]) -> Knowledge:
    """What these roasts teach, checked as ``learn_from`` says; what costs time is kept in this machine's cache."""
    from coach.logbook.asmade import taught
    from coach.logbook.worked import Worked

    with Worked.of_this_machine() as worked:
        return taught(worked, profile, found)
