"""Conditions of the cues: pure judgements of one situation, with the text that gives the evidence.

A verdict gives the size of a condition, 1 being where it begins.  Where it is unknown (no reading, no forecast) it is
None and neither raises nor clears anything.  What lasts over time (two readings in a row, a cue being answered) is the
watch's affair.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from coach.cues.evidence import (
    Direction,
    age,
    asks_for,
    cadence,
    clock_due,
    degrees,
    drop_due,
    expected,
    fresh,
    last_doubtful,
    last_used,
    listening,
    made,
    provisional,
    seen,
    speaks_for,
    temperature_due,
    turned,
    window,
)
from coach.cues.situation import Situation
from coach.cues.table import RULES, SOON
from coach.forecast.forecast_values import Estimate, EventForecast
from coach.roast.profile import Profile
from coach.roast.roast import Probe, until
from coach.roast.units import clock, from_kelvins, number

DEADBAND: Final = 2.5
"""Deadband: 1 % of a range of 250 °C, the usual first setting for temperatures (EEMUA 191, from memory), K."""

ALMOST: Final = 0.99
"""Size of what would be active if it were nearer: too small to begin, too large to clear."""
LONGEST: Final = 120.0
"""Longest time since the last reading at which drop by temperature is called, from the estimate alone, s."""
EMPTY: Final = 15.0
"""Margin of the empty drum over charge temperature where a profile charges hotter than its safety limit, K."""


@dataclass(frozen=True)
class Verdict:
    """The state of one condition.

    ``size``: 1 where it begins, None when unknown.  ``badness``: how bad it is in bands (or tolerances); half
    of one more is 'clearly worse'.  ``silent``: true, but nothing can be done about it any more.  ``basis``: the
    journal line of the reading that it uses.  ``key`` makes it a new episode.  ``mark``: worth a silent mark.
    ``later``: the row's later priority holds.
    """

    size: float | None
    text: str = ""
    badness: float = 1.0
    silent: bool = False
    basis: int | None = None
    key: str = ""
    mark: bool = False
    later: bool = False
    action: str = ""
    evidence: Mapping[str, float] = field(default_factory=dict)


UNKNOWN: Final = Verdict(None)
NOT: Final = Verdict(0.0)
OVER: Final = Verdict(-10.0)
"""Verdict on what has ended: no deadband keeps it."""


def _approach(left: float, lead: float, text: str, key: str = "", **evidence: float) -> Verdict:
    """Verdict on what comes in ``left`` seconds: active within ``lead``, cleared beyond twice that."""
    size = 1.0 if left <= lead else 0.8 if left <= 2 * lead else 0.0
    return Verdict(size, text, key=key, evidence={"left": left, **evidence})


# -- what may hurt, and drop ---------------------------------------------------------------------------------------


def over_limit(s: Situation) -> Verdict:
    """A reading at or over the safety limit, raw; a doubtful one only when it could be true."""
    seen = s.roast.readings if s.t is not None and s.t >= 0 else s.roast.preheat
    seen = seen[: until(seen, expected(s))]
    drop = s.roast.marks.get("drop")
    if drop is not None:  # what was over the limit ends with the beans; a hotter empty drum is another matter
        seen = tuple(r for r in seen if r.t > drop)
        if not seen:
            return OVER
    if not seen:
        return UNKNOWN
    last, limit = seen[-1], safety_limit(s.profile)
    doubtful = s.estimate.doubtful if s.estimate is not None else {}
    if last.line in doubtful and last.celsius >= limit:
        before = seen[-2].celsius if len(seen) > 1 else None
        near = s.estimate is not None and last.celsius - s.estimate.temperature <= RULES.plausible
        if not near and (before is None or before < limit):
            return UNKNOWN
    size = 1.0 + (last.celsius - limit) / DEADBAND
    text = f"{degrees(s, last.celsius)} at {clock(last.t)}, limit {degrees(s, limit)}"
    return Verdict(size, text, badness=size, basis=last.line, evidence={"temperature": last.celsius, "limit": limit})


def safety_limit(profile: Profile) -> float:
    """The limit of every reading of a roast, °C: the profile's; more only where it charges hotter than that."""
    if profile.charge_temperature < profile.safety:
        return profile.safety
    return profile.charge_temperature + EMPTY


