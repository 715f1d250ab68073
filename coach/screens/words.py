"""What the screen says, as plain lines: pure functions of a situation."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal

from coach.cues import CUES
from coach.evidence import crack_of, drop_due, provisional
from coach.situation import ActiveCue, Situation
from coach.units import clock, from_celsius, from_kelvins, number

SOON: Final = 30.0
"""A planned move may be logged as made up to this long before it is due, s."""
SIGNS = {"high": "▲▲", "medium": "▲", "low": "▸", "none": "·"}


def next_action(s: Situation, cues: Sequence[ActiveCue]) -> tuple[str, float | None]:
    """What to do next, and in how many seconds (None: now, or no time for it)."""
    if s.t is None:
        if s.preheat is not None:
            return "charge temperature", max(s.preheat.ready_at - s.at, 0.0)
        return "type preheat readings; c marks charge", None
    if s.roast.phase == "cooling":
        return "dropped: cool; type  in 0.8  out 0.69  colour 58  cup TEXT", None
    now, planned = urgent(cues), upcoming(s)
    if now is not None:
        then = "" if planned is None or now.priority == "high" else f"   then {planned[1]} in {clock(planned[0])}"
        return headline(now, s).upper() + then, None
    if planned is None:
        return "type a reading", None
    return planned[1], planned[0]


def proposal(s: Situation) -> str:
    """The move that is advised, in short ('gas to 1.4'); '' where none is."""
    a = s.advice
    if a is None or a.kind != "move" or a.control is None or a.shown is None:
        return ""
    return f"{a.control} to {number(a.shown, 2)}"


def headline(c: ActiveCue, s: Situation) -> str:
    """What a cue asks for, in short: the advised move and by when, where that is what it asks for."""
    move = proposal(s)
    if c.priority == "high" or not move or s.advice is None:
        return c.action
    deadline = s.advice.deadline
    by = "" if deadline is None or (s.t is not None and s.t > deadline) else f" by {clock(deadline)}"
    return f"{move}{by}" if c.action == s.advice.text else f"{c.action}: {move}"


def advice_lines(s: Situation) -> list[str]:
    """The advice and what one step of the gas does, a line each where there is something to say."""
    out = []
    if s.advice is not None and s.advice.text and s.roast.phase != "cooling":
        out.append(f"advice: {s.advice.text}")
    return out + ([s.sensitivity] if s.sensitivity and s.roast.phase != "cooling" else [])


def upcoming(s: Situation) -> tuple[float, str] | None:
    """What comes next by plan and forecast, and in how many seconds; None where nobody can say."""
    if s.t is None or s.roast.phase == "cooling":
        return None
    steps: list[tuple[float, str]] = []
    if s.next_move is not None:
        steps.append((s.next_move.until, f"{s.next_move.step.control} to {number(s.next_move.step.shown, 2)}"))
    f = s.forecast
    if f.yellow is not None:
        steps.append((f.yellow.time.median - s.t, "yellow"))
    if f.first_crack is not None:
        steps.append((f.first_crack.time.median - s.t, "first crack: listen"))
    due = drop_due(s)
    if due is not None and crack_of(s) is not None:
        steps.append((due.time - s.t, "drop"))
    if not steps:
        return None
    until, text = min(steps)
    return max(until, 0.0), text


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
    """How far the last reading can be shown as what is: old after two expected intervals, none after three."""
    if s.estimate is None or s.estimate.age is None:
        return "none"
    expected = float(getattr(s.profile.document.cadence, s.roast.phase, s.profile.document.cadence.development))
    return "none" if s.estimate.age >= 3 * expected else "old" if s.estimate.age >= 2 * expected else "fresh"


def temperature(s: Situation) -> str:
    """The probe as it stands, in whole degrees of the roast's unit; a dash where nobody knows."""
    unit = s.roast.header.unit
    if s.t is None:
        last = s.preheat.temperature if s.preheat else s.roast.preheat[-1].celsius if s.roast.preheat else None
        return "–" if last is None else f"{from_celsius(last, unit):.0f}°{unit}"
    if s.estimate is None or freshness(s) == "none":
        return "–"
    return f"{from_celsius(s.estimate.temperature, unit):.0f}°{unit}"


