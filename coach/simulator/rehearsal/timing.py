"""Timing of the turns of the dial in a rehearsal.  Pure."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final

from coach.roast.roast import Roast

NEAR: Final = 6.0
"""Distance from the dial's turn to a number beyond which a press was for a wrong number, s."""
BEFORE: Final = 0.2
"""Most by which a press may come before its turn, s: the dial is looked at so often."""
GOOD: Final = 0.5
"""Largest lateness of a good press, s: half a second is a tenth of a degree or less."""

Turns = Sequence[tuple[float, float]]
"""Times at which the dial turned, s since the journal's start, and to which number."""


@dataclass(frozen=True)
class Timing:
    """Lateness of each press after the dial had turned to its number, s, and the count of presses for a number to
    which it did not turn near then."""

    late: tuple[float, ...]
    wrong: int

    @property
    def words(self) -> str:
        """Text: the same in a sentence."""
        count = len(self.late) + self.wrong
        if not self.late:
            return f"Turns: {count} pressed, none near the dial's turn to that number."
        good = sum(x <= GOOD for x in self.late)
        wrong = f"; {self.wrong} not near a turn to that number" if self.wrong else ""
        return f"Turns: {good} of {count} within half a second, {median(self.late):.1f} s late in the median{wrong}."


def timing(roast: Roast, dial: Turns, own: Collection[int], speed: float = 1.0) -> Timing | None:
    """Timing of the turns pressed by the person, whose journal lines are their ``own``; None where there are none.  At
    a ``speed`` of so many times real time a second is the person's, not the roast's."""
    base = roast.charge_at or 0.0
    pressed = [(r.t + base, r.shown) for r in roast.readings if r.turned and r.line in own]
    if not pressed:
        return None
    late: list[float] = []
    for at, shown in pressed:
        near = [(at - t) / speed for t, n in dial if abs(n - shown) < 1e-6 and -BEFORE <= (at - t) / speed <= NEAR]
        if near:
            late.append(max(min(near), 0.0))
    return Timing(tuple(late), len(pressed) - len(late))
