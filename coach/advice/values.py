"""The advice of one moment: one move and what it would do, or the reason for none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from coach.roast.profile import Step

AdviceKind = Literal["move", "quiet", "leave", "recovering", "too late", "no room", "wait", "unsure", "withheld"]
"""``leave`` and ``too late`` claim that no move would do clearly better; ``quiet`` claims nothing."""


@dataclass(frozen=True)
class Advice:
    """One move, or the reason for none.

    ``control`` None means leave it: ``text`` then says why.  Values in core units (gas kPa); times roast time s.
    """

    text: str
    control: Literal["gas", "air"] | None = None
    value: float | None = None
    shown: float | None = None
    deadline: float | None = None
    bites: float | None = None
    crack_before: tuple[float, float, float] | None = None
    crack_after: tuple[float, float, float] | None = None
    sure: float | None = None
    kind: AdviceKind = "quiet"
    instead: Step | None = None
    """The planned move that it takes the place of."""
    left: float | None = None
    """How likely no single step would bring the crack nearer to the plan by more than 5 s, where that was looked at."""