def status(s: Situation) -> list[str]:
    """The lines of figures."""
    unit, out = s.roast.header.unit, []
    if s.t is None:
        out.append(f"waiting for charge at {number(from_celsius(s.profile.charge_temperature, unit), 0)} °{unit}")
        if s.preheat is not None:
            out.append(f"ready in {clock(max(s.preheat.ready_at - s.at, 0))} ± {number(s.preheat.ready_sd, 0)} s")
        return out
    e, f = s.estimate, s.forecast
    fresh = freshness(s)
    stale = {"fresh": "", "old": "  (old reading)", "none": "  (no reading)"}[fresh]
    rate = "–" if e is None or fresh != "fresh" else f"{from_kelvins(e.rate * 60, unit):.1f} °{unit}/min"
    end = s.roast.marks.get("drop", s.t)
    if s.roast.phase == "cooling":
        rate, stale = "–", ""
    starts = ("charge", "yellow", "first crack", "drop")
    began = max([t for ev, t in s.roast.marks.items() if ev in starts], default=0.0)
    out.append(f"rise {rate}   {s.roast.phase} {clock(s.t - began)}{stale}")
    if f.deviation is not None and fresh != "none":
        lag = "" if f.lag is None else f", {abs(f.lag):.0f} s {'behind' if f.lag > 0 else 'ahead'}"
        out.append(f"off plan {from_kelvins(f.deviation, unit):+.1f} °{unit}{lag}")
    elif s.beyond_reference and s.roast.phase != "cooling":
        out.append(f"the plan ended at {clock(s.profile.curve.end)}")
    goal = s.profile.goals.get("first crack")
    cracked = crack_of(s)
    if cracked is not None:
        by_taps = "?  (as tapped)" if provisional(s) else ""
        out.append(f"crack {clock(cracked)}{by_taps}   development {clock(end - cracked)}")
    elif f.first_crack is not None and goal is not None:
        d = f.first_crack.time
        off = d.median - goal.time
        word = "on plan" if abs(off) < 3 else f"{abs(off):.0f} s {'late' if off > 0 else 'early'}"
        out.append(f"crack {clock(d.median)} ({clock(d.q10)}-{clock(d.q90)})  {word}, plan {clock(goal.time)}")
    due = drop_due(s)
    if due is not None:
        span = "" if due.ruled else f" ({clock(due.soonest)}-{clock(due.latest)})"
        low, middle, high = (number(from_celsius(x, unit), 0) for x in (due.lowest, due.temperature, due.highest))
        by_taps = "  (crack as tapped)" if due.provisional else ""
        out.append(f"drop {clock(due.time)}{span} at {middle} ({low}-{high}) °{unit}{by_taps}")
        if f.drop is not None and f.drop.development is not None and cracked is None:
            out.append(f"development then {clock(f.drop.development.median)}")
    if s.roast.phase != "cooling":
        out += [f"can't say: {r}" for r in f.reasons]
    return out


def tapped(s: Situation, confirm: str, deny: str) -> str:
    """What to do about a crack that was called from taps; '' where none is."""
    if s.tapped_onset is None or "first crack" in s.roast.marks or s.roast.phase == "cooling":
        return ""
    return f"crack from taps at {clock(s.tapped_onset)}: {confirm} confirms, {deny} not yet"


def missed_line(s: Situation, made: str, left_out: str) -> str:
    """The planned moves that were missed, with the keys that end it; '' where none was."""
    if not s.missed or s.roast.phase == "cooling":
        return ""
    late = f"{made} made now" if logs_missed(s) else "type it once made"
    return f"! MISSED {', '.join(m.words for m in s.missed)}   {late}   {left_out} left out"


def logs_missed(s: Situation) -> bool:
    """Whether the key for a move that was made now stands for the one missed last: nothing else is due or advised."""
    due = bool(s.due_moves) and s.due_moves[0].until <= SOON
    return bool(s.missed) and not due and not proposal(s)


def cue_lines(cues: Sequence[ActiveCue], s: Situation) -> list[str]:
    """The cues that stand: sign, priority, what, and the action asked for (the advice has lines of its own)."""
    out = []
    for c in cues:
        action = headline(c, s) if s.advice is not None and c.action == s.advice.text else c.action
        seen = " (seen)" if c.state == "acknowledged" else " (shelved)" if c.state == "shelved" else ""
        out.append(f"{SIGNS[c.priority]} {c.priority if c.priority != 'none' else 'note'}: {c.text} → {action}{seen}")
    return out
