"""The rules by which each cue of a finished roast is judged; ``cue_outcomes`` defines the outcomes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from coach.cues.episodes import Episode
from coach.cues.evidence import Direction, clock_due, corrected, gas_off
from coach.cues.limits import RULES, Rules
from coach.cues.situation import Situation
from coach.forecast.forecast_values import Forecast
from coach.forecast.projection import rise_limits
from coach.roast.entries import Outcome
from coach.roast.profile import Profile
from coach.roast.roast import Roast
from coach.roast.units import clock

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
    rules: Rules = RULES

    @property
    def t(self) -> float:
        return self.episode.begun - (self.roast.charge_at or 0.0)

    @property
    def drop(self) -> float | None:
        return self.roast.marks.get("drop")

    def corrected(self, direction: Direction, start: float, end: float) -> float | None:
        """Time of the last corrective move in a direction between two roast times, s; None where there is none."""
        now = Situation((self.roast.charge_at or 0.0) + end, end, self.profile, self.roast, None, Forecast())
        return corrected(now, direction, start)


def reply_to(case: CueCase) -> tuple[str, float | None]:
    """The person's answer while the cue was active, and its roast time (s)."""
    base = case.roast.charge_at or 0.0
    for came, reply in case.roast.replies:
        if reply.cue == case.episode.cue and reply.answer in ("seen", "shelved", "not yet"):
            until = case.episode.until - base + 2.0
            if case.t - 0.5 <= came <= until:
                return reply.answer, came
    if case.episode.answered is not None:
        return "acted", case.episode.answered - base
    return "", None


# -- what was forecast ---------------------------------------------------------------------------------------------


def _crack(case: CueCase, early: bool) -> Judgement:
    goal, fc = case.profile.goals.get("first crack"), case.roast.marks.get("first crack")
    if goal is None or fc is None:
        return Judgement("unknown", "first crack was not marked")
    direction: Direction = "less heat" if early else "more heat"
    off = goal.time - fc if early else fc - goal.time
    missed = off > goal.time_tolerance
    why = f"crack {clock(fc)}, window {clock(goal.time - goal.time_tolerance)}-{clock(goal.time + goal.time_tolerance)}"
    return _foretold(case, direction, fc, missed, why)


def _foretold(case: CueCase, direction: Direction, end: float, came: bool, why: str) -> Judgement:
    """Judge a warning of a deviation that came, or did not, by ``end`` (s), by the moves that were made against it."""
    lead = end - case.t
    before = case.corrected(direction, case.t - case.rules.response, case.t - AT_ONCE)
    after = case.corrected(direction, case.t - AT_ONCE, end)
    if before is not None:
        return Judgement("already acting", f"{direction} at {clock(before)} already; {why}", lead, before)
    if came:
        return Judgement("late" if lead < case.rules.needed else "useful", why, lead, after)
    if after is not None:
        return Judgement("unknown", f"{direction} at {clock(after)}, then {why}", lead, after)
    return Judgement("false", why, lead)


def _rise(case: CueCase, stall: bool) -> Judgement:
    """Judge by the rate of rise in the last minute before drop, from the readings, against the share of the plan's."""
    crack, drop = case.profile.goals.get("first crack"), case.drop
    if crack is None or drop is None:
        return Judgement("unknown", "no drop, or no crack in the plan")
    late = [r for r in case.roast.readings if drop - 75.0 <= r.t <= drop + 2.0]
    if len(late) < 2 or late[-1].t - late[0].t < STILL:
        return Judgement("unknown", "too few readings before drop")
    rate = (late[-1].celsius - late[0].celsius) / (late[-1].t - late[0].t)
    floor, ceiling = rise_limits(case.profile)
    limit, came = (floor, rate < floor) if stall else (ceiling, rate > ceiling)
    direction: Direction = "more heat" if stall else "less heat"
    why = f"{60 * rate:.1f} K/min before drop, {'floor' if stall else 'ceiling'} {60 * limit:.1f}"
    return _foretold(case, direction, drop, came, why)


