"""Results typed after drop: ``in 0.8``, ``out 690g``, ``colour 58 our meter``, ``score 85``, ``cup sweet, nutty``."""

from __future__ import annotations

from typing import Final

from coach.roast.entries import Result
from coach.roast.errors import CoachError, EntryError

EXAMPLES: Final = {
    "in": "For example: in 0.8 (kg), or in 800g", "out": "For example: out 0.69 (kg), or out 690g",
    "colour": "For example: colour 58, or colour 58 our meter", "score": "For example: score 85",
    "moisture": "For example: moisture 11.2", "accepted": "For example: accepted no",
    "learn": "For example: learn no",
}  # fmt: skip
FIELDS: Final = {
    "in": "weight_in",
    "out": "weight_out",
    "colour": "colour",
    "score": "cup_score",
    "moisture": "moisture",
    "accepted": "accepted",
    "learn": "learn",
}


def result_of(line: str, now: float, old: Result | None = None, batch_kg: float | None = None) -> Result | None:
    """A typed result as an entry at ``now`` (s); None when the line is none.  By the rules of ``coach result``: weights
    must fit each other, those that are known (``old``) and the batch's (kg).  Raises EntryError for a bad value."""
    word, _, rest = line.strip().partition(" ")
    word, rest = word.lower(), rest.strip()
    if word == "cup" and rest:
        return Result(at=now, cup_notes=rest[:4000])
    if word not in FIELDS:
        return None
    from coach.logbook.index.results import check_weights, value_of

    field, scale = FIELDS[word], ""
    if field == "colour":
        rest, _, scale = rest.partition(" ")
    try:
        given = {field: value_of(word, field, rest)}
        check_weights(old, batch_kg, given)
    except CoachError as error:
        raise EntryError(error.message.replace(f"{word}=", f"{word} ", 1), EXAMPLES[word]) from None
    if scale.strip():
        given["colour_scale"] = scale.strip()[:100]
    return Result.model_validate({"at": now, **given})
