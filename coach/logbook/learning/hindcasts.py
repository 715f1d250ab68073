"""Forecasts of finished roasts as they were issued, else hindcasts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from coach.forecast.learning import HISTORY
from coach.logbook.learning.cache import ResultCache
from coach.logbook.learning.lessons import taught
from coach.logbook.learning.replays import Replays
from coach.session.journal import Journal
from coach.verification.aggregate import ScoredForecast
from coach.verification.provenance import program

if TYPE_CHECKING:
    from coach.roast.profile import Profile
    from coach.roast.roast import Roast

Progress = Callable[[int, int], None]
"""Receiver of the number of roasts done, and of all."""


@dataclass(frozen=True)
class PastForecasts:
    """Rows of each roast, oldest first, with the evidence of the roasts before it (``learnt``); and of the crack at
    ``PLAIN`` s before alone, without learning (``plain``): empty where an earlier program issued the rows.

    ``issued``: number of roasts with issued forecasts, ``older`` of them by an earlier program.
    """

    learnt: tuple[tuple[ScoredForecast, ...], ...]
    plain: tuple[tuple[ScoredForecast, ...], ...]
    issued: int = 0
    older: int = 0


def ended(cache: ResultCache, profile: Profile, roasts: Sequence[Journal]) -> None:
    """Compute the results that are needed next, once the last of these roasts has ended: the knowledge from them, and
    the hindcast of the last without learning."""
    taught(cache, profile, roasts[-HISTORY:])
    if roasts:
        Replays(cache, profile, roasts[-1:]).plain(0)


def past_forecasts(found: Replays, places: Sequence[int], progress: Progress | None = None) -> PastForecasts:
    """Issued forecasts, else hindcasts, of the roasts in these ``places`` (oldest first)."""
    learnt, plain = [], []
    records = [found.issued(i) for i in places]
    older = [record is not None and record.program != program() for record in records]
    for done, i in enumerate(places):
        learnt.append(found.rows(i))
        plain.append(() if older[done] else found.plain(i))
        if progress is not None:
            progress(done + 1, len(places))
    return PastForecasts(tuple(learnt), tuple(plain), sum(r is not None for r in records), sum(older))


def judgeable(roast: Roast) -> bool:
    """True if a roast has marks to verify its forecasts by."""
    return "first crack" in roast.marks or "drop" in roast.marks
