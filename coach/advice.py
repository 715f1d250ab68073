"""Advice: one move of the gas that brings crack, or after it the drop, back to plan; or the reason for none.  Pure.

Every candidate is a what-if of the forecast itself, so advice and forecast can't disagree.  It is a proposal to a
person who knows the roaster.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from scipy.special import ndtr

from coach.distribution import Distribution
from coach.forecast_types import Forecast
from coach.gauge import Gauge
from coach.inputs import OVERDUE, answered, is_planned
from coach.outlook import Outlook, WhatIf
from coach.roast import Roast, Turned
from coach.situation import Advice
from coach.units import clock, from_celsius, from_kelvins, number

ACT: Final = {"crack": 0.5, "drop": 1.0}
"""Within this share of the tolerance nothing is advised."""
MADE_IN: Final = 10.0
"""How long after it is given a move is presumed to be made, s."""
WORTH: Final = 5.0
"""An improvement of crack time smaller than this is not worth a move, s."""
WORTH_K: Final = 0.7
"""The same for the temperature at drop, K."""
SURE: Final = 0.9
"""The sign of what a move does must be at least this sure."""
BITE: Final = 0.4
"""A move is felt when it has changed the probe by this much, K."""
SETTLE: Final = 60.0
"""A move of the person's own gets this long before another is advised, s."""
SOON: Final = 45.0
"""A planned move that is due within this is part of what advice starts from, s."""
LARGEST: Final = 0.3
"""No move is advised that changes the gas by more than this share of the highest planned."""
DEADLINES: Final = (20.0, 40.0, 60.0)


@dataclass(frozen=True)
class Aim:
    """What is to be brought back: where it is projected, where the plan wants it, how far off it may be, what an
    improvement must be worth, and whether it is the crack (s) or the temperature at drop (°C)."""

    what: Literal["crack", "drop"]
    now: Distribution
    plan: float
    tolerance: float
    worth: float

    @property
    def off(self) -> float:
        return self.now.median - self.plan

    def of(self, forecast: Forecast) -> Distribution | None:
        """The same thing in another forecast."""
        if self.what == "crack":
            return None if forecast.first_crack is None else forecast.first_crack.time
        return None if forecast.drop is None else forecast.drop.temperature


def aim_of(outlook: Outlook, roast: Roast, forecast: Forecast) -> Aim | None:
    """What advice is about now: first crack until it is marked, then the temperature at drop; None if unknown."""
    profile = outlook.profile
    goal = profile.goals.get("first crack")
    if "first crack" not in roast.marks:
        if goal is None or forecast.first_crack is None:
            return None
        return Aim("crack", forecast.first_crack.time, goal.time, goal.time_tolerance, WORTH)
    if forecast.drop is None or profile.document.drop.by == "temperature":
        return None
    return Aim("drop", forecast.drop.temperature, profile.drop_temperature, profile.drop_tolerance, WORTH_K)


def advise(
    outlook: Outlook, t: float, roast: Roast, forecast: Forecast, age: float | None, before: Advice | None = None
) -> Advice | None:
    """The advice at roast time ``t`` (s); None while nothing can be forecast.

    ``age``: of the last reading, s.  ``before``: the advice that stood until now; a move that still serves is kept, so
    that its amount and deadline don't wander.
    """
    if roast.phase == "cooling":
        return None
    aim = aim_of(outlook, roast, forecast)
    if aim is None:
        return None
    if before is not None and before.kind == "move" and before.deadline is not None and t > before.deadline:
        if _answered(before, roast, t) is None and abs(aim.off) > aim.tolerance and not _time_left(aim, t):
            return Advice(_too_late(aim), kind="too late")
        before = None
    if abs(aim.off) <= ACT[aim.what] * aim.tolerance:
        return _leave(outlook, t, roast, forecast, aim)
    cadence = float(getattr(outlook.profile.document.cadence, roast.phase, 60.0))
    if age is None or age > max(2 * cadence, 60.0):
        return Advice("a reading first, then advice", kind="wait")
    own = last_own(outlook, roast, t)
    if own is not None and t < own.t + SETTLE:
        return Advice(
            f"{own.control} of {clock(own.t)} is still acting: wait until {clock(own.t + SETTLE)}", kind="wait"
        )
    gauge = Gauge.of(outlook.profile, roast, "gas")
    ground = ground_of(outlook, t, roast)
    if gauge is None or ground is None:
        return Advice("log the gas as it stands, then there is advice", kind="unsure")
    if before is not None and before.kind == "move" and before.value is not None:
        kept = _judged(outlook, t, roast, aim, ground, before.value)
        if kept is not None and _better(aim, kept[1]) >= aim.worth and kept[2] >= SURE:
            return _said(outlook, t, aim, gauge, ground, kept, before.deadline)
    return _fresh(outlook, t, roast, aim, gauge, ground)


