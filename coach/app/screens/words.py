"""Texts of the screen as plain lines: pure functions of a situation."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, Literal

from coach.cues.table import CUES
from coach.roast.units import clock, number

if TYPE_CHECKING:
    from coach.cues.situation import ActiveCue, Situation

SOON: Final = 30.0
"""Time before an event or planned move from which on to get ready for it, and to log the move as made, s."""
SIGNS = {"high": "▲▲", "medium": "▲", "low": "▸", "none": "·"}


def proposal(s: Situation) -> str:
    """The move that is advised, in short ('gas to 1.4'); '' where none is."""
    a = s.advice
    if a is None or a.kind != "move" or a.control is None or a.shown is None:
        return ""
    return f"{a.control} to {number(a.shown, 2)}"


def headline(c: ActiveCue, s: Situation) -> str:
    """The action of a cue, in short: the advised move and its deadline, where the cue asks for that."""
    move = proposal(s)
    if c.priority == "high" or not move or s.advice is None:
        return c.action
    deadline = s.advice.deadline
    by = "" if deadline is None or (s.t is not None and s.t > deadline) else f" by {clock(deadline)}"
    return f"{move}{by}" if c.action == s.advice.text else f"{c.action}: {move}"


def urgent(cues: Sequence[ActiveCue]) -> ActiveCue | None:
    """The cue that comes before everything planned: of high priority, an alarm of medium, or a forecast of trouble that
    was not answered yet."""
    return next((c for c in cues if c.state != "shelved" and _before_the_plan(c)), None)


def _before_the_plan(c: ActiveCue) -> bool:
    if c.priority == "high" or c.family != "alarm":
        return c.priority == "high"
    row = CUES.get(c.name)
    return c.priority == "medium" or (row is not None and row.predictive and c.state == "unacknowledged")


def freshness(s: Situation) -> Literal["fresh", "old", "none"]:
    """Freshness of the last reading: old after two expected intervals, none after three."""
    if s.estimate is None or s.estimate.age is None:
        return "none"
    expected = float(getattr(s.profile.document.cadence, s.roast.phase, s.profile.document.cadence.development))
    return "none" if s.estimate.age >= 3 * expected else "old" if s.estimate.age >= 2 * expected else "fresh"


def temperature(s: Situation) -> float | None:
    """The probe's present temperature, °C; None where unknown."""
    if s.t is None:
        return s.preheat.temperature if s.preheat else s.roast.preheat[-1].celsius if s.roast.preheat else None
    return None if s.estimate is None or freshness(s) == "none" else s.estimate.temperature


def tapped(s: Situation, confirm: str, deny: str) -> str:
    """Request to confirm or deny a crack called from taps; '' where there is none."""
    if s.tapped_onset is None or "first crack" in s.roast.marks or s.roast.phase == "cooling":
        return ""
    return f"First crack at {clock(s.tapped_onset)}?  {confirm} yes  {deny} no"
