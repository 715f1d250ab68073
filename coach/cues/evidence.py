"""Inputs of the conditions: readings that count, expected intervals, due times, corrective moves, wordings."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from coach.advice.advice_values import Advice
from coach.cues.situation import Situation
from coach.cues.table import RULES
from coach.forecast.control_inputs import answered, due_of, is_planned
from coach.forecast.forecast_values import AT_DROP, READ_BEFORE, EventForecast
from coach.roast.curve import crossing
from coach.roast.profile import Step
from coach.roast.roast import Probe, until
from coach.roast.units import clock, from_celsius, number

Direction = Literal["less heat", "more heat"]
DECILE: Final = 1.2816
"""The upper decile of the standard normal distribution."""
SHOWN_AHEAD = 0.6
"""Most by which a reading's time, being rounded, may lie after now, s."""


def expected(s: Situation) -> float:
    """Now, on the axis of the roast's entries, with the slack of a rounded time, s."""
    return (s.at if s.t is None else s.t) + SHOWN_AHEAD


def last_used(s: Situation) -> Probe | None:
    """The last reading so far that was not rejected; None when there is none."""
    doubtful = s.estimate.doubtful if s.estimate is not None else {}
    return next((r for r in reversed(seen(s)) if r.line not in doubtful), None)


def seen(s: Situation) -> tuple[Probe, ...]:
    """All readings since charge so far."""
    return s.roast.readings[: until(s.roast.readings, expected(s))]


def last_doubtful(s: Situation) -> tuple[Probe, str] | None:
    """The last reading and why it was rejected; None when it was not."""
    last = seen(s)[-1:]
    if not last or s.estimate is None or last[0].line not in s.estimate.doubtful:
        return None
    return last[0], s.estimate.doubtful[last[0].line]


def cadence(s: Situation) -> float:
    """The interval at which the profile wants readings now, s; the plan's phase where yellow went unmarked."""
    phase: str = s.roast.phase
    if phase == "drying" and s.t is not None and s.profile.planned_phase(s.t) != "drying":
        phase = "browning"
    return float(getattr(s.profile.document.cadence, phase, s.profile.document.cadence.drying))


def speaks_for(s: Situation) -> float:
    """Largest age of a reading that is evidence on drift, s: two intervals, a minute at least."""
    return max(2 * cadence(s), 60.0)


def fresh(s: Situation) -> bool:
    """True if the last reading that counts is young enough to be evidence on drift."""
    return age(s) <= speaks_for(s)


def age(s: Situation) -> float:
    """Seconds since the last reading that counts."""
    last = last_used(s)
    return s.t - last.t if last is not None and s.t is not None else float("inf")


def turned(s: Situation, t: float) -> bool:
    """True if the probe has turned at ``t`` (s): before that it cools from the drum's temperature."""
    return t >= s.roast.marks.get("turning point", s.profile.curve.turning_point[0] + RULES.settle)


def degrees(s: Situation, celsius: float) -> str:
    """A temperature in whole degrees of the roast's unit."""
    unit = s.roast.header.unit
    return f"{number(from_celsius(celsius, unit), 0)} °{unit}"


def window(f: EventForecast) -> str:
    """The central 80 % of an event's time."""
    return f"{clock(f.time.q10)} to {clock(f.time.q90)}"


@dataclass(frozen=True)
class DropDue:
    """Drop: its roast time (s) and the probe's temperature then (°C), each with its central 80 %.

    By the profile's rule the times are one; then ``ruled``.  ``provisional``: counted from a crack called from taps
    that was not confirmed yet.
    """

    time: float
    soonest: float
    latest: float
    temperature: float
    lowest: float
    highest: float
    ruled: bool
    provisional: bool


def crack_of(s: Situation) -> float | None:
    """First crack (roast time, s): as marked, else as called from taps while that waits for an answer."""
    marked = s.roast.marks.get("first crack")
    return s.tapped_onset if marked is None and s.roast.phase != "cooling" else marked


def provisional(s: Situation) -> bool:
    """True if first crack is one called from taps that was not confirmed yet."""
    return "first crack" not in s.roast.marks and crack_of(s) is not None


