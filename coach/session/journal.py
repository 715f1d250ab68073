"""The journal of a roast: append-only JSON Lines, on disk before anything else sees the entry.

Line 1 is the header; each further line is one entry, in the order in which they came in.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any, Final, TextIO

from pydantic import BaseModel, ValidationError

from coach.roast.entries import ENTRY, OUTCOMES, Entry, Header
from coach.roast.errors import EntryError, FileError
from coach.roast.roast import Numbered, Roast, effective, explain, fold
from coach.session.folders import read_file

fcntl: Any
msvcrt: Any
try:
    import fcntl
except ImportError:  # Windows
    fcntl = None
try:
    import msvcrt
except ImportError:  # all others
    msvcrt = None

MAX_LINE: Final = 100_000
MAX_BYTES: Final = 8 * 1024 * 1024
MAX_LINES: Final = 20_000
"""Limit on the lines of a journal: one of one roast is shorter, at a reading a second and every pop tapped."""


ASIDE: Final = frozenset({"note", "reply", "result", "sound check"})
"""Kinds of entries that neither evidence nor forecasts depend on."""
TRIES: Final = 5
"""Number of attempts to lock a journal before another coach counts as having it."""
AGAIN: Final = 0.02
"""Time between two attempts to lock a journal, s."""
CAN_NOT_SYNC: Final = {errno.EINVAL, errno.ENOSYS, errno.ENOTSUP, errno.EBADF, errno.EACCES, errno.EPERM}
"""Errors of a system that does not sync folders."""
NOT_IN_FULL: Final = {errno.EINVAL, errno.ENOTSUP, errno.ENOTTY}
"""Errors of macOS for a file system (of a server, say) that has no full sync."""
LOCKED_AT: Final = 1 << 30
"""The byte that Windows locks in the place of the file: beyond every journal's end, so that all may read it."""


def line_of(thing: BaseModel) -> str:
    """An entry or header as one JSON line, without what is not set; ends with a newline."""
    return json.dumps(thing.model_dump(exclude_none=True), ensure_ascii=False, allow_nan=False) + "\n"


def _object(text: str, path: str, line: int) -> dict[str, Any]:
    if len(text) > MAX_LINE:
        raise FileError(path, "a line of over 100 kB is no entry.", "Remove it.", line=line)
    try:
        value = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        reason = str(error) if str(error).startswith("NaN") else "not JSON"
        raise FileError(path, f"{reason}.", "Each line is one JSON object.", line=line) from None
    if not isinstance(value, dict):
        raise FileError(path, "not a JSON object.", 'Write {"kind": ...}.', line=line)
    return value


def _no_constant(name: str) -> float:
    raise ValueError(f"NaN and infinity are not numbers of a roast ({name})")


def parse_header(text: str, path: str) -> Header:
    """The header in the first line, with or without a byte order mark before it.  Raises FileError."""
    if not text:
        raise FileError(path, "empty.", "A journal starts with a header line.")
    value = _object(text.removeprefix("\ufeff"), path, 1)
    try:
        return Header.model_validate(value)
    except ValidationError as error:
        raise FileError(path, f"not a roast's header ({explain(error)}).", "Correct the line.", line=1) from None


def parse_entry(text: str, path: str, line: int) -> Entry:
    """The entry in a line.  Raises FileError, naming line and field."""
    try:
        entry: Entry = ENTRY.validate_python(_object(text, path, line))
    except ValidationError as error:
        raise FileError(path, explain(error) + ".", "Correct the line.", line=line) from None
    return entry


