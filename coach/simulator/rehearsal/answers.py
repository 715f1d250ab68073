"""Answers to the cues that sounded in a rehearsal, against what would truly have happened.

A cue that asks for a move is *obeyed* when such a move was made in the time available, *ignored* when it was not.  It
is *wrongly obeyed* when the simulator knows that nothing was wrong: the true probe was well inside the band (too hot,
too cool), or first crack would have come in its window had the move not been made (crack early, crack late).  A false
cue that was left alone does not count.  A prompt is obeyed when what it asks for ended it in time, and *late* when
that was done afterwards: the cue was right, the person was slow.  Prompts that end by themselves are left out.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from coach.cues.episodes import Episode
from coach.cues.evidence import corrected, gas_off
from coach.cues.situation import Situation
from coach.cues.table import CUES
from coach.forecast.forecast_values import Forecast
from coach.roast.profile import Profile
from coach.simulator.rehearsal.inject import Truth
from coach.simulator.rehearsal.score import Answered
from coach.verification.replay import Walk

Onset = Callable[[float, float], float | None]
"""``without(a, b)``: true onset of first crack had no gas move been made from a to b; all s since the start."""
PATIENCE: Final = 15.0
"""Time by which the answer to a cue may exceed the time available [s]."""
BY_THEMSELVES: Final = frozenset({"charge near", "yellow near", "crack near", "drop near"})
WELL_INSIDE: Final = 0.6
"""Share of the band or the window below which nothing was wrong."""


def answers(walked: Walk, truth: Truth, profile: Profile, without: Onset) -> list[Answered]:
    """Every cue that sounded and called for a response, in the order of its first sound."""
    heard = [e for e in walked.episodes if e.sounds and e.cue not in BY_THEMSELVES]
    out = []
    for episode in sorted(heard, key=_begun):
        how = _how(episode, walked, truth, profile, without)
        if how:
            out.append(Answered(episode.cue, episode.begun, how, episode.until - episode.begun))
    return out


def _begun(episode: Episode) -> float:
    return episode.begun


def _how(e: Episode, walked: Walk, truth: Truth, profile: Profile, without: Onset) -> str:
    row, roast = CUES[e.cue], walked.roast
    allowed = row.time_available + PATIENCE
    if row.answer == "none":
        if e.until - e.begun <= allowed:
            return "obeyed"
        return "late" if _done_late(e, walked) else "ignored"
    base = roast.charge_at or 0.0
    end = e.begun - base + allowed
    then = Situation(base + end, end, profile, roast, None, Forecast())
    start = e.begun - base
    made = gas_off(then, start) if row.answer == "gas off" else corrected(then, row.answer, start)
    false = _false(e, truth, profile, without, base + end)
    if made is None:
        return "" if false else "ignored"
    return "wrongly obeyed" if false else "obeyed"


def _done_late(e: Episode, walked: Walk) -> bool:
    """True if what a prompt asks for was done in the end, though late."""
    base, roast = walked.roast.charge_at or 0.0, walked.roast
    done: dict[str, list[float]] = {
        "drop now": [t for event, t in roast.marks.items() if event == "drop"],
        "tapped crack": [t for event, t in roast.marks.items() if event == "first crack"],
        "move due": [m.t for m in roast.moves],
        "reading due": [r.came for r in roast.readings],
    }
    return any(t + base >= e.begun for t in done.get(e.cue, []))


def _false(e: Episode, truth: Truth, profile: Profile, without: Onset, end: float) -> bool:
    """True if nothing was wrong, as far as the simulator knows."""
    if truth.charge is None:
        return False
    sign = 1.0 if e.cue in ("too hot", "crack late") else -1.0
    if e.cue in ("too hot", "too cool"):
        t = e.begun - truth.charge
        off = sign * (truth.probe_at(e.begun) - profile.curve.value(t))
        return off < WELL_INSIDE * profile.band(t, profile.planned_phase(t))
    goal = profile.goals.get("first crack")
    if e.cue in ("crack early", "crack late") and goal is not None:
        onset = without(e.begun, end)
        return onset is not None and sign * (onset - truth.charge - goal.time) < WELL_INSIDE * goal.time_tolerance
    return False
