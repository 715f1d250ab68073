"""Forecasts of finished roasts as they were issued, else hindcasts: the newest first, so that they are there when the
time is up.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from coach.forecast.learning import HISTORY
from coach.logbook.learning.cache import ResultCache
from coach.logbook.learning.lessons import taught
from coach.logbook.learning.replays import Replays
from coach.session.journal import Journal
from coach.verification.aggregate import ScoredForecast

if TYPE_CHECKING:
    from coach.roast.profile import Profile
    from coach.roast.roast import Roast

LEAST: Final = 5
"""Least number of roasts that are computed even when the time is up: fewer say nothing."""
Progress = Callable[[int, int], None]
"""Receiver of the number of roasts done, and of all."""


@dataclass(frozen=True)
class PastForecasts:
    """Rows of each roast, oldest first, with the evidence of the roasts before it (``learnt``); and of the crack at
    ``PLAIN`` s before alone, without learning (``plain``): empty where that was not computed, or where an earlier
    program issued the rows.

    ``issued``: number of roasts with issued forecasts, ``older`` of them by an earlier program; ``left``: number of
    roasts that are not computed yet.
    """

    learnt: tuple[tuple[ScoredForecast, ...], ...]
    plain: tuple[tuple[ScoredForecast, ...], ...]
    issued: int = 0
    older: int = 0
    left: int = 0


def ended(cache: ResultCache, profile: Profile, roasts: Sequence[Journal]) -> None:
    """Compute the results that are needed next, once the last of these roasts has ended: the knowledge from them, and
    the hindcast of the last without learning."""
    taught(cache, profile, roasts[-HISTORY:])
    if roasts:
        Replays(cache, profile, roasts[-1:]).plain(0)


def past_forecasts(
    found: Replays,
    places: Sequence[int],
    progress: Progress | None = None,
    *,
    stop: Callable[[], bool] | None = None,
) -> PastForecasts:
    """Issued forecasts, else hindcasts, of the roasts in these ``places`` (oldest first).

    When ``stop`` returns True and there are ``LEAST``, no more are computed, and those left are counted.
    """
    wanted = places[::-1]
    learnt = {i: rows for i in wanted if (rows := found.at_hand(i)) is not None}
    missing = len(learnt) < len(wanted)
    plain: dict[int, tuple[ScoredForecast, ...]] = {}
    for done, i in enumerate(wanted):
        over = stop is not None and len(learnt) >= LEAST and stop()
        if i not in learnt and not over:
            learnt[i] = found.rows(i)
        if i in learnt and i not in found.older:
            rows = found.plain(i, compute=not over)
            if rows is not None:
                plain[i] = rows
        if progress is not None and missing and not over:
            progress(done + 1, len(wanted))
    order = sorted(learnt)
    return PastForecasts(
        tuple(learnt[i] for i in order),
        tuple(plain.get(i, ()) for i in order),
        len(found.issued & learnt.keys()),
        len(found.older & learnt.keys()),
        len(wanted) - len(order),
    )


def judgeable(roast: Roast) -> bool:
    """True if a roast has marks to verify its forecasts by."""
    return "first crack" in roast.marks or "drop" in roast.marks
