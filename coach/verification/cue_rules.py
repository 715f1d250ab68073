"""The rules by which each cue of a finished roast is judged; ``cue_outcomes`` defines the outcomes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from coach.cues.episodes import Episode
from coach.cues.evidence import Direction, clock_due, corrected, gas_off
from coach.cues.situation import Situation
from coach.cues.table import RULES
from coach.forecast.forecast_values import Forecast
from coach.forecast.projection import rise_limits
from coach.roast.entries import Outcome
from coach.roast.profile import Profile
from coach.roast.roast import Roast
from coach.roast.units import apart, clock, from_kelvins

DONE_WITHIN: Final = 60.0
"""Time within which the requested action makes a prompt useful, s."""
AT_ONCE: Final = 1.5
"""Time within which nobody hears, decides and acts: the action had already begun, s."""
DROPPED_LATE: Final = 30.0
"""Time from the cue to the drop beyond which the drop was late, s."""
STILL: Final = 20.0
"""Least time between two readings that gives a rate of rise, s."""


@dataclass(frozen=True)
class Judgement:
    """An outcome, the reason for it (``why``), and the time from the cue's first sound to the event (``lead``, s)."""

    outcome: Outcome
    why: str
    lead: float | None = None
    done: float | None = None
    """Roast time of the requested action, s; None where it was not done."""


@dataclass(frozen=True)
class CueCase:
    """One episode in its finished roast; ``t`` is the roast time of its beginning, s."""

    episode: Episode
    roast: Roast
    profile: Profile

    @property
    def base(self) -> float:
        """Time of the charge, or of the journal's start where there is none (``at`` axis, s)."""
        return self.roast.charge_at or 0.0

    @property
    def t(self) -> float:
        return self.episode.begun - self.base

    @property
    def drop(self) -> float | None:
        return self.roast.marks.get("drop")

    def at(self, t: float) -> Situation:
        """The finished roast at a roast time, s."""
        return Situation(self.base + t, t, self.profile, self.roast, None, Forecast())

    def moved_before(self, direction: Direction) -> float | None:
        """Time of a corrective move that was under way when the cue came, s; None where there is none."""
        return corrected(self.at(self.t - AT_ONCE), direction, self.t - RULES.response)

    def moved_after(self, direction: Direction, end: float) -> float | None:
        """Time of the last corrective move from the cue to ``end``, s; None where there is none."""
        return corrected(self.at(end), direction, self.t - AT_ONCE)


def reply_to(case: CueCase) -> tuple[str, float | None]:
    """The person's answer while the cue was active, and its roast time (s)."""
    for came, reply in case.roast.replies:
        if reply.cue == case.episode.cue and reply.answer in ("seen", "shelved", "not yet"):
            until = case.episode.until - case.base + 2.0
            if case.t - 0.5 <= came <= until:
                return reply.answer, came
    if case.episode.answered is not None:
        return "acted", case.episode.answered - case.base
    return "", None


# -- what was forecast ---------------------------------------------------------------------------------------------


def _already(direction: Direction, made: float, rest: str = "", lead: float | None = None) -> Judgement:
    return Judgement("already acting", f"{direction} at {clock(made)} already{rest}", lead, made)


def _crack(case: CueCase, direction: Direction) -> Judgement:
    goal, fc = case.profile.goals.get("first crack"), case.roast.marks.get("first crack")
    if goal is None or fc is None:
        return Judgement("unknown", "first crack was not marked")
    off = goal.time - fc if direction == "less heat" else fc - goal.time
    low, high = goal.time - goal.time_tolerance, goal.time + goal.time_tolerance
    why = f"crack {clock(fc)}, window {clock(low)} to {clock(high)}"
    return _warned(case, direction, fc, off > goal.time_tolerance, why)


def _warned(case: CueCase, direction: Direction, end: float, came: bool, why: str) -> Judgement:
    """Judge a warning of a deviation that came, or did not, by ``end`` (s), by the moves that were made against it."""
    lead, before, after = end - case.t, case.moved_before(direction), case.moved_after(direction, end)
    if before is not None:
        return _already(direction, before, f"; {why}", lead)
    if came:
        return Judgement("late" if lead < RULES.needed else "useful", why, lead, after)
    if after is not None:
        return Judgement("unknown", f"{direction} at {clock(after)}, then {why}", lead, after)
    return Judgement("false", why, lead)


