"""The line to follow, drawn in characters for the brief: events, planned moves, today's readings.  Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coach.logbook.review.review_plots import LETTERS, PAD, on_plan, placed
from coach.roast.units import number

if TYPE_CHECKING:
    from coach.logbook.brief.handover import HandoverState
    from coach.roast.profile import Profile


def drawn(profile: Profile, state: HandoverState | None, width: int, plain: bool = False) -> list[str]:
    """The curve, events as letters below, moves as planned; in mid-roast today's readings (o) on it."""
    cells = max(width - PAD - 2, 20)
    readings = [(r.t, r.celsius) for r in state.readings] if state is not None else []
    end = max([profile.curve.end, *(t for t, _ in readings)])
    letters = [(goal.time, LETTERS[event].lower()) for event, goal in profile.goals.items() if event in LETTERS]
    out = on_plan(profile, profile.unit, readings, letters, cells, end, plain)
    for control in ("gas", "air", "drum"):
        moves = [(max(s.time, 0.0), number(s.shown, 3)) for s in profile.steps if s.control == control]
        out += placed(control, moves, cells, end) if moves else []
    return out
