"""Advice: one move of the gas, or of the air, that brings crack, or after it the drop, back to plan; or the reason for
none.  Pure.

Every candidate is a what-if of the forecast itself, so advice and forecast can't disagree.  What a move is worth is how
much smaller it makes the expected miss, over the whole distribution: where little is known, little is gained.  It is a
proposal to a person who knows the roaster.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from coach.advice.candidates import (
    MADE_IN,
    SOON,
    Judged,
    Look,
    Pull,
    bites,
    learnt,
)
from coach.advice.flame_off import Pulse, pulses
from coach.advice.leave_alone import surely_left
from coach.advice.objective import Aim, aim_of
from coach.advice.values import Advice
from coach.advice.wording import coming_back, likely, move_text, no_room, none_helps, small, then, too_late, within
from coach.forecast.control_inputs import is_planned
from coach.forecast.predictor import Outlook
from coach.forecast.values import Forecast
from coach.roast.roast import Roast, Turned
from coach.roast.units import clock, from_kelvins, number

__all__ = ["Pulse", "advise", "pulses", "sensitivity"]


EARLY: Final = 210.0
"""With more time than this before the crack there will be another look, s."""
GAINS: Final = {"early": 3.0, "late": 1.5, "drop": 0.3}
"""What a move must gain of the expected miss to be advised: long before crack and later (s), and of the drop (K)."""
STANDS: Final = 0.5
"""An advice stands while it gains this share of what is asked of a new one."""
SIMPLER: Final = 0.15
"""A step more must gain this share of what is asked of a move."""
INSIDE: Final = 0.5
"""Within this share of its tolerance the drop is left alone."""
SHARE: Final = 0.15
"""And at least this share of what being right on the plan would gain: a large move for little is not advised."""
SURE: Final = 0.9
"""The sign of what a move does must be at least this sure."""
SETTLE: Final = 60.0
"""A move of the person's own gets this long before another is advised, s."""
LARGEST: Final = 0.3
"""No move is advised that changes a control by more than this share of the highest planned."""
TURNED: Final = 30.0
"""Until so long after the reference's turning point the readings say little of the roast, s."""
DEADLINES: Final = (20.0, 40.0, 60.0)
CLAIMED: Final = 0.9
"""That it is best left alone, or too late, or coming back by itself is said where it is at least this sure; and a crack
that comes within its tolerance as surely is left alone."""
NO_TIME: Final = 90.0
"""Nearer to the crack than this it is too late for a move to do much, s."""


def advise(
    outlook: Outlook, t: float, roast: Roast, forecast: Forecast, age: float | None, before: Advice | None = None
) -> Advice | None:
    """The advice at roast time ``t`` (s); None while nothing can be forecast.

    ``age``: of the last reading, s.  ``before``: the advice that stood until now; a move that still serves is kept, so
    that its amount and deadline don't wander.
    """
    profile = outlook.profile
    aim = None if roast.phase == "cooling" else aim_of(profile, roast, forecast)
    if aim is None:
        return None
    if t < profile.curve.turning_point[0] + TURNED:
        return Advice("")
    if t > profile.curve.end and not aim.wants_less:
        return Advice(f"the plan ended at {clock(profile.curve.end)}: no more heat by it")
    look = Look(outlook, t, roast, aim, _asked(aim, t), GAINS["drop" if aim.what == "drop" else "late"])
    standing = before if before is not None and before.kind == "move" and before.deadline is not None else None
    if standing is not None and standing.deadline is not None and t > standing.deadline:
        if _answered(standing, roast, t) is None and abs(aim.off) > aim.tolerance and not _time_left(aim, t):
            late = _claimed(look, Advice(too_late(aim), kind="too late"))
            if late.kind == "too late":
                return late
        standing = None
    asked = look.asked
    inside = abs(aim.off) <= INSIDE * aim.tolerance if aim.what == "drop" else aim.inside >= CLAIMED
    cadence = float(getattr(profile.document.cadence, roast.phase, 60.0))
    stale = age is None or age > max(2 * cadence, 60.0)
    if inside or aim.most < (STANDS if standing is not None else 1.0) * asked:
        return Advice(within(aim)) if stale else _nothing(look, forecast)
    if stale:
        return Advice("a reading first, then advice", kind="wait")
    own = last_own(outlook, roast, t)
    if own is not None and t < own.t + SETTLE:
        return Advice(
            f"{own.control} of {clock(own.t)} is still acting: wait until {clock(own.t + SETTLE)}", kind="wait"
        )
    if standing is not None and standing.control is not None and standing.value is not None:
        lever = look.lever(standing.control)
        kept = None if lever is None else look.judged(lever, standing.value)
        if lever is not None and kept is not None and kept.sure >= SURE and kept.gain >= STANDS * asked:
            return _said(look, lever, kept, standing.deadline)
    return _fresh(look)


