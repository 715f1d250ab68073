"""The advice of one moment: one move and what it would do, or the reason for none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from coach.roast.profile import Step

AdviceKind = Literal["move", "quiet", "recovering", "too late", "no room", "wait", "unsure", "withheld"]


@dataclass(frozen=True)
class Advice:
    """One move, or the reason for none.

    ``control`` None means leave it: ``text`` then gives the reason.  Core units (gas kPa); times are roast time, s.
    """

    text: str
    control: Literal["gas"] | None = None
    value: float | None = None
    shown: float | None = None
    deadline: float | None = None
    bites: float | None = None
    """Roast time at which it takes effect on the probe, s."""
    crack_before: tuple[float, float, float] | None = None
    crack_after: tuple[float, float, float] | None = None
    kind: AdviceKind = "quiet"
    instead: Step | None = None
    """The planned move that it replaces."""
