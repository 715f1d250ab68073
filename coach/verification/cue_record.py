"""The cues of a roast on disk: what was really heard, kept as it was.

``NAME.cues.json`` beside ``NAME.jsonl`` is written by the coach that ran the roast.  It holds episodes, not outcomes:
these are judged from the journal each time, so that a mark corrected later, or the person's own word, counts.  Where it
is missing, the journal gone through once more gives it back, as far as the coach still knows what it knew then; that is
kept in this machine's cache, in the same form.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from coach.cues.episodes import Episode
from coach.cues.situation import Family, Priority
from coach.cues.table import CUES
from coach.roast.errors import FileError
from coach.session.profile_files import save_text

MOST_BYTES: Final = 4 * 1024 * 1024
Number = Annotated[float, Field(allow_inf_nan=False)]
Text = Annotated[str, Field(max_length=2000)]


class Kept(BaseModel):
    """One episode as it stands in the file; see ``coach.verification.replay.Episode``."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    cue: Text
    family: Family
    priority: Priority
    text: Text
    since: Number
    until: Number
    sounds: Annotated[tuple[Number, ...], Field(max_length=1000)] = ()
    demoted: bool = False
    answered: Number | None = None
    evidence: dict[Text, Number | None] = {}

    @classmethod
    def of(cls, e: Episode) -> Kept:
        """From an episode; what is not finite is left out."""
        evidence = {k: round(v, 4) for k, v in e.evidence.items() if abs(v) < 1e12}
        return cls(
            cue=e.cue, family=e.family, priority=e.priority, text=e.text[:2000], since=round(e.since, 3),
            until=round(e.until, 3), sounds=tuple(round(t, 3) for t in e.sounds), demoted=e.demoted,
            answered=None if e.answered is None else round(e.answered, 3), evidence=dict(evidence),
        )  # fmt: skip

    def episode(self) -> Episode:
        """As an episode."""
        evidence = {k: v for k, v in self.evidence.items() if v is not None}
        return Episode(
            self.cue, self.family, self.priority, self.text, self.since, self.until, self.sounds, self.demoted,
            self.answered, evidence,
        )  # fmt: skip


class CueFile(BaseModel):
    """The whole file.  ``source``: whether it was noted while the roast went on, or worked out from the journal later;
    ``basis``: for the latter, what it was worked out from: a change there makes it stale."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    kind: Literal["cues"] = "cues"
    version: Literal[1] = 1
    source: Literal["live", "journal"]
    basis: Text = ""
    episodes: Annotated[tuple[Kept, ...], Field(max_length=5000)] = ()


def cue_path(journal: Path) -> Path:
    """Where the cues heard in a journal's roast lie."""
    return journal.with_suffix(".cues.json")


def save_cues(
    journal: Path, episodes: tuple[Episode, ...], source: Literal["live", "journal"] = "live", basis: str = ""
) -> None:
    """Keep the cues heard in a journal's roast beside it.  Raises FileError in words."""
    write_cues(cue_path(journal), episodes, source, basis)


def load_cues(journal: Path) -> CueFile | None:
    """The cues heard in a journal's roast; None where none were kept.  Raises FileError when they can't be read."""
    return read_cues(cue_path(journal))


def write_cues(path: Path, episodes: tuple[Episode, ...], source: Literal["live", "journal"], basis: str = "") -> None:
    """Write a file whole or not at all, over an older one.  Raises FileError in words."""
    file = CueFile(source=source, basis=basis, episodes=tuple(Kept.of(e) for e in episodes))
    text = json.dumps(file.model_dump(exclude_defaults=True) | {"kind": "cues", "version": 1}, ensure_ascii=False)
    save_text(path, text + "\n", overwrite=True)


def read_cues(path: Path) -> CueFile | None:
    """A file; None where there is none.  Raises FileError when it can't be read or is no such file."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise FileError(str(path), "larger than 4 MB.", "Delete it: the journal has all that matters.")
        return CueFile.model_validate_json(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError, ValidationError):
        raise FileError(str(path), "is no record of cues.", "Delete it: the journal has all that matters.") from None


def known_cues(file: CueFile) -> tuple[Episode, ...]:
    """The episodes of cues that the table has: a file may be older than the table, or not ours."""
    return tuple(k.episode() for k in file.episodes if k.cue in CUES)