@dataclass(frozen=True)
class Ground:
    """Where an advised move starts from: the gas as it stands and as it would stand without it (kPa; another where a
    planned move is due just now), and the moment at which it is presumed to be made (roast time, s)."""

    stands: float
    base: float
    moment: float


def ground_of(outlook: Outlook, t: float, roast: Roast) -> Ground | None:
    """Where the gas stands and is about to stand; None when it was never told."""
    current = roast.setting("gas", t)
    if current is None:
        return None
    for step in outlook.profile.steps:
        if (
            step.control == "gas"
            and t - OVERDUE < step.time <= t + SOON
            and not answered(step, step.time, roast.moves, t)
        ):
            return Ground(current, step.value, max(step.time, t + MADE_IN))
    return Ground(current, current, t + MADE_IN)


def _fresh(outlook: Outlook, t: float, roast: Roast, aim: Aim, gauge: Gauge, ground: Ground) -> Advice:
    start = gauge.steps(ground.base)
    direction = -1 if _wants_less(aim) else 1
    one = _judged(outlook, t, roast, aim, ground, gauge.value(start + direction))
    if one is None or not gauge.allows(start + direction):
        return Advice(f"{_what(aim)}: the gas has no room that way; look to air and drop", kind="leave")
    if one[2] < SURE:
        return Advice("too little is known of what the gas does here to say how far", kind="unsure")
    each = one[1].median - aim.now.median
    if abs(each) < 1e-3:
        return Advice(_too_late(aim), kind="too late")
    wanted = int(np.clip(round(-aim.off / each), 1, gauge.most(start, direction, LARGEST)))
    best = one
    for count in sorted({max(wanted - 1, 1), wanted, wanted + 1}):
        steps = start + direction * count
        if not gauge.allows(steps) or count > gauge.most(start, direction, LARGEST):
            continue
        found = one if count == 1 else _judged(outlook, t, roast, aim, ground, gauge.value(steps))
        if found is not None and _better(aim, found[1]) > _better(aim, best[1]) + 0.3 * aim.worth:
            best = found
    gain = _better(aim, best[1])
    if gain < aim.worth:
        late = not _time_left(aim, t)
        return Advice(_too_late(aim) if late else "leave it: no step of the gas makes it better",
                      kind="too late" if late else "leave")  # fmt: skip
    return _said(outlook, t, aim, gauge, ground, best, _deadline(outlook, t, roast, aim, ground, best))


Judged = tuple[float, Distribution, float, WhatIf]
"""A setting (kPa), what the aim then comes to, how sure the sign of the change is, and the what-if itself."""


def _judged(outlook: Outlook, t: float, roast: Roast, aim: Aim, ground: Ground, value: float) -> Judged | None:
    what_if = outlook.what_if(t, roast, ((ground.moment, "gas", value),), crack_only=aim.what == "crack")
    after = aim.of(what_if.forecast)
    return None if after is None else (value, after, sure_of(outlook, what_if), what_if)