def _asked(aim: Aim, t: float) -> float:
    """What a move must gain of the expected miss, s or K."""
    if aim.what == "drop":
        return GAINS["drop"]
    return GAINS["early" if aim.now.median - t > EARLY else "late"]


def _fresh(look: Look) -> Advice:
    gas = look.lever("gas")
    if gas is None:
        return Advice("log the gas as it stands, then there is advice", kind="unsure")
    found = _best(look, gas, -1 if look.aim.wants_less else 1)
    by = look.outlook.profile.document.advice_by
    none = not isinstance(found, Judged)
    if by != "gas" or (isinstance(found, Advice) and found.kind in ("no room", "leave")):
        air = _by_air(look)
        if air is not None and (none or _rather(by, look, air[1], found)):
            return _when_clear(look, *air)
    if isinstance(found, Judged):
        return _when_clear(look, gas, found)
    return _claimed(look, found)


def _rather(by: str, look: Look, air: Judged, gas: Judged | Advice) -> bool:
    """Whether the air is moved where the gas would serve, too."""
    if not isinstance(gas, Judged) or by == "gas":
        return not isinstance(gas, Judged)
    if by == "air":
        return air.gain >= STANDS * gas.gain
    return air.gain > gas.gain + SIMPLER * look.asked


def _when_clear(look: Look, lever: Pull, found: Judged) -> Advice:
    """The move, but not so shortly before a planned one that, made a little late, it would stand for that one."""
    due = lever.ground.next_due
    if due < look.t + SOON + DEADLINES[0]:
        return Advice(then(due), kind="wait")
    return _said(look, lever, found, _deadline(look, lever, found))


def _claimed(look: Look, said: Advice) -> Advice:
    """What was to be said of there being no move; where that claims more than is known, that none is advised."""
    if said.kind not in ("leave", "too late") or look.aim.what == "drop":
        return said
    left = _left(look)
    if left is None or left < CLAIMED:
        return Advice(small(look.aim), kind="quiet", left=left)
    return replace(said, left=left)


def _left(look: Look) -> float | None:
    """How likely no step of the gas would do clearly better; None where nobody can say."""
    only = replace(look, aim=replace(look.aim, drop=None))
    gas = only.lever("gas")
    return None if gas is None else surely_left(only, gas, LARGEST, CLAIMED)


def _best(look: Look, lever: Pull, direction: int) -> Judged | Advice:
    """The step count that makes the expected miss smallest, the smaller where they are about alike; or why none."""
    aim, gauge = look.aim, lever.gauge
    start = gauge.steps(lever.ground.base)
    one = look.judged(lever, gauge.value(start + direction))
    if one is None or not gauge.allows(start + direction):
        return Advice(no_room(aim), kind="no room")
    if one.sure < SURE:
        return Advice(f"too little is known of what the {gauge.control} does here to say how far", kind="unsure")
    each = one.after.median - aim.now.median
    if abs(each) < 1e-3:
        return Advice(too_late(aim), kind="too late")
    most = gauge.most(start, direction, LARGEST)
    wanted = int(np.clip(round(-aim.off / each), 1, most))
    best = one
    for count in sorted({max(wanted - 1, 1), wanted, min(wanted + 1, most)}):
        steps = start + direction * count
        found = one if count == 1 else look.judged(lever, gauge.value(steps)) if gauge.allows(steps) else None
        if found is not None and found.gain > best.gain + SIMPLER * look.asked:
            best = found
    at_limit = abs(gauge.steps(best.value) - start) > most - 0.5
    asked = look.least if at_limit else look.asked  # another look would find no more room
    if best.gain >= max(asked, SHARE * aim.most):
        return best
    if aim.what == "drop":  # too late where the largest move allowed hardly changes it
        return Advice(too_late(aim), kind="too late") if abs(each) * most < GAINS["drop"] else Advice(small(aim))
    if not _time_left(aim, look.t):
        return Advice(too_late(aim), kind="too late")
    if best.gain >= look.least:  # worth another look, not yet a move
        return Advice(small(aim))
    return Advice(none_helps(aim), kind="leave")


