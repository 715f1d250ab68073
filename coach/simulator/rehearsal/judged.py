"""A judged rehearsal: its drill revealed, its score, its cues and answers.  Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

from coach.roast.profile import Profile
from coach.roast.roast import Numbered, Roast
from coach.roast.units import clock
from coach.simulator.rehearsal.model import PLAN, Drill
from coach.simulator.rehearsal.score import Answered, Score, lines_of
from coach.simulator.rehearsal.truth import Truth

WIDTH = 79
"""Width of the printed text, columns."""


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
    cues: tuple[Answered, ...] = ()
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
            wide = max((len(c.cue) for c in self.cues), default=0)
            out += [f"  cue {clock(self.roast.time(c.at)):>5}  {c.cue:<{wide}}  {c.text}" for c in self.cues]
        if self.drill is not None:
            told = [f"DRILL {self.drill.title} ({self.drill_name}): {self.drill.reveal}", *self.revealed()[1:]]
            out += ["", *(line for text in told for line in wrap(text, WIDTH))]
        return [*out, *(["", *self.remarks] if self.remarks else [])]