def sure_of(outlook: Outlook, what_if: WhatIf) -> float:
    """The probability that more gas means more heat here: the mixture's share of gains above zero."""
    gain = what_if.state.x[:, 2]
    sd = np.sqrt(what_if.state.P[:, 2, 2])
    return float(what_if.state.weights @ ndtr(gain / sd))


def _wants_less(aim: Aim) -> bool:
    """Early crack and a hot drop want less heat."""
    return aim.off < 0 if aim.what == "crack" else aim.off > 0


def _better(aim: Aim, after: Distribution) -> float:
    return abs(aim.off) - abs(after.median - aim.plan)


def _deadline(outlook: Outlook, t: float, roast: Roast, aim: Aim, ground: Ground, best: Judged) -> float:
    """The last moment at which the same move still does most of its good."""
    start = ground.moment - MADE_IN
    last = start + DEADLINES[0]
    for wait in DEADLINES[1:]:
        moves = ((start + wait, "gas", best[0]),)
        after = aim.of(outlook.what_if(t, roast, moves, crack_only=aim.what == "crack").forecast)  # type: ignore[arg-type]
        if after is None or _better(aim, after) < max(0.6 * _better(aim, best[1]), aim.worth):
            break
        last = start + wait
    return last


def bites(what_if: WhatIf) -> float | None:
    """When a move is felt on the probe (roast time, s); None if not within the time looked at."""
    change = np.abs(what_if.path.mean - what_if.without.mean) >= BITE
    return float(what_if.path.t[int(np.argmax(change))]) if change.any() else None


def _said(
    outlook: Outlook, t: float, aim: Aim, gauge: Gauge, ground: Ground, found: Judged, deadline: float | None
) -> Advice:
    value, after, sure, what_if = found
    felt = bites(what_if)
    shown = gauge.shown(value)
    instead = f", not {number(gauge.shown(ground.base), 2)}," if ground.base != ground.stands else ""
    if abs(value - ground.stands) < 1e-6:
        parts = [f"keep the gas at {number(shown, 2)}{instead} past {clock(ground.moment)}"]
    else:
        stands = number(gauge.shown(ground.stands), 2)
        parts = [f"gas {stands} to {number(shown, 2)}{instead} by {clock(deadline or t + 20)}"]
    if felt is not None:
        parts.append(f"bites from {clock(felt)}")
    parts.append(_effect(outlook, aim, after))
    spread = (aim.now.q10, aim.now.median, aim.now.q90), (after.q10, after.median, after.q90)
    return Advice(
        "; ".join(parts), control="gas", value=value, shown=shown, deadline=deadline, bites=felt,
        crack_before=spread[0], crack_after=spread[1], sure=sure, kind="move",
    )  # fmt: skip


def _effect(outlook: Outlook, aim: Aim, after: Distribution) -> str:
    if aim.what == "crack":
        return (
            f"crack {clock(aim.now.median)} to {clock(after.median)} ({clock(after.q10)}-{clock(after.q90)}), "
            f"plan {clock(aim.plan)}"
        )
    unit = outlook.profile.unit
    show = [number(from_celsius(x, unit), 0) for x in (aim.now.median, after.median, after.q10, after.q90, aim.plan)]
    return f"drop {show[0]} to {show[1]} °{unit} ({show[2]}-{show[3]}), plan {show[4]}"


def _leave(outlook: Outlook, t: float, roast: Roast, forecast: Forecast, aim: Aim) -> Advice:
    """Inside tolerance; said where the probe is off the band and comes back by itself."""
    profile = outlook.profile
    band = profile.band(t, profile.planned_phase(t))
    if forecast.deviation is not None and abs(forecast.deviation) > band and aim.what == "crack":
        return Advice(f"leave it: coming back by itself, crack {clock(aim.now.median)}", kind="recovering")
    return Advice("", kind="leave")


def _time_left(aim: Aim, t: float) -> bool:
    return aim.what == "crack" and aim.now.median - t > 90.0