def _rise(case: CueCase, direction: Direction) -> Judgement:
    """Judge by the rate of rise in the last minute before drop, from the readings, against the share of the plan's."""
    crack, drop = case.profile.goals.get("first crack"), case.drop
    if crack is None or drop is None:
        return Judgement("unknown", "no drop, or no crack in the plan")
    late = [r for r in case.roast.readings if drop - 75.0 <= r.t <= drop + 2.0]
    if len(late) < 2 or late[-1].t - late[0].t < STILL:
        return Judgement("unknown", "too few readings before drop")
    rate = (late[-1].celsius - late[0].celsius) / (late[-1].t - late[0].t)
    floor, ceiling = rise_limits(case.profile)
    stalled = direction == "more heat"
    unit = case.profile.unit

    def per_minute(rise: float) -> str:
        return f"{from_kelvins(60 * rise, unit):.1f}"

    came, limit = (
        (rate < floor, f"floor {per_minute(floor)}") if stalled else (rate > ceiling, f"ceiling {per_minute(ceiling)}")
    )
    return _warned(case, direction, drop, came, f"{per_minute(rate)} °{unit}/min before drop, {limit}")


def _band(case: CueCase, direction: Direction) -> Judgement:
    """Judge a cue on the band: useful where the next reading was still outside, or a move was made against it."""
    end = case.drop if case.drop is not None else case.t + DONE_WITHIN
    before, after = case.moved_before(direction), case.moved_after(direction, min(case.t + DONE_WITHIN, end))
    if before is not None:
        return _already(direction, before)
    if after is not None:
        return Judgement("useful", f"{direction} at {clock(after)}", None, after)
    if end - case.t < RULES.needed:
        return Judgement("late", f"drop {clock(end - case.t)} later")
    later = [r for r in case.roast.readings if case.t + 1.0 < r.came and r.t > case.t - 5.0 and r.t <= end]
    if not later:
        return Judgement("unknown", "no reading after it")
    r = later[0]
    cracked = r.t >= case.roast.marks.get("first crack", float("inf"))
    off = r.celsius - case.profile.curve.value(r.t)
    band = case.profile.band(r.t, "development" if cracked else case.profile.planned_phase(r.t))
    why = f"{apart(off, case.profile.unit, 1)} {'above' if off > 0 else 'below'} the plan at {clock(r.t)}"
    outside = off if direction == "less heat" else -off
    return Judgement("useful" if outside / band >= 0.75 else "false", why)


# -- what was planned, and what may hurt -----------------------------------------------------------------------------


def _until(case: CueCase, event: float | None, name: str, within: float, soon: float = 0.0) -> Judgement:
    """Judge a prompt whose event was due within ``within`` s of the cue; a lead under ``soon`` (s) left no time."""
    if event is None:
        return Judgement("unknown", f"{name} was not marked")
    lead = event - case.t
    why = f"{name} {clock(event)}"
    if lead < soon:
        return Judgement("late", why, lead)
    return Judgement("useful" if lead <= within else "false", why, lead)


def _drop_now(case: CueCase) -> Judgement:
    if case.drop is None:
        return Judgement("unknown", "drop was not marked")
    lead = case.drop - case.t
    why = f"drop {clock(case.drop)}"
    if lead < -2.0:
        return Judgement("late", why, lead)
    if lead <= AT_ONCE:
        return Judgement("already acting", why, lead, case.drop)
    early = _before_the_rule(case)
    if early:
        return Judgement("false", f"{why}; {early}", lead, case.drop)
    if lead > DROPPED_LATE:
        why = f"right, {lead:.0f} s before it was acted on; {why}"
    return Judgement("useful", why, lead, case.drop)


def _drop_near(case: CueCase) -> Judgement:
    """Judge by the time at which drop was due by the rule, where that is known: a late drop makes no cue wrong."""
    if case.drop is None:
        return Judgement("unknown", "drop was not marked")
    due = _due_by_clock(case)
    if due is None or not case.t <= due < case.drop:
        return _until(case, case.drop, "drop", 75.0, 5.0)
    found = _until(case, due, "drop due", 75.0, 5.0)
    return replace(found, why=f"{found.why}, made {case.drop - due:.0f} s after that", done=case.drop)


def _due_by_clock(case: CueCase) -> float | None:
    """Time at which drop was due by the clock in the finished roast (roast time, s); None where temperature ruled."""
    roast = replace(case.roast, phase="development")
    due = clock_due(replace(case.at(case.t), roast=roast))
    return None if due is None or "first crack" not in roast.marks else due[0]