def drop_now(s: Situation) -> Verdict:
    """The profile's rule for drop; past the temperature's tolerance where it counts from a crack never marked."""
    assert s.t is not None
    due = clock_due(s)
    if due is not None:
        time, text = due
        size = 1.0 + (s.t - time) / s.profile.document.drop.time_tolerance
        evidence = {"due": time, "over": s.t - time}
    else:
        if s.estimate is None or age(s) > LONGEST or not turned(s, s.t):
            return UNKNOWN
        target = s.profile.drop_temperature
        target += 0.0 if s.profile.document.drop.by == "temperature" else s.profile.drop_tolerance
        over = s.estimate.temperature - target
        size = 1.0 + over / s.profile.drop_tolerance
        text = f"{degrees(s, s.estimate.temperature)}, drop at {degrees(s, target)}"
        text += "" if fresh(s) else f" (last reading {clock(age(s))} ago)"
        evidence = {"temperature": s.estimate.temperature, "over": over}
    return Verdict(size, text, badness=size, later=size > 2.0, evidence=evidence)


def drop_near(s: Situation) -> Verdict:
    """Drop within the lead, by the same rule."""
    assert s.t is not None
    due = clock_due(s)
    if due is not None:
        tapped = ", crack as tapped" if provisional(s) else ""
        return _approach(due[0] - s.t, RULES.drop_lead, f"drop at {clock(due[0])}{tapped}", due=due[0])
    time = temperature_due(s) if s.profile.document.drop.by == "temperature" else None
    if time is None or age(s) > LONGEST or not turned(s, s.t):
        return UNKNOWN
    target = degrees(s, s.profile.drop_temperature)
    return _approach(time - s.t, RULES.drop_lead, f"drop at {target}, about {clock(time)}", due=time)


# -- what will come ------------------------------------------------------------------------------------------------


def _probable(s: Situation, p: float | None, left: float, text: str, badness: float, basis: int) -> Verdict:
    """A predictive verdict from a probability and the time left, s, and the journal line of the reading behind it."""
    if p is None:
        return UNKNOWN
    late = left < RULES.needed or (s.advice is not None and s.advice.kind == "too late")
    if late:
        text += f": too late to correct; next: {_next_decision(s)}"
    size = p / RULES.sure_at(left)
    return Verdict(
        min(size, ALMOST) if left > RULES.furthest else size,
        text,
        badness=badness,
        silent=late,
        basis=basis,
        mark=p >= RULES.maybe,
        later=left <= SOON,
        evidence={"p": p, "left": left},
    )


def _next_decision(s: Situation) -> str:
    due = drop_due(s)
    if due is None:
        return "drop"
    when = clock(due.time) if due.ruled else f"{clock(due.soonest)} to {clock(due.latest)}"
    return f"drop {when} at {degrees(s, due.temperature)}"


def _crack(s: Situation, direction: Direction) -> Verdict:
    f, goal, early = s.forecast.first_crack, s.profile.goals.get("first crack"), direction == "less heat"
    last = last_used(s)
    if s.beyond_reference:
        return NOT
    if f is None or goal is None or s.t is None or last is None or not fresh(s):
        return UNKNOWN
    text = f"crack {window(f)}, plan {clock(goal.time)}"
    off = (goal.time - f.time.median) if early else (f.time.median - goal.time)
    p = f.p_early if early else f.p_late
    verdict = _probable(s, p, f.time.median - s.t, text, off / goal.time_tolerance, last.line)
    return _advised(s, verdict, direction)


def _risen(s: Situation, typed: Sequence[Probe], estimate: Estimate) -> str:
    """The rate of rise in words: between the last two readings where the last one was rejected by the estimate."""
    unit = s.roast.header.unit
    if typed[-1].line in estimate.doubtful and len(typed) > 1:
        a, b = typed[-2], typed[-1]
        rate = (b.celsius - a.celsius) / max(b.t - a.t, 1.0)
        return f"{number(from_kelvins(rate * 60, unit))} °{unit}/min by the last two readings"
    return f"{number(from_kelvins(estimate.rate * 60, unit))} °{unit}/min now"