def drop_due(s: Situation) -> DropDue | None:
    """The one time of drop that everything shown and heard uses: from first crack on the profile's rule, before it
    the forecast.  None where it is unknown, or over."""
    if s.t is None or s.roast.phase == "cooling":
        return None
    f, path = s.forecast.drop, s.forecast.path
    if crack_of(s) is None:
        if f is None:
            return None
        t, x = f.time, f.temperature
        return DropDue(t.median, t.q10, t.q90, x.median, x.q10, x.q90, ruled=False, provisional=False)
    by_clock = clock_due(s)
    time = temperature_due(s) if by_clock is None else by_clock[0]
    if time is None or not math.isfinite(time):
        return None
    now = max(time, s.t)
    if by_clock is None:
        mean, wide = s.profile.drop_temperature, 0.0
        mean = mean if s.estimate is None else max(mean, s.estimate.temperature)
    elif path is not None:
        mean = float(np.interp(now + READ_BEFORE, path.t, path.mean))
        wide = DECILE * math.hypot(float(np.interp(now, path.t, path.sd)), AT_DROP)
        if f is not None and f.temperature.q90 - f.temperature.q10 > 2 * wide:  # it knows more that may go otherwise
            wide = (f.temperature.q90 - f.temperature.q10) / 2
    elif f is not None:
        mean, wide = f.temperature.median, (f.temperature.q90 - f.temperature.q10) / 2
    else:
        return None
    return DropDue(time, time, time, mean, mean - wide, mean + wide, ruled=True, provisional=provisional(s))


def clock_due(s: Situation) -> tuple[float, str] | None:
    """Roast time at which drop is due by the clock, s, and why; None where it depends on temperature."""
    rule, crack = s.profile.document.drop, crack_of(s)
    if crack is None or rule.by == "temperature":
        return None
    now = s.t if s.t is not None else 0.0
    if rule.by == "ratio" and rule.ratio is not None:
        due, share = crack / (1.0 - rule.ratio), round(100 * (now - crack) / now) if now > 0 else 0
        text = f"development {share} % of {number(100 * rule.ratio)} %"
    elif s.profile.development is not None:
        due = crack + s.profile.development
        text = f"development {clock(now - crack)} of {clock(s.profile.development)}"
    else:
        return None
    return due, f"{text}, drop at {clock(due)}{', crack as tapped' if provisional(s) else ''}"


def temperature_due(s: Situation) -> float | None:
    """Roast time at which the forecast trajectory reaches the drop temperature, s; None when it doesn't."""
    if s.estimate is None or s.t is None:
        return None
    target, path = s.profile.drop_temperature, s.forecast.path
    if s.estimate.temperature >= target:
        return s.t
    if path is None:
        if s.estimate.rate <= 0:
            return None
        return s.t + (target - s.estimate.temperature) / s.estimate.rate
    found = crossing(path.t, path.mean, target)
    return float("inf") if found is None else found


def listening(s: Situation) -> tuple[float, float] | None:
    """The window in which first crack is listened for (roast time, s): its forecast ± 1.5 sd, a minute at most."""
    f = s.forecast.first_crack
    if f is None or "first crack" in s.roast.marks:
        return None
    half = min(1.5 * f.time.sd, RULES.listening / 2)
    return f.time.median - half, f.time.median + half


# -- moves ---------------------------------------------------------------------------------------------------------


def asks_for(s: Situation, advice: Advice) -> Direction | None:
    """Direction of an advised gas move; None for other controls, or when the gas was never reported."""
    before = s.roast.setting("gas", expected(s))
    if advice.control != "gas" or advice.value is None or before is None or advice.value == before:
        return None
    return "less heat" if advice.value < before else "more heat"


def corrected(s: Situation, direction: Direction, after: float) -> float | None:
    """Roast time of the last corrective move in a direction, from ``after`` on, s; None if there was none.

    A gas move against the setting before it, unless it is a planned one made at its time: that one is part of the
    forecast already.  Air doesn't count: its effect on heat differs between machines.
    """
    now, found = expected(s), None
    first = [x for x in s.profile.steps if x.control == "gas"]
    gas = next((x.value for x in reversed(first) if x.time <= 0.0), first[0].value if first else None)
    for move in s.roast.moves:
        if move.t > now or move.control != "gas":
            continue
        change = 0.0 if gas is None else move.value - gas
        gas = move.value
        right = change < 0 if direction == "less heat" else change > 0
        if right and move.t >= after and not is_planned(s.profile, s.roast, move):
            found = move.t
    return found


def gas_off(s: Situation, after: float) -> float | None:
    """Roast time at which the gas was last set to nothing, from ``after`` on, s; None if it is on."""
    moves = [m for m in s.roast.moves if m.control == "gas" and m.t <= expected(s)]
    return moves[-1].t if moves and moves[-1].value <= 0 and moves[-1].t >= after else None


def made(s: Situation, step: Step) -> bool:
    """True if a planned move was made about its time or another in its place, or advice takes its place."""
    if s.advice is not None and s.advice.instead == step:
        return True
    return answered(s.profile, s.roast, step, due_of(step, s.roast), expected(s))