def _before_the_rule(case: CueCase) -> str:
    """Distance of the call from the drop's rule, in words, where the finished roast shows that it came too early; ''
    elsewhere."""
    due = _due_by_clock(case)
    if due is not None:
        early = due - case.t
        return f"{early:.0f} s before it was due" if early > case.profile.document.drop.time_tolerance else ""
    near = [r for r in case.roast.readings if abs(r.t - case.t) <= DROPPED_LATE]
    short = case.profile.drop_temperature - max((r.celsius for r in near), default=case.profile.drop_temperature)
    return "the readings about it are below the drop temperature" if short > 2 * case.profile.drop_tolerance else ""


def _over_limit(case: CueCase) -> Judgement:
    limit = case.episode.evidence.get("limit", case.profile.safety)
    near = [r for r in (*case.roast.preheat, *case.roast.readings) if abs(r.came - case.t) <= 20.0]
    if not any(r.celsius >= limit - 1e-6 for r in near):
        return Judgement("false", "the reading was withdrawn or amended")
    off = gas_off(case.at(case.t + DONE_WITHIN), case.t - AT_ONCE)
    return Judgement("useful", "a reading over the limit was not withdrawn", None, off)


def _left(case: CueCase, why: str) -> Judgement:
    """Judge a prompt whose action was not taken: it was due all the same, so it is false only where it was muted."""
    reply, _ = reply_to(case)
    return Judgement("false", f"{why}; muted") if reply == "shelved" else Judgement("unknown", why)


def _move_due(case: CueCase) -> Judgement:
    due = case.episode.evidence.get("due", case.t)
    values = {(s.control, round(s.value, 6)) for s in case.profile.steps}
    near = [m for m in case.roast.moves if (m.control, round(m.value, 6)) in values and abs(m.t - due) <= DONE_WITHIN]
    if not near:
        return _left(case, "the move was never made, or not logged")
    made = near[0].t
    outcome: Outcome = "already acting" if made <= case.t - AT_ONCE else "useful"
    return Judgement(outcome, f"made at {clock(made)}", due - case.t, made)


def _reading_due(case: CueCase) -> Judgement:
    after = [r for r in case.roast.readings if r.came >= case.t - 0.5]
    if case.drop is not None and case.drop - case.t < 45.0 and not after:
        return Judgement("unknown", f"drop {clock(case.drop)}")
    if not after or after[0].came - case.t > DONE_WITHIN:
        return _left(case, "no reading came for a minute")
    r = after[0]
    soon = r.t <= case.t - AT_ONCE or r.came <= case.t + AT_ONCE
    return Judgement("already acting" if soon else "useful", f"read at {clock(r.t)}", None, r.came)


def _tapped(case: CueCase) -> Judgement:
    reply, came = reply_to(case)
    onset, fc = case.episode.evidence.get("onset", case.t), case.roast.marks.get("first crack")
    if reply == "not yet":
        return Judgement("false", f"answered 'not yet' at {clock(came or 0.0)}")
    if fc is None:
        return Judgement("unknown", "first crack was not marked")
    return Judgement("useful" if abs(fc - onset) <= 20.0 else "false", f"crack {clock(fc)}", fc - case.t, fc)


def cannot_say(case: CueCase) -> Judgement:
    """Judgement for cues without a rule."""
    return Judgement("unknown", "no rule can say")


JUDGES: Final[dict[str, Callable[[CueCase], Judgement]]] = {
    "over safety limit": _over_limit,
    "drop now": _drop_now,
    "drop near": _drop_near,
    "crack early": lambda c: _crack(c, "less heat"),
    "crack late": lambda c: _crack(c, "more heat"),
    "stalling": lambda c: _rise(c, "more heat"),
    "racing": lambda c: _rise(c, "less heat"),
    "too hot": lambda c: _band(c, "less heat"),
    "too cool": lambda c: _band(c, "more heat"),
    "tapped crack": _tapped,
    "move due": _move_due,
    "charge near": lambda c: _until(c, None if c.roast.charge_at is None else 0.0, "charge", 90.0),
    "yellow near": lambda c: _until(c, c.roast.marks.get("yellow"), "yellow", 60.0),
    "crack near": lambda c: _until(c, c.roast.marks.get("first crack"), "first crack", 100.0),
    "reading due": _reading_due,
}
"""Diagnostics are not judged: they make no claim that could be held against them."""
