"""An index over the journals of a folder, so that lists and trends are fast.

The journals are the truth; the index is derived and can be deleted at any time.  It lies in this machine's cache
folder, never beside the journals: no two machines write one file of a synced folder, and reading a logbook needs no
lock.
"""

from __future__ import annotations

import sqlite3
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

from coach.logbook.index.summary import COLUMNS, Summary, summarise
from coach.roast.errors import CoachError
from coach.session.folders import cache_file, open_cache
from coach.session.journal import read_journal
from coach.session.journal_folder import because, passed_over, scan

SCHEMA: Final = 6
"""Version of the rows, raised when their content changes: an older index is then built again."""
BATCH: Final = 500
MOST: Final = 2**63 - 1
"""Limit on the rows of a query: SQLite's integers have 64 bits."""
Progress = Callable[[int, int], None]
"""Receiver of the number of journals read, and of all to be read."""


def index_file(folder: Path) -> Path:
    """The index of a folder in this machine's cache."""
    return cache_file("logbook", str(folder.resolve()))


def load_summary(path: Path, name: str) -> Summary:
    """Read the row of one journal from disk; an unreadable one gives a row with the reason."""
    try:
        return summarise(read_journal(path).roast, name)
    except CoachError as error:
        return Summary(file=name, problem=because(error, path))


class Index:
    """The rows of a folder.  ``file`` None keeps it in memory."""

    def __init__(self, folder: Path, file: Path | None) -> None:
        self.folder = folder
        self._db = open_cache(file, _prepare)

    @classmethod
    def of(cls, folder: Path) -> Index:
        """The index of a folder in this machine's cache, or in memory where there can be none."""
        return cls(folder, index_file(folder))

    def refresh(self, progress: Progress | None = None) -> int:
        """Bring the index up to date with the folder, with a remark on each file that can't be read; return the number
        of journals read.

        An index that can't be written (another process holds it too long, the disk is full, it is damaged inside) is
        left alone, and this one goes on in memory.  Raises FileError.
        """
        try:
            return self._refresh(progress)
        except sqlite3.Error:
            self._db.close()
            self._db = open_cache(None, _prepare)
            return self._refresh(progress)

    def _refresh(self, progress: Progress | None) -> int:
        listed = scan(self.folder)
        strange = {name: (0, zlib.crc32(why.encode())) for name, why in listed.strange.items()}
        found = listed.journals | strange
        known = {name: (m, s) for name, m, s in self._db.execute("SELECT file, mtime, size FROM roast")}
        gone = [(name,) for name in known if name not in found]
        todo = sorted(name for name, stamp in found.items() if known.get(name) != stamp)
        self._db.executemany("DELETE FROM roast WHERE file = ?", gone)
        for done in range(0, len(todo), BATCH):
            batch = todo[done : done + BATCH]
            self._db.executemany(
                _INSERT, [self._row(name, found[name], listed.strange.get(name, "")) for name in batch]
            )
            self._db.commit()
            if progress is not None:
                progress(done + len(batch), len(todo))
        if gone:
            self._db.commit()
        for name, why in self._db.execute("SELECT file, problem FROM roast WHERE ended = 'unreadable' ORDER BY file"):
            passed_over(name, why)
        return len(todo)

    def _row(self, name: str, stamp: tuple[int, int], strange: str) -> tuple[Any, ...]:
        summary = Summary(file=name, problem=strange) if strange else load_summary(self.folder / name, name)
        return (*stamp, *(getattr(summary, c) for c in COLUMNS))

    def rows(
        self, where: str = "1", values: tuple[Any, ...] = (), limit: int | None = None, *, files: bool = False
    ) -> Iterator[Summary]:
        """The roasts, newest first: of several files of one roast the fullest counts, and what can't be read is none;
        with ``files`` each file.  ``where`` is SQL over the columns of Summary, with ? for each of ``values``."""
        text = f"SELECT {_COLUMNS} FROM {'roast' if files else 'counted'} WHERE {where} ORDER BY moment DESC, file"
        if limit is not None:
            text += f" LIMIT {min(int(limit), MOST)}"
        for row in self._db.execute(text, values):
            yield summary_of(row)

    def count(self, where: str = "1", values: tuple[Any, ...] = ()) -> int:
        """Number of roasts; parameters as for ``rows``."""
        return int(self._db.execute(f"SELECT COUNT(*) FROM counted WHERE {where}", values).fetchone()[0])

    def not_counted(self) -> tuple[list[str], list[str]]:
        """The files that are no roast of their own: copies (of a syncing folder), and those that can't be read."""
        text = "SELECT file, ended = 'unreadable' FROM roast WHERE file NOT IN (SELECT file FROM counted) ORDER BY file"
        found = self._db.execute(text).fetchall()
        return [file for file, bad in found if not bad], [file for file, bad in found if bad]

    def files(self) -> list[str]:
        """The names of all files."""
        return [file for (file,) in self._db.execute("SELECT file FROM roast")]

    def close(self) -> None:
        self._db.close()

    def __enter__(self) -> Index:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _prepare(db: sqlite3.Connection) -> None:
    db.create_function("lower", 1, str.lower, deterministic=True)  # SQLite's own knows the letters of ASCII alone
    if db.execute("PRAGMA user_version").fetchone()[0] != SCHEMA:
        db.execute("DROP TABLE IF EXISTS roast")
        columns = ", ".join(c if c != "file" else "file PRIMARY KEY" for c in COLUMNS)
        db.execute(f"CREATE TABLE roast (mtime, size, {columns}) WITHOUT ROWID")
        db.execute("DROP VIEW IF EXISTS counted")
        nth = "ROW_NUMBER() OVER (PARTITION BY id, started ORDER BY size DESC, file)"
        db.execute(
            f"CREATE VIEW counted AS SELECT * FROM (SELECT *, {nth} AS nth FROM roast WHERE ended <> 'unreadable')"
            " WHERE nth = 1"
        )
        db.execute(f"PRAGMA user_version={SCHEMA}")


_COLUMNS: Final = ", ".join(COLUMNS)
_INSERT: Final = f"INSERT OR REPLACE INTO roast VALUES ({', '.join('?' * (len(COLUMNS) + 2))})"


def summary_of(row: tuple[Any, ...]) -> Summary:
    """A row of the table as a Summary."""
    given = dict(zip(COLUMNS, row, strict=True))
    if given["accepted"] is not None:
        given["accepted"] = bool(given["accepted"])
    return Summary(**given)