def _rise(s: Situation, p: float | None, direction: Direction, what: str) -> Verdict:
    """Verdict from the last readings as typed, also rejected ones: the probability weighs whether they are slips.

    A second reading is waited for however sure it is: on usual days most of those by one reading were wrong.  One that
    was mistyped, as far as is known, is no second one.
    """
    typed, by = seen(s), s.forecast.risen_by
    if s.plan_ended and direction == "more heat":
        return NOT
    if p is None or by is None or s.forecast.drop is None or s.t is None or s.estimate is None or not typed:
        return UNKNOWN
    if s.t - typed[-1].t > speaks_for(s):
        return UNKNOWN
    text = f"{what} before drop: {round(100 * p)} % ({_risen(s, typed, s.estimate)})"
    spare = max(1.0 - RULES.sure, 0.01)
    left = s.forecast.drop.time.median - s.t
    verdict = _probable(s, p, left, text, 1 + (p - RULES.sure) / spare, by)
    return _advised(s, verdict, direction)


def _advised(s: Situation, verdict: Verdict, direction: Direction) -> Verdict:
    """Take the advice as the action, where it is a move that doesn't go in the other direction."""
    a = s.advice
    if a is None or a.kind != "move" or a.control is None or asks_for(s, a) not in (direction, None):
        return verdict
    return replace(verdict, action=a.text)


# -- what is -------------------------------------------------------------------------------------------------------


def _band(s: Situation, direction: Direction) -> Verdict:
    assert s.t is not None
    last = last_used(s)
    if last is None or not turned(s, last.t) or not fresh(s):
        return UNKNOWN
    if s.beyond_reference:
        return NOT
    plan, half = s.profile.curve.value(last.t), s.profile.band(last.t, s.roast.phase)
    sign, side = (1.0, "above") if direction == "less heat" else (-1.0, "below")
    off, unit = sign * (last.celsius - plan), s.roast.header.unit
    text = (
        f"{degrees(s, last.celsius)} at {clock(last.t)}, {number(from_kelvins(abs(off), unit), 0)} {side} the plan's"
        f" {degrees(s, plan)} (band {number(from_kelvins(half, unit))})"
    )
    verdict = Verdict(
        off / half,
        text,
        badness=off / half,
        basis=last.line,
        later=s.roast.phase == "development",
        evidence={"deviation": sign * off, "band": half},
    )
    return _advised(s, verdict, direction)


# -- what was planned ----------------------------------------------------------------------------------------------


def move_due(s: Situation) -> Verdict:
    """The next planned move, with those due together with it."""
    m = s.next_move
    if m is None or s.t is None:
        return NOT
    together = [m.step, *(x for x in s.profile.steps if 0 <= x.time - m.step.time <= 10.0 and not made(s, x))]
    controls: dict[str, str] = {}
    for step in together:
        controls.setdefault(step.control, f"{step.control} to {number(step.shown, 2)}")
    text = f"{', '.join(controls.values())} at {clock(m.due)}"
    if m.until <= -10:
        text += f", overdue by {clock(-m.until)}"
    return _approach(m.until, RULES.move_lead, text, key=f"{m.step.control} {m.step.time:g}", due=m.due)


def charge_near(s: Situation) -> Verdict:
    """The drum near charge temperature."""
    if s.preheat is None:
        return UNKNOWN
    left = s.preheat.ready_at - s.at
    target = degrees(s, s.profile.charge_temperature)
    text = f"{target} in {clock(left)}" if left > 0 else f"{target} reached"
    return _approach(left, RULES.charge_lead, text, sd=s.preheat.ready_sd)


def _near(s: Situation, f: EventForecast | None, opens: float, lead: float, name: str) -> Verdict:
    if f is None or s.t is None:
        return UNKNOWN
    text = f"{name} {window(f)}, about {degrees(s, f.temperature)}"
    return _approach(opens - s.t, lead, text, median=f.time.median, sd=f.time.sd)


