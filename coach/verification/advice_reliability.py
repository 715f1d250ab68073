"""Reliability of advice: an exact test of how often crack came inside the stated intervals; it may withhold advice.
Pure.

Stated intervals should hold four times in five.  One move of each roast counts, the last that can be judged: two moves
of one roast share their crack.  Moves are no longer advised where, over the newest ``WINDOW`` of these, so few came
inside that intervals which hold four times in five would do so less than once in a hundred times (the lower tail of the
binomial distribution).  They are advised again as soon as that probability is one in twenty.  While they are withheld
they are still computed, and judged by what the person did.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from scipy.special import bdtr

from coach.verification.advice_outcomes import Told

PROMISED: Final = 0.8
"""Share of stated intervals that should hold."""
WINDOW: Final = 20
"""Number of newest moves that count."""
FEWEST: Final = 10
"""Least number of moves from which anything is concluded."""
WITHDRAWN: Final = 0.01
GIVEN_AGAIN: Final = 0.05
"""Probabilities of so few or fewer inside: advice is withdrawn below the first and given again from the second on."""


@dataclass(frozen=True)
class Trust:
    """Count of judged moves that came inside the stated interval, and the decision to withhold advice."""

    inside: int
    of: int
    withheld: bool

    @property
    def text(self) -> str:
        """The decision in words; '' while advice is given."""
        if not self.withheld:
            return ""
        return f"advice withheld: {self.inside} of your last {self.of} moves landed inside what was said"


def counted(roasts: Sequence[Sequence[Told]]) -> list[bool]:
    """True for each roast, oldest first, whose last judged move before crack came inside, False where it came outside;
    roasts without such a move are left out."""
    out = []
    for told in roasts:
        judged = [t.inside for t in told if t.given.about == "crack" and t.inside is not None]
        if judged:
            out.append(judged[-1])
    return out


def chance(inside: int, of: int) -> float:
    """Probability (exact) that ``inside`` or fewer of ``of`` intervals hold, where each holds four times in five."""
    return float(bdtr(inside, of, PROMISED))


def trust(inside: Sequence[bool]) -> Trust:
    """State of advice after these outcomes, oldest first: withdrawn and given again by the rule of this module."""
    withheld, count, of = False, 0, 0
    for i in range(len(inside)):
        last = inside[max(i + 1 - WINDOW, 0) : i + 1]
        count, of = sum(last), len(last)
        if of < FEWEST:
            continue
        p = chance(count, of)
        withheld = p < WITHDRAWN or (withheld and p < GIVEN_AGAIN)
    return Trust(count, of, withheld)