def _too_late(aim: Aim) -> str:
    return "too late for crack; look after drop" if aim.what == "crack" else "too late to change; drop by eye and nose"


def _what(aim: Aim) -> str:
    return f"crack {clock(aim.now.median)}, plan {clock(aim.plan)}" if aim.what == "crack" else "drop off plan"


def last_own(outlook: Outlook, roast: Roast, t: float) -> Turned | None:
    """The last move of gas or air until ``t`` that is not a planned one made about its time."""
    for move in reversed(roast.moves):
        if move.t > t or move.control == "drum" or move.t <= 1.0:
            continue
        if not is_planned(outlook.profile, roast, move):
            return move
    return None


def _answered(advice: Advice, roast: Roast, t: float) -> Turned | None:
    """The move that followed an advice."""
    for move in roast.moves:
        near = advice.value is not None and abs(move.value - advice.value) <= 0.02 * max(advice.value, 0.1)
        if move.control == advice.control and move.t <= t and near:
            return move
    return None


# -- what one step does ------------------------------------------------------------------------------------------------


def sensitivity(outlook: Outlook, t: float, roast: Roast, forecast: Forecast) -> str:
    """What one step of the gas does to crack, or after it to the temperature at drop, in one line; '' if unknown."""
    aim, gauge = aim_of(outlook, roast, forecast), Gauge.of(outlook.profile, roast, "gas")
    ground = ground_of(outlook, t, roast)
    if aim is None or gauge is None or ground is None:
        return ""
    start = gauge.steps(ground.base)
    direction = -1 if gauge.allows(start - 1) else 1
    found = _judged(outlook, t, roast, aim, ground, gauge.value(start + direction))
    if found is None:
        return ""
    change = abs(found[1].median - aim.now.median)
    felt = bites(found[3])
    count = outlook.knowledge.count
    basis = f"{count} roast{'s' if count != 1 else ''}" if count else "no roasts yet"
    what = f"crack {change:.0f} s" if aim.what == "crack" else f"drop {from_kelvins(change, outlook.profile.unit):.1f}°"
    when = "not felt in time" if felt is None or change < 0.05 else f"felt in {felt - ground.moment:.0f} s"
    until = gauge.next_planned(outlook.profile, ground.moment)
    return f"each {number(gauge.step, 3)} of gas: {what}, {when}{f', until {clock(until)}' if until else ''} ({basis})"


# -- through the crack -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Pulse:
    """A flame-off pulse, or none: when the gas goes off and on again (roast times, s), and what comes of it: drop
    temperature (°C) and time (s), and how likely the roast stalls or races before drop."""

    off: tuple[float, ...]
    on: tuple[float, ...]
    temperature: Distribution
    time: Distribution
    stall: float
    racing: float


PULSES: Final = ((), (10.0,), (20.0,), (30.0,), (10.0, 10.0))
"""Lengths of the pulses compared, s; pairs lie 20 s apart."""


def pulses(outlook: Outlook, t: float, roast: Roast) -> list[Pulse]:
    """What short flame-off pulses from now on would do, each beside the gas as it stands.  Empty if unknown.

    The pilot, the maker's manual and local codes decide whether a flame may be put out and lit again in a roast.
    """
    current = roast.setting("gas", t)
    out: list[Pulse] = []
    if current is None or current <= 0:
        return out
    for lengths in PULSES:
        at, off, on = t + MADE_IN, [], []
        for length in lengths:
            off.append(at)
            on.append(at + length)
            at += length + 20.0
        moves = tuple(m for a, b in zip(off, on, strict=True) for m in ((a, "gas", 0.0), (b, "gas", current)))
        forecast = outlook.what_if(t, roast, moves).forecast  # type: ignore[arg-type]
        if forecast.drop is None:
            continue
        out.append(Pulse(tuple(off), tuple(on), forecast.drop.temperature, forecast.drop.time,
                         forecast.stall or 0.0, forecast.racing or 0.0))  # fmt: skip
    return out