def yellow_near(s: Situation) -> Verdict:
    """Yellow within the lead; not any more when it must have passed without a mark."""
    f = s.forecast.yellow
    if f is None and s.estimate is not None and s.profile.past_yellow(s.estimate.temperature):
        return NOT
    return _near(s, f, f.time.median if f is not None else 0.0, RULES.yellow_lead, "yellow")


def crack_near(s: Situation) -> Verdict:
    """The listening window opens."""
    f, span = s.forecast.first_crack, listening(s)
    return _near(s, f, span[0] if span is not None else 0.0, RULES.crack_lead, "listen: crack")


def tapped_crack(s: Situation) -> Verdict:
    """First crack called from taps, waiting for a yes or a no."""
    if s.tapped_onset is None or "first crack" in s.roast.marks:
        return NOT
    text = f"crack called from taps {clock(s.tapped_onset)}"
    return Verdict(1.0, text, evidence={"onset": s.tapped_onset})


# -- what the coach needs ------------------------------------------------------------------------------------------


def wanted_at(s: Situation) -> float:
    """Roast time at which the next reading is due, s: where it matters, sooner than the cadence or later, but before
    drift can no longer be judged; by the cadence where nothing shows that it matters, or the profile fixes it."""
    reading, every = last_used(s), cadence(s)
    last = 0.0 if reading is None else reading.t
    if s.forecast.next_reading is None or s.profile.document.cadence_fixed:
        return last + RULES.patience * every
    return min(max(s.forecast.next_reading, last + RULES.shortest), last + max(2 * every, 60.0))


def reading_due(s: Situation) -> Verdict:
    """Verdict on too long without a reading; none while something is being typed."""
    assert s.t is not None
    if s.typing:
        return UNKNOWN
    reading = last_used(s)
    last, every = (0.0 if reading is None else reading.t), cadence(s)
    due = wanted_at(s)
    gap = s.t - last
    text = f"no reading for {clock(gap)}" if reading else f"no reading since charge, {clock(gap)} ago"
    key = f"{last:g}"
    return Verdict(
        1.0 if s.t >= due else 0.0, text, later=gap > 3 * every, key=key, evidence={"age": gap, "interval": every}
    )


def reading_doubtful(s: Situation) -> Verdict:
    """The last reading was rejected."""
    found = last_doubtful(s)
    if found is None:
        return NOT
    reading, reason = found
    if reading.t > s.profile.curve.end:
        reason = "the plan has ended, and there is nothing to check it by"
    text = f"{number(reading.shown)} at {clock(reading.t)} not used: {reason}"
    return Verdict(1.0, text, basis=reading.line, key=str(reading.line), evidence={"temperature": reading.celsius})


def gas_moved(s: Situation) -> Verdict:
    """A move that seems not to have been logged."""
    when = s.forecast.gas_moved
    if when is None:
        return NOT
    return Verdict(1.0, f"was the gas moved about {clock(when)}?", evidence={"time": when})


def unlike(s: Situation) -> Verdict:
    """Inputs outside the history's range."""
    if not s.forecast.odd:
        return NOT
    return Verdict(1.0, f"unlike earlier roasts ({', '.join(s.forecast.odd)})", key="; ".join(s.forecast.odd))


CONDITIONS: Final[dict[str, Callable[[Situation], Verdict]]] = {
    "over safety limit": over_limit,
    "drop now": drop_now,
    "drop near": drop_near,
    "crack early": lambda s: _crack(s, "less heat"),
    "crack late": lambda s: _crack(s, "more heat"),
    "stalling": lambda s: _rise(s, s.forecast.stall, "more heat", "the rise dies"),
    "racing": lambda s: _rise(s, s.forecast.racing, "less heat", "the rise runs away"),
    "too hot": lambda s: _band(s, "less heat"),
    "too cool": lambda s: _band(s, "more heat"),
    "tapped crack": tapped_crack,
    "move due": move_due,
    "charge near": charge_near,
    "yellow near": yellow_near,
    "crack near": crack_near,
    "reading due": reading_due,
    "reading doubtful": reading_doubtful,
    "gas moved": gas_moved,
    "today is unlike": unlike,
}
