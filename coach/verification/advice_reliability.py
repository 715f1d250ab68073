"""Reliability of advice: an exact test of how often crack came inside the stated intervals; where they do not hold they
are widened, and where that does not help, advice is withheld.  Pure.

Stated intervals should hold four times in five.  One move of each roast counts, the last that can be judged: two moves
of one roast share their crack.  Intervals are no longer stated where, over the newest ``WINDOW`` of these, so few came
inside that intervals which hold four times in five would do so less than once in a hundred times (the lower tail of the
binomial distribution).  They are stated again as soon as that probability is one in twenty.  This is asked of intervals
as they are, then half as wide again, then twice as wide: the first that passes is stated, and where none does, moves
are not advised.  While they are withheld they are still computed, and judged by what the person did.  The record is
always held to intervals as they are, so that a widened one is no proof of itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from scipy.special import bdtr

from coach.verification.advice_outcomes import AdviceOutcome

PROMISED: Final = 0.8
"""Share of stated intervals that should hold."""
WINDOW: Final = 20
"""Number of newest moves that count."""
FEWEST: Final = 10
"""Least number of moves from which anything is concluded."""
WIDER: Final = (1.0, 1.5, 2.0)
"""Factors by which ranges are widened, tried in this order, before advice is withdrawn."""
WITHDRAWN: Final = 0.01
GIVEN_AGAIN: Final = 0.05
"""Probabilities of so few or fewer inside: advice is withdrawn below the first and given again from the second on."""


@dataclass(frozen=True)
class Trust:
    """Count of judged moves that came inside the stated interval, and the decision to withhold advice."""

    inside: int
    of: int
    withheld: bool
    wider: float = 1.0
    """Factor by which ranges are stated wider."""

    @property
    def text(self) -> str:
        """The decision in words; '' while advice is given."""
        if not self.withheld:
            return ""
        return f"advice withheld: {self.inside} of your last {self.of} moves fell in the range given"


def counted(roasts: Sequence[Sequence[AdviceOutcome]]) -> list[float]:
    """Reach (``AdviceOutcome.reach``) of the last judged move before crack of each roast, oldest first; roasts without
    such a move are left out."""
    out = []
    for told in roasts:
        judged = [t.reach for t in told if t.given.about == "crack" and t.reach is not None]
        if judged:
            out.append(judged[-1])
    return out


def chance(inside: int, of: int) -> float:
    """Probability (exact) that ``inside`` or fewer of ``of`` intervals hold, where each holds four times in five."""
    return float(bdtr(inside, of, PROMISED))


def trust(reaches: Sequence[float]) -> Trust:
    """State of advice after outcomes with these reaches, oldest first: widened, withdrawn and given again by the rule
    of this module."""
    newest = reaches[-WINDOW:]
    inside = sum(r <= 1.0 for r in newest)
    for wider in WIDER:
        withheld = _withdrawn([r <= wider for r in reaches])
        if not withheld:
            break
    return Trust(inside, len(newest), withheld, wider)


def _withdrawn(inside: Sequence[bool]) -> bool:
    """True if so few intervals held, oldest first, that they are not to be stated."""
    withheld = False
    for i in range(len(inside)):
        last = inside[max(i + 1 - WINDOW, 0) : i + 1]
        if len(last) < FEWEST:
            continue
        p = chance(sum(last), len(last))
        withheld = p < WITHDRAWN or (withheld and p < GIVEN_AGAIN)
    return withheld