def _by_air(look: Look) -> tuple[Pull, Judged] | None:
    """A move of the air, where roasts have taught what it does."""
    air = look.lever("air")
    if air is None or not learnt(look.outlook, "air"):
        return None
    start = air.gauge.steps(air.ground.base)
    for way in (1, -1):
        one = look.judged(air, air.gauge.value(start + way))
        if one is None:
            return None
        moves = float(one.after.median - look.aim.now.median)
        if moves * look.aim.off < 0:
            found = _best(look, air, way)
            return (air, found) if isinstance(found, Judged) else None
    return None


def _deadline(look: Look, lever: Pull, best: Judged) -> float:
    """The last moment at which the same move still does most of its good."""
    start = lever.ground.moment - MADE_IN
    last = start + DEADLINES[0]
    for wait in DEADLINES[1:]:
        if start + wait > lever.ground.next_due - SOON:
            break
        late = look.judged(lever, best.value, start + wait)
        if late is None or late.gain < max(0.6 * best.gain, STANDS * look.asked):
            break
        last = start + wait
    return last


def _said(look: Look, lever: Pull, found: Judged, deadline: float | None) -> Advice:
    aim, ground, felt = look.aim, lever.ground, bites(found.what_if)
    by = look.t + DEADLINES[0] if deadline is None else deadline
    text = move_text(
        look.outlook.profile, aim, lever.gauge, stands=ground.stands, base=ground.base, value=found.value,
        moment=ground.moment, deadline=by, bites=felt, after=found.after,
    )  # fmt: skip
    now, after = aim.now, found.after
    return Advice(
        text, control=lever.gauge.control, value=found.value, shown=lever.gauge.shown(found.value), deadline=deadline,
        bites=felt, crack_before=(now.q10, now.median, now.q90), crack_after=(after.q10, after.median, after.q90),
        sure=found.sure, kind="move", instead=ground.step,
    )  # fmt: skip


def _nothing(look: Look, forecast: Forecast) -> Advice:
    """Too little to gain for a move: what can be said of that."""
    aim, t, profile = look.aim, look.t, look.outlook.profile
    if aim.what == "drop":
        return Advice(within(aim))
    left = _left(look)
    surely = left is not None and left >= CLAIMED
    band = profile.band(t, profile.planned_phase(t))
    if forecast.deviation is not None and abs(forecast.deviation) > band:
        if aim.inside >= CLAIMED:
            return Advice(coming_back(aim, surely=surely), kind="recovering", left=left)
        return Advice(likely(aim), left=left)
    if surely:
        return Advice(none_helps(aim), kind="leave", left=left)
    return Advice(within(aim), left=left)


def _time_left(aim: Aim, t: float) -> bool:
    return aim.what == "crack" and aim.now.median - t > NO_TIME


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
    """What one step of the gas does to crack, or after it to the temperature at drop, in one line; '' if unknown.

    The same what-if as ``advise`` asks first: the outlook works it out once.
    """
    aim = aim_of(outlook.profile, roast, forecast)
    if aim is None:
        return ""
    look = Look(outlook, t, roast, aim, 0.0, 0.0)
    gas = look.lever("gas")
    if gas is None:
        return ""
    start = gas.gauge.steps(gas.ground.base)
    way = -1 if aim.wants_less else 1
    way = way if gas.gauge.allows(start + way) else -way
    found = look.judged(gas, gas.gauge.value(start + way))
    if found is None:
        return ""
    change = abs(found.after.median - aim.now.median)
    felt = bites(found.what_if)
    count = outlook.knowledge.count
    basis = f"{count} roast{'s' if count != 1 else ''}" if count else "no roasts yet"
    what = f"crack {change:.0f} s" if aim.what == "crack" else f"drop {from_kelvins(change, outlook.profile.unit):.1f}°"
    early = felt is not None and change >= 0.05 and (aim.what == "drop" or felt < aim.now.median)
    when = f"felt in {(felt or 0.0) - gas.ground.moment:.0f} s" if early else "not felt in time"
    until = gas.gauge.next_planned(outlook.profile, gas.ground.moment)
    step = number(gas.gauge.step, 3)
    return f"each {step} of gas: {what}, {when}{f', until {clock(until)}' if until else ''} ({basis})"