def _band(case: CueCase, hot: bool) -> Judgement:
    """Judge a cue on the band: useful where the next reading was still outside, or a move was made against it."""
    direction: Direction = "less heat" if hot else "more heat"
    end = case.drop if case.drop is not None else case.t + DONE_WITHIN
    before = case.corrected(direction, case.t - case.rules.response, case.t - AT_ONCE)
    after = case.corrected(direction, case.t - AT_ONCE, min(case.t + DONE_WITHIN, end))
    if before is not None:
        return Judgement("already acting", f"{direction} at {clock(before)} already", None, before)
    if after is not None:
        return Judgement("useful", f"{direction} at {clock(after)}", None, after)
    if end - case.t < case.rules.needed:
        return Judgement("late", f"drop {clock(end - case.t)} later")
    later = [r for r in case.roast.readings if case.t + 1.0 < r.came and r.t > case.t - 5.0 and r.t <= end]
    if not later:
        return Judgement("unknown", "no reading after it")
    r = later[0]
    phase = (
        "development" if r.t >= case.roast.marks.get("first crack", float("inf")) else case.profile.planned_phase(r.t)
    )
    off = r.celsius - case.profile.curve.value(r.t)
    outside = (off if hot else -off) / case.profile.band(r.t, phase)
    why = f"{abs(off):.1f} K {'above' if off > 0 else 'below'} the plan at {clock(r.t)}"
    return Judgement("useful" if outside >= 0.75 else "false", why)


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
    due = clock_due(Situation(case.episode.begun, case.t, case.profile, roast, None, Forecast()))
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
    base = case.roast.charge_at or 0.0
    seen = [(r.came, r.celsius) for r in case.roast.readings]
    seen += [(r.came, r.celsius) for r in case.roast.preheat]
    hot = [c for came, c in seen if abs(came - case.t) <= 20.0 and c >= limit - 1e-6]
    if not hot:
        return Judgement("false", "the reading was withdrawn or amended")
    end = case.t + DONE_WITHIN
    now = Situation(base + end, end, case.profile, case.roast, None, Forecast())
    return Judgement("useful", "a reading over the limit stands", None, gas_off(now, case.t - AT_ONCE))


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
    if made <= case.t - AT_ONCE:
        return Judgement("already acting", f"made at {clock(made)}", due - case.t, made)
    return Judgement("useful", f"made at {clock(made)}", due - case.t, made)


def _reading_due(case: CueCase) -> Judgement:
    after = [r for r in case.roast.readings if r.came >= case.t - 0.5]
    if case.drop is not None and case.drop - case.t < 45.0 and not after:
        return Judgement("unknown", f"drop {clock(case.drop)}")
    if not after or after[0].came - case.t > DONE_WITHIN:
        return _left(case, "no reading came for a minute")
    r = after[0]
    if r.t <= case.t - AT_ONCE or r.came <= case.t + AT_ONCE:
        return Judgement("already acting", f"read at {clock(r.t)}", None, r.came)
    return Judgement("useful", f"read at {clock(r.t)}", None, r.came)


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


def _charge_near(case: CueCase) -> Judgement:
    return _until(case, None if case.roast.charge_at is None else 0.0, "charge", 90.0)


JUDGES: Final[dict[str, Callable[[CueCase], Judgement]]] = {
    "over safety limit": _over_limit,
    "drop now": _drop_now,
    "drop near": _drop_near,
    "crack early": lambda c: _crack(c, True),
    "crack late": lambda c: _crack(c, False),
    "stalling": lambda c: _rise(c, True),
    "racing": lambda c: _rise(c, False),
    "too hot": lambda c: _band(c, True),
    "too cool": lambda c: _band(c, False),
    "tapped crack": _tapped,
    "move due": _move_due,
    "charge near": _charge_near,
    "yellow near": lambda c: _until(c, c.roast.marks.get("yellow"), "yellow", 60.0),
    "crack near": lambda c: _until(c, c.roast.marks.get("first crack"), "first crack", 100.0),
    "reading due": _reading_due,
}
"""Diagnostics are not judged: they make no claim that could be held against them."""
