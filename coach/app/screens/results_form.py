"""Results typed after drop: ``in 0.8``, ``out 690g``, ``colour 58 our meter``, ``score 85``, ``cup sweet, nutty``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from coach.roast.errors import CoachError, EntryError

if TYPE_CHECKING:
    from coach.roast.entries import Result

RESULTS: Final = {
    "in": ("in 0.8, in 800g", "weight in (a bare number is kg)"), "out": ("out 0.69, out 690g", "weight out"),
    "moisture": ("moisture 11.2", "moisture of the green beans, %"),
    "colour": ("colour 58 our meter", "colour as measured, and the scale where there are several"),
    "score": ("score 85", "cup score"), "cup": ("cup sweet, nutty", "tasting words"),
    "accepted": ("accepted no", "not as it should be"), "learn": ("learn no", "left out of what the coach learns"),
}  # fmt: skip
"""Words that begin a result: an example of each, and its meaning."""


def result_of(line: str, now: float, old: Result | None = None, batch_kg: float | None = None) -> Result | None:
    """A typed result as an entry at ``now`` (s); None when the line is none.  By the rules of ``coach result``: weights
    must fit each other, those that are known (``old``) and the batch's (kg).  Raises EntryError for a bad value."""
    word = line.strip().partition(" ")[0].lower()
    if word not in RESULTS:
        return None
    from coach.logbook.index.results import check_weights, parse_results
    from coach.roast.entries import Result

    try:
        given, _ = parse_results([line])
        check_weights(old, batch_kg, given)
    except CoachError as error:
        message = " ".join(error.message.replace(f"{word}=", f"{word} ", 1).split())
        raise EntryError(message, f"For example: {RESULTS[word][0]}") from None
    return Result.model_validate({"at": now, **given})
