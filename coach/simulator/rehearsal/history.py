"""The rehearsals of each person, and how far they have come.

One JSON Lines file for each person, one line for each rehearsal that was carried through.  The rules of the three
stages are this project's own choice.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal, get_args

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from coach.roast.errors import FileError, faults
from coach.session.folders import file_stem
from coach.session.journal import read_text, sync_file, whole_lines
from coach.session.profile_files import home
from coach.simulator.rehearsal.score import Score

Stage = Literal["rehearse", "guided", "cues only"]
STAGES: Final[tuple[Stage, ...]] = get_args(Stage)
"""Rehearse: hints on request.  Guided: by the coach's screen and cues, no hints.  Cues only: by what is heard."""
GOOD: Final = 75.0
"""Points of a rehearsal that counts towards the next stage, if no hint was requested and nothing was jumped over."""
NEEDED, OF_LAST = 3, 4
"""Number of good ones, among a number of the last of a stage, that leads to the next."""
POOR: Final = 50.0
BACK_AFTER: Final = 3
"""Points below which one is poor, and number of those in a row that leads back one stage."""
NEAR_REAL: Final = 2.0
"""Speed, as a multiple of real time, above which a call shows the fingers more than the ear: left out of the bias."""
RECENT: Final = 5
"""Number of the last calls of crack that the bias is taken over."""


class Record(BaseModel):
    """One rehearsal.  Times s, as in :class:`coach.simulator.rehearsal.score.Score`."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    format: Literal[1] = 1
    started: str
    journal: str = ""
    profile: str = ""
    machine: str = ""
    drill: str = ""
    seed: int = 0
    stage: Stage = "rehearse"
    speed: float = 1.0
    points: float = Field(ge=0, le=100)
    hints: int = 0
    helped: bool = False
    """True if a simulated person did a part of it (after a jump)."""
    crack_off: float | None = None
    call_off: float | None = None
    notice: float | None = None
    inside: float | None = None


def record_of(result: Score, **rest: object) -> Record:
    """A record of a score; the rest by the names of :class:`Record`."""
    kept = {n: getattr(result, n) for n in ("points", "hints", "crack_off", "call_off", "notice", "inside")}
    return Record.model_validate({**kept, **rest})


@dataclass(frozen=True)
class Progress:
    """A person's progress: the stage, how many good rehearsals it still takes, and the bias of calling crack.

    ``bias`` and ``scatter`` [s] over the last calls, ``calls`` of them; None with fewer than two.
    """

    stage: Stage
    missing: int
    bias: float | None = None
    scatter: float | None = None
    calls: int = 0


def progress(records: Sequence[Record]) -> Progress:
    """Progress by the records, oldest first."""
    at, window, poor = 0, list[bool](), 0
    for r in records:
        if STAGES.index(r.stage) < at:  # easier than what the person can do: no evidence
            continue
        window = [*window, r.points >= GOOD and r.hints == 0 and not r.helped][-OF_LAST:]
        poor = poor + 1 if r.points < POOR else 0
        if sum(window) >= NEEDED and at < len(STAGES) - 1:
            at, window, poor = at + 1, [], 0
        elif poor >= BACK_AFTER and at > 0:
            at, window, poor = at - 1, [], 0
    calls = [r.call_off for r in records if r.call_off is not None and r.speed <= NEAR_REAL][-RECENT:]
    known = len(calls) >= 2
    return Progress(
        STAGES[at],
        max(0, NEEDED - sum(window)) if at < len(STAGES) - 1 else 0,
        float(np.mean(calls)) if known else None,
        float(np.std(calls, ddof=1)) if known else None,
        len(calls),
    )


def sentences(done: Progress) -> list[str]:
    """Progress in words."""
    out = [f"stage: {done.stage}"]
    if done.missing:
        following = STAGES[STAGES.index(done.stage) + 1]
        unlock = "unlocks" if done.missing == 1 else "unlock"
        out[0] += f"; {done.missing} more of {GOOD:.0f} points, no hint, {unlock} '{following}'"
    if done.bias is not None and done.scatter is not None:
        out.append(
            f"you call first crack {lateness(done.bias)} (last {done.calls} calls, scatter {done.scatter:.0f} s)"
        )
    return out


def lateness(seconds: float) -> str:
    """Lateness in words: '14 s late', '3 s early', 'on time'."""
    return "on time" if abs(seconds) < 1.5 else f"{abs(seconds):.0f} s {'late' if seconds > 0 else 'early'}"


# ── on disk ─────────────────────────────────────────────────────────────────────────────────────────────────────────


def history_folder() -> Path:
    """The folder of the histories."""
    return home() / "rehearsals"


def history_file(person: str, folder: Path | None = None) -> Path:
    """The history of a person; of nobody in particular for ''."""
    return (folder or history_folder()) / f"{file_stem(person, 'nobody')}.jsonl"


def add_record(path: Path, record: Record) -> None:
    """Append a record; it is on disk when this returns.  Raises OSError as the system gives it."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    line = json.dumps(record.model_dump(exclude_none=True), ensure_ascii=False, allow_nan=False) + "\n"
    before = path.read_bytes()[-1:] if path.exists() else b"\n"
    descriptor = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8", newline="\n") as file:
        file.write(line if before in (b"\n", b"") else "\n" + line)
        file.flush()
        sync_file(file.fileno())


def read_records(path: Path) -> list[Record]:
    """A person's records, oldest first; none if there is no history.  A torn last line is dropped.

    Raises FileError that names the line when another can't be read.
    """
    if not path.exists():
        return []
    out = []
    for n, line in enumerate(whole_lines(read_text(path))[0], start=1):
        if not line.strip():
            continue
        try:
            out.append(Record.model_validate_json(line))
        except ValidationError as error:
            raise FileError(str(path), f"{faults(error)[0]}.", "Remove that line.", line=n) from None
    return out
