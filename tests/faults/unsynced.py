"""A disk that keeps only what was synced: a file's content as it was at its last fsync, a name once its folder was.

Put in the place of ``os.fsync`` it notes what would survive a power cut at any moment.  A sync that fails drops what
it should have written, and a later one doesn't bring it back unless it is written again (as on Linux, where the pages
of a failed sync count as clean).
"""

from __future__ import annotations

import os
import random
import stat
import threading
from collections.abc import Callable
from pathlib import Path

Disk = dict[str, bytes]
"""Content by path below the root."""


class PageCache:
    """What is durable below ``root``.  ``snapshots`` holds the disk as a power cut at that moment would leave it, with
    what was confirmed by then (``confirmed()``)."""

    def __init__(
        self, root: Path, confirmed: Callable[[], list[str]], rng: random.Random, failing: float = 0.0
    ) -> None:
        self.root = root
        self.snapshots: list[tuple[Disk, list[str]]] = []
        self._confirmed = confirmed
        self._rng = rng
        self._failing = failing
        self._content: dict[int, bytes] = {}
        self._names: dict[int, dict[str, int]] = {os.stat(root).st_ino: {}}
        self._dropped: dict[int, int] = {}
        self._lock = threading.RLock()
        self._fsync = os.fsync
        self._truncate = os.truncate

    def fsync(self, descriptor: int) -> None:
        """In the place of ``os.fsync``."""
        with self._lock:
            self.cut()
            status = os.fstat(descriptor)
            fails = self._rng.random() < self._failing
            if stat.S_ISDIR(status.st_mode):
                if fails:
                    raise OSError(5, "Input/output error")
                folder = f"/proc/self/fd/{descriptor}"
                self._names[status.st_ino] = {e.name: e.inode() for e in os.scandir(folder)}
            else:
                durable = self._content.get(status.st_ino, b"")
                if fails:
                    self._dropped.setdefault(status.st_ino, len(durable))
                    raise OSError(5, "Input/output error")
                data = Path(f"/proc/self/fd/{descriptor}").read_bytes()
                gone = self._dropped.get(status.st_ino)
                self._content[status.st_ino] = data if gone is None else data[:gone] + b"\0" * (len(data) - gone)
            self.cut()

    def truncate(self, path: str | Path, length: int) -> None:
        """In the place of ``os.truncate``: what is written after it is written anew."""
        inode = os.stat(path).st_ino
        self._truncate(path, length)
        if length <= self._dropped.get(inode, -1):
            del self._dropped[inode]

    def cut(self) -> None:
        """The power goes now."""
        with self._lock:
            self.snapshots.append((self.disk(), self._confirmed()))

    def disk(self) -> Disk:
        """What would be there after a power cut now."""
        out: Disk = {}

        def look(inode: int, where: str) -> None:
            for name, below in self._names.get(inode, {}).items():
                if below in self._names:
                    look(below, f"{where}{name}/")
                else:
                    out[f"{where}{name}"] = self._content.get(below, b"")

        look(os.stat(self.root).st_ino, "")
        return out
