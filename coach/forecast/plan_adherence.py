"""Plan adherence: how unevenly a person makes planned moves, and how many are left out.  Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from coach.forecast.control_inputs import due_of, same_setting
from coach.roast.profile import Profile
from coach.roast.roast import Roast

FARTHEST: Final = 60.0
"""A move made further from its time than this was not the planned one, s."""
WORTH_MADE: Final = 8.0
WORTH_LEFT: Final = 15.0
"""Weight of the priors, moves."""


@dataclass(frozen=True)
class Hand:
    """Plan adherence: ``uneven``, standard deviation of planned moves from their time, s, and the share ``left_out``.

    The priors are those of the simulated persons; common practice, no source.
    """

    uneven: float = 11.0
    left_out: float = 0.06


Kept = tuple[float | None, ...]
"""Lateness of each planned move of a roast, s; None for one that was not made."""


def kept(profile: Profile, roast: Roast) -> Kept:
    """Lateness of the planned moves of a finished roast, of those that fell between its charge and its drop."""
    end = roast.marks.get("drop", roast.readings[-1].t if roast.readings else 0.0)
    out: list[float | None] = []
    for step in profile.steps:
        due = due_of(step, roast)
        if not 30.0 <= due <= end - 15.0:
            continue
        late = [m.t - due for m in roast.moves if same_setting(step, m) and abs(m.t - due) <= FARTHEST]
        out.append(min(late, key=abs) if late else None)
    return tuple(out)


def learnt(roasts: Sequence[Kept]) -> Hand:
    """Plan adherence in these roasts: a scaled-inverse-chi-square and a beta posterior mean (Gelman et al., Bayesian
    Data Analysis, 3rd ed. 2013, sections 2.4 and 2.6)."""
    prior = Hand()
    late = [x for moves in roasts for x in moves if x is not None]
    count = sum(len(moves) for moves in roasts)
    variance = (WORTH_MADE * prior.uneven**2 + sum(x * x for x in late)) / (WORTH_MADE + len(late))
    share = (WORTH_LEFT * prior.left_out + count - len(late)) / (WORTH_LEFT + count)
    return Hand(variance**0.5, share)
