"""What was worked out from journals and costs time: lessons, forecasts as made, whether learning pays.

It lies in this machine's cache and can be deleted at any time.  A key is made of all that the answer rests on: the
content of the journals, the profile, and the modules that give it; so nothing in it can be out of date, and a journal
or a program that changes in what the answer does not rest on (a cup score typed days later, a screen) keeps its own.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import sqlite3
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from coach.forecast.gas_answer import Evidence
from coach.forecast.learning import Lesson
from coach.forecast.reference_correction import Rest
from coach.session.folders import cache_file, open_cache
from coach.verification.aggregate import Row, Said
from coach.verification.provenance import forecaster, program

if TYPE_CHECKING:
    from coach.roast.profile import Profile

MOST: Final = 20_000
"""Answers kept; the oldest go first."""
BROAD: Final = frozenset({"advised", "cues"})
"""Answers that rest on the whole program: what was advised, and which cues stood."""


class Worked:
    """Answers by their keys.  ``file`` None keeps them in memory; whatever goes wrong, an answer is just not there."""

    def __init__(self, file: Path | None) -> None:
        self._db: sqlite3.Connection | None = open_cache(file, _prepare)
        self._db.isolation_level = None  # each answer is there at once: for who asks meanwhile, or after a break
        self._profiles: dict[int, tuple[Profile, str]] = {}

    @classmethod
    def of_this_machine(cls) -> Worked:
        """In this machine's cache."""
        return cls(cache_file("worked"))

    def key(self, what: str, profile: Profile, *parts: str) -> str:
        """The key of an answer that rests on a profile and on these signs, in this order."""
        if id(profile) not in self._profiles:
            digest = hashlib.sha256(profile.document.model_dump_json().encode()).hexdigest()
            self._profiles[id(profile)] = (profile, digest)
        by = program() if what in BROAD else forecaster()
        return hashlib.sha256("\n".join([what, by, self._profiles[id(profile)][1], *parts]).encode()).hexdigest()[:40]

    def get(self, key: str) -> bytes | None:
        """An answer, None where there is none."""
        if self._db is None:
            return None
        with contextlib.suppress(sqlite3.Error):
            found = self._db.execute("SELECT answer FROM worked WHERE key = ?", (key,)).fetchone()
            return None if found is None else bytes(found[0])
        return None

    def put(self, key: str, answer: bytes) -> None:
        """Keep an answer."""
        if self._db is not None:
            with contextlib.suppress(sqlite3.Error):
                self._db.execute("INSERT OR REPLACE INTO worked (key, answer) VALUES (?, ?)", (key, answer))

    def close(self) -> None:
        """Let the oldest beyond ``MOST`` go."""
        if self._db is None:
            return
        with contextlib.suppress(sqlite3.Error):
            newest = self._db.execute("SELECT MAX(number) FROM worked").fetchone()[0] or 0
            self._db.execute("DELETE FROM worked WHERE number <= ?", (newest - MOST,))
        with contextlib.suppress(sqlite3.Error):
            self._db.close()
        self._db = None

    def __enter__(self) -> Worked:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _prepare(db: sqlite3.Connection) -> None:
    db.execute("CREATE TABLE IF NOT EXISTS worked (number INTEGER PRIMARY KEY, key TEXT UNIQUE, answer BLOB)")


# -- answers as bytes --------------------------------------------------------------------------------------------------


def dump_rows(rows: Sequence[Row]) -> bytes:
    """Rows as bytes."""
    return json.dumps([asdict(r) for r in rows]).encode()


def load_rows(answer: bytes) -> list[Row]:
    """Rows from bytes."""
    out = []
    for given in json.loads(answer):
        said = given.pop("said")
        out.append(Row(said=None if said is None else Said(**said), **given))
    return out


def dump_lesson(x: Lesson | None) -> bytes:
    """A lesson as bytes: a line of JSON, then its arrays; None (a roast that can't teach) as nothing."""
    if x is None:
        return b""
    head: dict[str, Any] = {"members": len(x.log_w), "readings": len(x.rest.t), "moves": x.moves,
                            "marks": dict(x.marks), "late": x.late, "gas": x.gas.moves}  # fmt: skip
    arrays = (np.ascontiguousarray(a, dtype="<f8").tobytes() for a in _arrays(x))
    return json.dumps(head).encode() + b"\n" + b"".join(arrays)


def load_lesson(answer: bytes) -> Lesson | None:
    """A lesson from bytes."""
    if not answer:
        return None
    line, _, rest = answer.partition(b"\n")
    head = json.loads(line)
    values = np.frombuffer(rest, dtype="<f8").astype(float)
    log_w, t, off, moved, variance, gas = np.split(values, np.cumsum([head["members"], *[head["readings"]] * 4]))
    return Lesson(log_w, head["marks"], Rest(t, off, moved, variance), tuple(head["moves"]),
                  head["late"], Evidence(gas, head["gas"]))  # fmt: skip


def _arrays(x: Lesson) -> tuple[NDArray[np.float64], ...]:
    return x.log_w, x.rest.t, x.rest.off, x.rest.moved, x.rest.variance, x.gas.log_w
