"""The record of a roast on disk: the cues that its coach sounded and the forecasts that it issued.

``NAME.record.json`` beside ``NAME.jsonl`` is written by the coach that ran the roast.  Whatever program comes later,
these cues were heard and these forecasts issued, and by that program.  Outcomes are not in it: they are judged from
the journal each time, so that a mark corrected later, or the person's own word, counts.  The forecasts hold as long as
the journal holds the same readings, moves and marks.  A replay gives what is not recorded.
"""

from __future__ import annotations

from dataclasses import replace
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from coach.cues.episodes import Episode
from coach.cues.table import CUES
from coach.session.issued_forecasts import IssuedForecast
from coach.session.journal import Journal
from coach.session.profile_files import save_text
from coach.verification.aggregate import ScoredForecast
from coach.verification.hindcast import cases
from coach.verification.provenance import program

if TYPE_CHECKING:
    from coach.session.coach import Coach

MOST_BYTES: Final = 4 * 1024 * 1024
Text = Annotated[str, Field(max_length=200)]


class RoastRecord(BaseModel):
    """The whole file.  ``program``: a digest of the program that issued the forecasts; ``learnt``: the number of roasts
    that it had learnt from; ``basis``: the digest of the journal's content; ``episodes`` None: none was recorded."""

    model_config = ConfigDict(frozen=True, extra="ignore", allow_inf_nan=False)

    kind: Literal["record"] = "record"
    version: Literal[1] = 1
    program: Text = ""
    profile_version: int = 1
    learnt: Annotated[int, Field(ge=0)] = 0
    basis: Text = ""
    rows: Annotated[tuple[ScoredForecast, ...], Field(max_length=200)] = ()
    episodes: Annotated[tuple[Episode, ...], Field(max_length=5000)] | None = None

    @property
    def heard(self) -> tuple[Episode, ...] | None:
        """The episodes of cues that the table has: a file may be older than the table, or not ours."""
        return None if self.episodes is None else tuple(e for e in self.episodes if e.cue in CUES)


def record_path(journal: Path) -> Path:
    """Path of the record of a journal's roast."""
    return journal.with_suffix(".record.json")


def load_record(journal: Path) -> RoastRecord | None:
    """Read the record of a journal's roast; None where there is none or it can't be read: the journal has all that
    matters."""
    try:
        path = record_path(journal)
        if path.stat().st_size <= MOST_BYTES:
            found = RoastRecord.model_validate_json(path.read_bytes())
            return found if "kind" in found.model_fields_set else None
    except (OSError, ValueError):
        pass
    return None


def save_record(journal: Path, record: RoastRecord) -> None:
    """Write a record whole or not at all, over an older one.  Raises FileError in words."""
    save_text(record_path(journal), record.model_dump_json(exclude_none=True) + "\n", overwrite=True)


def keep(journal: Path, coach: Coach) -> None:
    """Record the cues that a coach sounded and the forecasts that it issued.  Where an earlier process ran a part of
    the roast, its recorded forecasts stay, if there are any.  Raises FileError in words."""
    rows = [r for r in issued(coach) if all(map(isfinite, (r.happened, *r.others.values())))]
    known = None if rows else load_record(journal)
    record = RoastRecord(
        program=program(), profile_version=coach.profile.document.version, learnt=coach.knowledge.count,
        basis=Journal(coach.header, coach.entries).digest, rows=tuple(rows),
    ) if known is None else known  # fmt: skip
    save_record(journal, record.model_copy(update={"episodes": tuple(finite(e) for e in coach.record.episodes)}))


def finite(e: Episode) -> Episode:
    """An episode without evidence that no file can hold (1e12 and more, infinite, not a number)."""
    return replace(e, evidence={k: v for k, v in e.evidence.items() if abs(v) < 1e12})


def issued(coach: Coach) -> list[ScoredForecast]:
    """Forecasts that a coach issued at each lead (s), beside what happened and the reference forecasts but for the mean
    of past roasts; empty where an earlier process issued a part of them."""
    charge_at = coach.roast.charge_at
    if charge_at is None or not coach.issued.whole:
        return []

    def stood(t: float, _: object) -> IssuedForecast:
        found = coach.issued.at(charge_at + t)
        return IssuedForecast() if found is None else found.later(-charge_at)

    return cases(coach.profile, coach.knowledge, coach.header, coach.entries, None, issue=stood)
