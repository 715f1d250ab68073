"""The journals of a folder, by one rule wherever they are read.

Subfolders count; names that begin with a dot don't.  Of several files of one roast (a synced folder leaves such copies)
the fullest counts, and only it.  What can't be read is passed over with a remark that names it.
"""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from coach.roast.entries import Header, moment_of
from coach.roast.errors import CoachError, FileError, reason_of
from coach.roast.remarks import remark
from coach.roast.roast import Roast
from coach.session.journal import MAX_LINE, Journal, not_text, parse_header, read_journal


@dataclass(frozen=True)
class Listed:
    """The content of a folder: its journals by their names relative to it, with mtime (ns) and size (bytes); and
    (``strange``) what is named like a journal and is none, with the reason."""

    journals: dict[str, tuple[int, int]]
    strange: dict[str, str]


def scan(folder: Path) -> Listed:
    """List the journals of a folder and its subfolders.  Raises FileError when the folder itself can't be listed."""
    found: dict[str, tuple[int, int]] = {}
    strange: dict[str, str] = {}

    def unlisted(error: OSError) -> None:
        if Path(error.filename) == folder:
            gone = isinstance(error, (FileNotFoundError, NotADirectoryError))
            why = "is no folder." if gone else f"can't be listed ({reason_of(error)})."
            raise FileError(str(folder), why, "Name a folder of journals.") from None
        strange[_prefix(folder, error.filename)] = f"a folder that can't be listed ({reason_of(error)})"

    for place, folders, files in os.walk(folder, onerror=unlisted):
        folders[:] = [f for f in folders if not f.startswith(".")]
        prefix = _prefix(folder, place)
        for file in (*folders, *files):
            if not file.endswith(".jsonl") or file.startswith("."):
                continue
            path, name = os.path.join(place, file), prefix + file
            try:
                state = os.stat(path)
            except OSError as error:
                if os.path.islink(path):
                    strange[name] = "a link that leads nowhere"
                elif not isinstance(error, FileNotFoundError):  # gone between the listing and here
                    strange[name] = f"can't be looked at ({reason_of(error)})"
                continue
            if stat.S_ISREG(state.st_mode):
                found[name] = (state.st_mtime_ns, state.st_size)
            else:
                strange[name] = "a folder" if stat.S_ISDIR(state.st_mode) else "no file but a pipe or a device"
    return Listed(found, strange)


def _prefix(folder: Path, place: str) -> str:
    """The beginning of the names of files in a folder's subfolder; '' in itself."""
    within = Path(place).relative_to(folder).as_posix()
    return "" if within == "." else f"{within}/"


def passed_over(name: str, why: str) -> None:
    """Remark on a file that was passed over."""
    remark(f"{name}: passed over ({why.rstrip('.')})")


def because(error: CoachError, path: Path) -> str:
    """The reason why a journal can't be read, without its name."""
    return error.message.removeprefix(str(path)).lstrip(",: ")


def header_of(path: Path) -> Header:
    """Read the header of a journal without the rest.  Raises FileError."""
    try:
        with path.open("rb") as file:
            return parse_header(file.readline(MAX_LINE).decode("utf-8"), str(path))
    except OSError as error:
        raise FileError(str(path), f"can't be read ({reason_of(error)}).", "Check the file's rights.") from None
    except UnicodeDecodeError:
        raise not_text(str(path)) from None


@dataclass(frozen=True)
class HeadedFiles:
    """One roast by its header alone, and its files, the fullest first."""

    header: Header
    files: tuple[Path, ...]


def headed(folder: Path) -> list[HeadedFiles]:
    """The roasts of a folder by their headers, newest first; a file without one is passed over with a remark.

    Raises FileError when there is no such folder.
    """
    listed = scan(folder)
    for name, why in sorted(listed.strange.items()):
        passed_over(name, why)
    by_roast: dict[tuple[str, str], list[tuple[int, str, Header]]] = {}
    for name, (_, size) in listed.journals.items():
        try:
            header = header_of(folder / name)
        except FileError as error:
            passed_over(name, because(error, folder / name))
            continue
        by_roast.setdefault((header.id, header.started), []).append((-size, name, header))
    out = []
    for files in by_roast.values():
        files.sort(key=lambda f: f[:2])
        out.append(HeadedFiles(files[0][2], tuple(folder / name for _, name, _ in files)))
    return sorted(out, key=lambda r: (r.header.moment, r.header.id), reverse=True)


def charged(roast: Roast) -> bool:
    """True if the roast was charged and has readings, so that there is something to see."""
    return roast.charge_at is not None and bool(roast.readings)


def dropped(roast: Roast) -> bool:
    """True if the roast was charged and dropped."""
    return roast.charge_at is not None and "drop" in roast.marks


def roasts(
    folder: Path,
    *,
    profile: str | None = None,
    machine: str | None = None,
    but: Path | None = None,
    before: str = "",
    most: int = 0,
    wanted: Callable[[Roast], bool] = charged,
) -> list[Journal]:
    """The live roasts in a folder, oldest first: of one profile's or machine's name where that is given, all but that
    of one file (``but``), and the newest ``most`` of them (0: all) that were started ``before`` a moment (as headers
    write it; '': at any time).

    Journals that can't be read are passed over with a remark.  Raises FileError when there is no such folder.
    """
    out: list[Journal] = []
    for one in newest_first(folder, profile=profile, machine=machine, but=but, before=before):
        if most and len(out) == most:
            break
        if wanted(one.roast):
            out.append(one)
    return out[::-1]


def newest_first(
    folder: Path,
    *,
    profile: str | None = None,
    machine: str | None = None,
    but: Path | None = None,
    before: str = "",
) -> Iterator[Journal]:
    """Yield the live roasts in a folder, newest first, each read on request; parameters as for ``roasts``."""
    left_out = None if but is None else but.resolve()
    until = moment_of(before) if before else None
    for one in headed(folder):
        head = one.header
        if head.run != "live" or machine not in (None, head.machine):
            continue
        if head.profile and profile not in (None, head.profile):  # where it names none, a result may
            continue
        if (until is not None and head.moment >= until) or any(f.resolve() == left_out for f in one.files):
            continue
        for path in one.files:  # the fullest that can be read
            try:
                journal = read_journal(path)
            except FileError as error:
                passed_over(str(path.relative_to(folder)), because(error, path))
                continue
            if profile in (None, journal.header.profile):
                yield journal
            break


def same_roast(path: Path, folder: Path) -> list[Path]:
    """All files of a journal's roast, the one that counts first.  Raises FileError."""
    header = header_of(path)
    with contextlib.suppress(FileError):
        for one in headed(folder):
            if (one.header.id, one.header.started) == (header.id, header.started):
                return list(one.files)
    return [path]
