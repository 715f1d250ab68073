"""Whether advice may still be given: how often crack came inside what was stated, tested exactly.  Pure.

Stated intervals are to hold four in five.  One move of each roast counts, the last that can be judged: two moves of
one roast share their crack.  Over the newest ``WINDOW`` of these, where so few came inside that this would happen to
intervals that hold four in five only once in a hundred times (the lower tail of the binomial distribution), moves are
advised no more; they are again as soon as that many could come about once in twenty times.  While they are withheld
they are still worked out, and held to what the person did.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from scipy.special import bdtr

from coach.verification.advice_outcomes import Told

PROMISED: Final = 0.8
"""The share of stated intervals that is to hold."""
WINDOW: Final = 20
"""So many of the newest count."""
FEWEST: Final = 10
"""Fewer say nothing."""
WITHDRAWN: Final = 0.01
GIVEN_AGAIN: Final = 0.05
"""Probabilities of so few or fewer inside: below the first advice is withdrawn, from the second on given again."""


@dataclass(frozen=True)
class Trust:
    """How many of the counted moves came inside what was said, and whether advice is withheld for it."""

    inside: int
    of: int
    withheld: bool

    @property
    def text(self) -> str:
        """In words; '' while advice is given."""
        if not self.withheld:
            return ""
        return f"advice withheld: {self.inside} of your last {self.of} moves landed inside what was said"


def counted(roasts: Sequence[Sequence[Told]]) -> list[bool]:
    """Of each roast, oldest first, whether the last judged move before crack came inside; roasts without one count
    nothing."""
    out = []
    for told in roasts:
        judged = [t.inside for t in told if t.given.about == "crack" and t.inside is not None]
        if judged:
            out.append(judged[-1])
    return out


def chance(inside: int, of: int) -> float:
    """The probability that so few or fewer of intervals that hold four in five come inside (exact)."""
    return float(bdtr(inside, of, PROMISED))


def trust(inside: Sequence[bool]) -> Trust:
    """Where advice stands after these, oldest first: it is withdrawn and given again on the way as the rule says."""
    withheld, count, of = False, 0, 0
    for i in range(len(inside)):
        last = inside[max(i + 1 - WINDOW, 0) : i + 1]
        count, of = sum(last), len(last)
        if of < FEWEST:
            continue
        p = chance(count, of)
        withheld = p < WITHDRAWN or (withheld and p < GIVEN_AGAIN)
    return Trust(count, of, withheld)
