"""A judged rehearsal: its drill revealed, its score, its cues and answers, the timing of the turns pressed.  Pure."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from statistics import median
from textwrap import wrap
from typing import Final

from coach.roast.profile import Profile
from coach.roast.roast import Numbered, Roast
from coach.roast.units import clock
from coach.simulator.rehearsal.inject import Truth
from coach.simulator.rehearsal.model import PLAN, Drill
from coach.simulator.rehearsal.score import Score, lines_of
from coach.verification.cue_outcomes import OutcomeLine

WIDTH = 79
"""Width of the printed text, columns."""
NEAR: Final = 6.0
"""Distance from the dial's turn to a number beyond which a press was for a wrong number, s."""
BEFORE: Final = 0.2
"""Most by which a press may come before its turn, s: the dial is looked at so often."""
GOOD: Final = 0.5
"""Largest lateness of a good press, s: half a second is a tenth of a degree or less."""

Turns = Sequence[tuple[float, float]]
"""Times at which the dial turned, s since the journal's start, and to which number."""


@dataclass(frozen=True)
class Judged:
    """``result`` is None where the roast was not carried through; ``remarks`` are more sentences on it."""

    profile: Profile
    roast: Roast
    entries: Sequence[Numbered]
    truth: Truth
    drill_name: str = ""
    drill: Drill | None = None
    result: Score | None = None
    cues: tuple[OutcomeLine, ...] = ()
    remarks: tuple[str, ...] = ()

    def heading(self) -> str:
        """The points, of a drill or none, in a few words."""
        points = "not carried through: no score" if self.result is None else f"{self.result.points:.0f} of 100 points"
        return f"{points}   {self.profile.name}{'' if self.drill is None else f', drill {self.drill.title}'}"

    def revealed(self) -> list[str]:
        """Sentences on what the drill was, and what to do then."""
        return [] if self.drill is None else [self.drill.reveal, *([PLAN] if self.drill.kind == "safety" else [])]

    def lines(self) -> list[str]:
        """The outcome as it is printed after a rehearsal: the points first."""
        if self.result is None:
            out = ["Not carried through: no score."]
        else:
            out = ["", *lines_of(self.result, self.truth, self.drill)]
            out += [f"  cue {clock(c.when):>5}  {c.cue}: {c.verdict}" for c in self.cues]
        if self.drill is not None:
            told = [f"DRILL {self.drill.title} ({self.drill_name}): {self.drill.reveal}", *self.revealed()[1:]]
            out += ["", *(line for text in told for line in wrap(text, WIDTH))]
        return [*out, *(["", *self.remarks] if self.remarks else [])]


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
