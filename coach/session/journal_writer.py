"""The journal's writer in a thread of its own: a slow disk never holds up the screen, and nothing is lost meanwhile.

A line put here is kept until it is surely on disk.  A write that fails is tried again every few seconds; a folder that
went away is made again and the whole journal written again; a file that another program put in the journal's place, or
cut or wrote into, is left as it is, and the whole journal goes on under a name of its own beside it.
"""

from __future__ import annotations

import contextlib
import os
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from coach.roast.errors import reason_of
from coach.session.journal import JournalWriter, make_folder, sync_folder

RETRY: Final = 2.0
"""Time after which a failed write is tried again and the journal's place is checked, s."""
SLOW: Final = 1.0
"""Time beyond which a write is reported as slow, s."""
MOVED: Final = "moved or removed"
CHANGED: Final = "changed by another program"
"""The harm that another program may do to the journal."""


class Scribe:
    """Keeps one journal on disk.  ``put`` returns at once; ``wait`` returns True if all is on disk.

    ``lines``: the lines in the journal when the scribe takes over; ``writer`` is open on it.
    """

    def __init__(self, writer: JournalWriter, lines: Sequence[str], *, fault: OSError | None = None) -> None:
        self._writer = writer
        self._saved = list(lines) if fault is None else []
        self._known: tuple[int, int] | None = None
        self._new: list[str] = [] if fault is None else list(lines)
        self._sound = fault is None
        self._fault = "" if fault is None else reason_of(fault)
        self._moved = ""
        self._since = time.monotonic()
        self._asked = 0
        self._tried = 0
        self._closing = False
        self._change = threading.Condition()
        self._thread = threading.Thread(target=self._work, name="journal", daemon=True)
        self._thread.start()

    @property
    def path(self) -> Path:
        """Path of the journal."""
        return self._writer.path

    @property
    def pending(self) -> int:
        """Number of lines that are not yet surely on disk."""
        return len(self._new)

    @property
    def trouble(self) -> str:
        """The trouble with the disk, in words; '' if there is none."""
        count = len(self._new)
        if self._fault:
            return f"NOT ON DISK ({self._fault}): {count} line{'s' * (count != 1)} kept in memory, tried again"
        if count and time.monotonic() - self._since > SLOW:
            return f"NOT YET ON DISK: {'1 line waits' if count == 1 else f'{count} lines wait'} for a slow disk"
        return self._moved

    def put(self, *lines: str) -> None:
        """Put whole lines after those put before, to be written soon."""
        with self._change:
            if not self._new:
                self._since = time.monotonic()
            self._new += lines
            self._asked += 1
            self._change.notify_all()

    def wait(self, seconds: float) -> bool:
        """Wait until all lines put so far were tried, or ``seconds``; True if all is on disk."""
        with self._change:
            asked = self._asked
            self._change.wait_for(lambda: self._tried >= asked, seconds)
            return not self._new

    def close(self, seconds: float = 5.0) -> bool:
        """Write what is left (one more attempt) and release the file; True if all is on disk."""
        with self._change:
            self._closing = True
            self._asked += 1
            self._change.notify_all()
        self._thread.join(seconds)
        return not self._new

    @property
    def text(self) -> str:
        """The whole journal, on disk or not."""
        with self._change:
            return "".join([*self._saved, *self._new])

    def try_again(self) -> bool:
        """Write what is left, once more after closing; True if all is on disk."""
        if self._new and not self._thread.is_alive():
            self._turn(list(self._new))
            with contextlib.suppress(OSError):
                self._writer.close()
        return not self._new

    def write_elsewhere(self, folder: Path) -> Path:
        """Write the whole journal as a new file in another folder; return its path.  Raises OSError, FileExistsError
        among them."""
        make_folder(folder)
        writer = JournalWriter(folder / self.path.name)
        try:
            writer.start(writer.path, self.text)
        finally:
            writer.close()
        return writer.path

    # -- the thread ---------------------------------------------------------------------------------------------

    def _work(self) -> None:
        closing = False
        while not closing:
            with self._change:
                self._change.wait_for(lambda: self._asked > self._tried, RETRY)
                batch, asked, closing = list(self._new), self._asked, self._closing
            self._turn(batch)
            with self._change:
                self._tried = asked
                self._change.notify_all()
        with contextlib.suppress(OSError):
            self._writer.close()

    def _turn(self, batch: list[str]) -> None:
        try:
            if not self._sound:
                self._mend()
            elif how := self._disturbed():
                self._move(how)
            if batch:
                self._sound = False
                self._writer.append("".join(batch))
                self._known = None
        except OSError as error:
            self._sound = False
            self._fault = reason_of(error)
            return
        with self._change:
            self._sound = True
            self._fault = ""
            self._saved += batch
            del self._new[: len(batch)]
            self._since = time.monotonic()

    def _disturbed(self) -> str:
        """Tell what harm another program did to the journal; '' where the open file is still the one under
        its name, and holds what was written to it, no more and no less.  It is read only where its size or time of
        change differs from the last one seen."""
        seen = self._writer.stat()
        try:
            if not os.path.samestat(os.stat(self.path), seen):
                return MOVED
        except FileNotFoundError:
            return MOVED
        state = (seen.st_size, seen.st_mtime_ns)
        if state != self._known and self.path.read_bytes() != "".join(self._saved).encode():
            return CHANGED
        self._known = state
        return ""

    def _mend(self) -> None:
        """Cut off the part of a failed write that may have reached the disk, so that nothing is written twice."""
        with contextlib.suppress(OSError):
            self._writer.close()
        if self.path.exists():
            whole, found = "".join(self._saved).encode(), self.path.read_bytes()
            if found.startswith(whole) and "".join(self._new).encode().startswith(found[len(whole) :]):
                os.truncate(self.path, len(whole))
                self._writer.reopen()
                sync_folder(self.path.parent)  # what failed may have been the making of it
                return
            self._move(CHANGED)
        else:
            self._move(MOVED)

    def _move(self, how: str) -> None:
        """Write the whole journal again, over no other file: it was ``moved or removed``, or the file in its place is
        no longer the one that was written."""
        with contextlib.suppress(OSError):
            self._writer.close()
        first = self._writer.path
        make_folder(first.parent)
        for n in range(1, 1000):
            path = first if n == 1 else first.with_name(f"{first.stem}-own{n}.jsonl")
            try:
                self._writer.start(path, "".join(self._saved))
            except FileExistsError:
                continue
            self._known = None
            if n == 1:
                word = "written again"
            elif how == MOVED:
                word = f"another file took its place: it goes on as {path.name}"
            else:
                word = f"{first.name} stays as it was left, the whole roast goes on as {path.name}"
            self._moved = f"The journal was {how}: {word}"
            return
        raise FileExistsError(17, "no free name", str(first))