@dataclass(frozen=True)
class Journal:
    """A journal as read: header (with the profile that a result names, where its line names none), and entries with
    their lines; ``torn`` is True if a torn last line was left out."""

    header: Header
    entries: tuple[Numbered, ...]
    path: Path = Path()
    torn: bool = False

    @property
    def name(self) -> str:
        """The roast's name, as lists show it and commands take it: its file's, else its id."""
        return self.path.stem or self.header.id

    @cached_property
    def digest(self) -> str:
        """A digest of the content, as far as evidence and forecasts depend on it."""
        head = f"{self.header.unit} {self.header.pressure_unit}\n"
        return _digest(head, (n for n in self.entries if n.entry.kind not in ASIDE))  # type: ignore[attr-defined]

    @property
    def replay_digest(self) -> str:
        """A digest of the content, as far as a replay's cues and advice depend on it.  A person's word on a cue, given
        afterwards, changes neither."""

        def counts(entry: Entry) -> bool:
            kind, answer = getattr(entry, "kind", ""), getattr(entry, "answer", "")
            return kind not in ASIDE or (kind == "reply" and answer not in OUTCOMES)

        return _digest(self.header.model_dump_json(), (n for n in self.entries if counts(n.entry)))

    @cached_property
    def roast(self) -> Roast:
        """The roast that the active entries fold to.  Raises FileError where they can't be one."""
        try:
            return fold(self.header, effective(self.entries))
        except EntryError as error:
            raise FileError(str(self.path), error.message, error.hint) from None


def _digest(head: str, entries: Iterable[Numbered]) -> str:
    digest = hashlib.sha256(head.encode())
    for n in entries:
        digest.update(f"{n.line} {line_of(n.entry)}".encode())
    return digest.hexdigest()


def read_lines(stream: Iterator[str], path: str) -> Iterator[Header | Numbered]:
    """Yield the header, then the entries, as they come.  Raises FileError; the caller drops a torn last line."""
    yield parse_header(next(stream, ""), path)
    for line, text in enumerate(stream, 2):
        if line > MAX_LINES:
            raise FileError(path, f"more than {MAX_LINES} lines.", "That is no journal of one roast.", line=line)
        if text.strip():
            yield Numbered(line, parse_entry(text, path, line))


def read_text(path: Path) -> str:
    """Read a text file.  Raises FileError in words when it can't be read, is a folder, too large or not text."""
    data = read_file(path, "journal (.jsonl)", MAX_BYTES)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        cut = data.rfind(b"\n") + 1
        if error.start >= cut > 0:  # a character torn at the very end
            return data[:cut].decode("utf-8") + "\ufffd"
        raise not_text(str(path)) from None


def not_text(path: str) -> FileError:
    """The error for a file that is no text."""
    return FileError(path, "not a text file in UTF-8.", "Name a journal (.jsonl).")


def whole_lines(text: str) -> tuple[list[str], bool]:
    """The lines of a journal, and True if a torn last one (no newline at its end and not JSON) was left out.

    A torn first line stays, so that reading it tells what is wrong.
    """
    lines = text.split("\n")
    tail = lines.pop()
    if not tail.strip():
        return lines, False
    if lines and not _is_json(tail):
        return lines, True
    return [*lines, tail], False


def read_journal(path: Path, *, check: bool = True) -> Journal:
    """Read a whole journal; a torn last line is dropped and reported (``torn``).

    With ``check`` a journal whose entries can't be a roast is refused here.
    """
    lines, torn = whole_lines(read_text(path))
    header, *entries = read_lines(iter(lines), str(path))
    assert isinstance(header, Header)
    journal = Journal(header, tuple(e for e in entries if isinstance(e, Numbered)), path, torn)
    result = journal.roast.result if check else None
    if header.profile or result is None or not result.profile:
        return journal
    named = {"profile": result.profile, "profile_version": result.profile_version}
    return replace(journal, header=header.model_copy(update=named))


def _is_json(text: str) -> bool:
    try:
        json.loads(text)
    except (ValueError, RecursionError):
        return False
    return True


def lock(descriptor: int, *, tries: int = 1) -> None:
    """Lock a journal against other coaches while the file is open.  Raises BlockingIOError if one has it.

    ``tries``: number of attempts, since a coach that only asks for its state holds it for a moment (``in_use``).
    """
    for left in reversed(range(tries)):
        try:
            _lock_once(descriptor)
            return
        except BlockingIOError:
            if not left:
                raise
            time.sleep(AGAIN)
        except OSError:  # a file system without locks
            return


def _lock_once(descriptor: int) -> None:
    """Try to lock a file.  Raises BlockingIOError if another coach has it; OSError where there are no locks."""
    if fcntl is not None:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    elif msvcrt is not None:
        here = os.lseek(descriptor, 0, os.SEEK_CUR)
        os.lseek(descriptor, LOCKED_AT, os.SEEK_SET)
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except PermissionError as error:  # EACCES is what Microsoft's C library answers for a byte locked by another
            raise BlockingIOError(error.errno, error.strerror) from None
        finally:
            os.lseek(descriptor, here, os.SEEK_SET)


