"""A cache of slow results computed from journals: evidence, hindcasts, replays, the check that learning pays.

It lies on this machine and can be deleted at any time.  A key is a digest of all inputs of a result: the content of the
journals, the profile, and the modules that compute it; so nothing in it can be out of date, and a change elsewhere (a
cup score typed days later, a screen) leaves it valid.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import sqlite3
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeVar

import numpy as np
from pydantic import TypeAdapter, ValidationError

from coach.forecast.gas_answer import Evidence
from coach.forecast.learning import Lesson
from coach.forecast.reference_correction import Rest
from coach.session.folders import cache_file, open_cache
from coach.verification.aggregate import ScoredForecast
from coach.verification.provenance import program

if TYPE_CHECKING:
    from coach.roast.profile import Profile

T = TypeVar("T")
ROWS: Final = TypeAdapter(tuple[ScoredForecast, ...])
"""Hindcasts of a roast."""
MOST: Final = 20_000
"""Number of results kept; the oldest go first."""


class ResultCache:
    """Results by their keys.  ``file`` None keeps them in memory; after any fault a result is just not there."""

    def __init__(self, file: Path | None) -> None:
        self._db: sqlite3.Connection | None = open_cache(file, _prepare)
        self._db.isolation_level = None  # each answer is there at once: for who asks meanwhile, or after a break

    @classmethod
    def of_this_machine(cls) -> ResultCache:
        """The cache of this machine."""
        return cls(cache_file("cache"))

    def key(self, what: str, profile: Profile, *parts: str) -> str:
        """The key of a result that depends on a profile and on these digests, in this order."""
        inputs = [what, program(), profile.document.model_dump_json(), *parts]
        return hashlib.sha256("\n".join(inputs).encode()).hexdigest()[:40]

    def load(self, key: str, kind: TypeAdapter[T]) -> T | None:
        """A result of this kind; None where there is none, or none that is valid."""
        found = self.get(key)
        with contextlib.suppress(ValidationError):
            return None if found is None else kind.validate_json(found)
        return None

    def computed(self, key: str, kind: TypeAdapter[T], compute: Callable[[], T]) -> T:
        """A result of this kind, computed where there is none."""
        found = self.load(key, kind)
        if found is None:
            found = compute()
            self.store(key, kind, found)
        return found

    def store(self, key: str, kind: TypeAdapter[T], result: T) -> None:
        """Keep a result of this kind."""
        self.put(key, kind.dump_json(result))

    def get(self, key: str) -> bytes | None:
        """A result as bytes; None where there is none."""
        if self._db is None:
            return None
        with contextlib.suppress(sqlite3.Error):
            found = self._db.execute("SELECT answer FROM cache WHERE key = ?", (key,)).fetchone()
            return None if found is None else bytes(found[0])
        return None

    def put(self, key: str, answer: bytes) -> None:
        """Keep a result as bytes."""
        if self._db is not None:
            with contextlib.suppress(sqlite3.Error):
                self._db.execute("INSERT OR REPLACE INTO cache (key, answer) VALUES (?, ?)", (key, answer))

    def close(self) -> None:
        """Let the oldest beyond ``MOST`` go."""
        if self._db is None:
            return
        with contextlib.suppress(sqlite3.Error):
            newest = self._db.execute("SELECT MAX(number) FROM cache").fetchone()[0] or 0
            self._db.execute("DELETE FROM cache WHERE number <= ?", (newest - MOST,))
        with contextlib.suppress(sqlite3.Error):
            self._db.close()
        self._db = None

    def __enter__(self) -> ResultCache:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _prepare(db: sqlite3.Connection) -> None:
    db.execute("CREATE TABLE IF NOT EXISTS cache (number INTEGER PRIMARY KEY, key TEXT UNIQUE, answer BLOB)")


# -- evidence as bytes -------------------------------------------------------------------------------------------------


def dump_lesson(x: Lesson | None) -> bytes:
    """The evidence of a roast as JSON, every number exactly; None (a roast without evidence) as nothing."""
    return b"" if x is None else json.dumps(asdict(x), default=np.ndarray.tolist).encode()


def load_lesson(answer: bytes) -> Lesson | None:
    """The evidence of a roast from bytes."""
    if not answer:
        return None
    x = json.loads(answer)
    rest = Rest(**{name: np.array(values) for name, values in x["rest"].items()})
    gas = Evidence(np.array(x["gas"]["log_w"]), x["gas"]["moves"])
    return Lesson(np.array(x["log_w"]), x["marks"], rest, x["late"], gas)
