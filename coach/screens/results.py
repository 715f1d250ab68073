"""What is typed after drop: ``in 0.8``, ``out 0.69``, ``colour 58``, ``score 85``, ``cup sweet, nutty``."""

from __future__ import annotations

from typing import Final

from coach.entries import Result
from coach.errors import EntryError

FIELDS: Final = {"in": "weight_in", "out": "weight_out", "colour": "colour", "score": "cup_score"}


def result_of(line: str, now: float) -> Result | None:
    """A typed result as an entry at ``now`` (s); None when the line is none.  Raises EntryError for a bad value."""
    word, _, rest = line.strip().partition(" ")
    rest = rest.strip()
    if word == "cup" and rest:
        return Result(at=now, cup_notes=rest[:4000])
    if word not in FIELDS:
        return None
    try:
        if not rest.isascii() or len(rest) > 12:
            raise ValueError
        return Result.model_validate({"at": now, FIELDS[word]: float(rest.replace(",", "."))})
    except ValueError:
        raise EntryError(f"'{rest[:20]}' is no value for {word}.", f"For example: {word} 0.69") from None