def in_use(path: Path) -> bool:
    """True if another coach has this journal open for writing."""
    try:
        descriptor = os.open(path, os.O_WRONLY | getattr(os, "O_NONBLOCK", 0))  # never wait for a pipe's reader
    except OSError:
        return False
    try:
        lock(descriptor)
    except BlockingIOError:
        return True
    finally:
        os.close(descriptor)
    return False


def sync_file(descriptor: int) -> None:
    """Wait until all that was written to a file is on disk.  Raises OSError.

    fsync(2) of macOS leaves it in the drive's own memory, and names F_FULLFSYNC for data that must survive a power cut.
    """
    full = getattr(fcntl, "F_FULLFSYNC", None)
    if full is not None:
        try:
            fcntl.fcntl(descriptor, full)
            return
        except OSError as error:
            if error.errno not in NOT_IN_FULL:
                raise
    os.fsync(descriptor)


def sync_folder(folder: Path) -> None:
    """Write a folder's names to disk: a file that is synced itself is still lost if its name is.

    Raises OSError, but not where the system can't do this for folders at all.
    """
    try:
        descriptor = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in CAN_NOT_SYNC:
            raise
    finally:
        os.close(descriptor)


def make_folder(folder: Path) -> None:
    """Make a folder for the person alone, with those above it, each on disk by name.  Raises OSError."""
    for above in [f for f in reversed((folder, *folder.parents)) if not f.exists()]:
        above.mkdir(exist_ok=True, mode=0o700)
        try:
            sync_folder(above.parent)
        except OSError:  # made again, and synced, at the next try
            above.rmdir()
            raise


class JournalWriter:
    """Appends lines to one journal; each is on disk (fsync) when ``append`` returns.

    Raises OSError as the system gives it: the caller keeps the roast in memory and reports it.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._file: TextIO | None = None

    def create(self, header: Header) -> None:
        """Make a new journal with its header.  Raises FileExistsError rather than overwrite one."""
        self.start(self.path, line_of(header))

    def start(self, path: Path, text: str) -> None:
        """Make a new journal at ``path`` of some whole lines.  Raises FileExistsError rather than overwrite one."""
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND, 0o600)
        self.path = path
        self._file = os.fdopen(descriptor, "a", encoding="utf-8", newline="\n")
        lock(descriptor)
        self.append(text)
        sync_folder(path.parent)

    def stat(self) -> os.stat_result:
        """The open file's state.  Raises OSError when none is open."""
        if self._file is None:
            raise OSError("journal is not open")
        return os.fstat(self._file.fileno())

    def reopen(self) -> bool:
        """Go on with a journal; cut off a torn last line.  Returns True if there was one.

        Raises BlockingIOError while another coach has it open.
        """
        descriptor = os.open(self.path, os.O_WRONLY | os.O_APPEND)
        file = os.fdopen(descriptor, "a", encoding="utf-8", newline="\n")
        try:
            lock(descriptor, tries=TRIES)
            torn = self._cut()
        except BaseException:
            file.close()
            raise
        self._file = file
        return torn

    def _cut(self) -> bool:
        data = self.path.read_bytes()
        keep = data.rfind(b"\n") + 1
        torn = keep != len(data)
        if torn:
            if _is_json(data[keep:].decode("utf-8", "replace")):  # the line is whole, only its newline is missing
                keep = len(data)
            with self.path.open("r+b") as file:
                file.truncate(keep)
                if keep == len(data):
                    file.seek(0, os.SEEK_END)
                    file.write(b"\n")
                file.flush()
                sync_file(file.fileno())
        return torn

    def append(self, text: str) -> None:
        """Write one or more whole lines and wait until they are on disk."""
        if self._file is None:
            raise OSError("journal is not open")
        self._file.write(text)
        self._file.flush()
        sync_file(self._file.fileno())

    def close(self) -> None:
        if self._file is not None:
            try:
                self._file.close()
            finally:
                self._file = None
