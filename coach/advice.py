"""Advice: one move of the gas, or of the air, that brings crack, or after it the drop, back to plan; or the reason for
none.  Pure.

Every candidate is a what-if of the forecast itself, so advice and forecast can't disagree.  What a move is worth is how
much smaller it makes the expected miss, over the whole distribution: where little is known, little is gained.  It is a
proposal to a person who knows the roaster.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from scipy.special import ndtr

from coach.advice_leave import surely_left
from coach.advice_words import coming_back, likely, move_text, no_room, none_helps, small, then, too_late, within
from coach.aims import Aim, aim_of
from coach.distribution import Distribution
from coach.forecast_types import Forecast
from coach.gauge import Gauge
from coach.inputs import NEAR, ORDER, OVERDUE, answered, is_planned
from coach.outlook import Outlook, WhatIf
from coach.profile import Profile, Step
from coach.pulses import Pulse, pulses
from coach.roast import Roast, Turned
from coach.situation import Advice
from coach.units import clock, from_kelvins, number

__all__ = ["Pulse", "advise", "pulses", "sensitivity"]

Lever = Literal["gas", "air"]

MADE_IN: Final = 10.0
"""How long after it is given a move is presumed to be made, s."""
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
BITE: Final = 0.4
"""A move is felt when it has changed the probe by this much, K."""
SETTLE: Final = 60.0
"""A move of the person's own gets this long before another is advised, s."""
SOON: Final = NEAR
"""A planned move that is due within this is part of what advice starts from, s: made now, the advised move stands for
it (``inputs.answered``)."""
LARGEST: Final = 0.3
"""No move is advised that changes a control by more than this share of the highest planned."""
TURNED: Final = 30.0
"""Until so long after the reference's turning point the readings say little of the roast, s."""
DEADLINES: Final = (20.0, 40.0, 60.0)
LEARNT: Final = 3
"""So many roasts must stand behind what the air does before a move of it is advised."""
CLAIMED: Final = 0.9
"""That it is best left alone, or too late, or coming back by itself is said where it is at least this sure."""
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
    look = Look(outlook, t, roast, aim, _asked(aim, t), GAINS["drop" if aim.what == "drop" else "late"])
    standing = before if before is not None and before.kind == "move" and before.deadline is not None else None
    if standing is not None and standing.deadline is not None and t > standing.deadline:
        if _answered(standing, roast, t) is None and abs(aim.off) > aim.tolerance and not _time_left(aim, t):
            late = _claimed(look, Advice(too_late(aim), kind="too late"))
            if late.kind == "too late":
                return late
        standing = None
    asked = look.asked
    inside = aim.what == "drop" and abs(aim.off) <= INSIDE * aim.tolerance
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


@dataclass(frozen=True)
class Ground:
    """Where an advised move starts from: the control as it stands and as it would stand without it (core units; another
    where a planned move is due just now), and the moment at which it is presumed to be made (roast time, s)."""

    stands: float
    base: float
    moment: float
    step: Step | None = None
    """The planned move that is due just now."""
    next_due: float = np.inf
    """When the control's next planned move after that is due (roast time, s)."""


def ground_of(profile: Profile, t: float, roast: Roast, control: Lever = "gas") -> Ground | None:
    """Where a control stands and is about to stand; None when it was never told."""
    current = roast.setting(control, t)
    if current is None:
        return None
    coming = [
        s
        for s in profile.steps
        if s.control == control and s.time > t - OVERDUE and not answered(profile, roast, s, s.time, t)
    ]
    later = next((s.time for s in coming if s.time > t + SOON), np.inf)
    if coming and coming[0].time <= t + SOON:
        step = coming[0]
        return Ground(current, step.value, max(step.time, t + MADE_IN), step, later)
    # so shortly before the next one's time that it isn't taken for it (``inputs.answered``)
    return Ground(current, current, max(min(t + MADE_IN, later - NEAR), t), None, later)


@dataclass(frozen=True)
class Pull:
    """A control that can be moved: its gauge, and where it stands."""

    gauge: Gauge
    ground: Ground


@dataclass(frozen=True)
class Judged:
    """A setting (core units), what the aim then comes to, how sure the sign of that is, and the what-if itself."""

    value: float
    after: Distribution
    gain: float
    sure: float
    what_if: WhatIf


@dataclass(frozen=True)
class Look:
    """One moment looked at for a move: what it is about, and what it must gain."""

    outlook: Outlook
    t: float
    roast: Roast
    aim: Aim
    asked: float
    least: float
    """What a move must gain where there won't be another chance."""

    def lever(self, control: Lever) -> Pull | None:
        """A control that can be moved; None where it has no gauge or was never told."""
        gauge = Gauge.of(self.outlook.profile, self.roast, control)
        ground = ground_of(self.outlook.profile, self.t, self.roast, control)
        return None if gauge is None or ground is None else Pull(gauge, ground)

    def judged(self, lever: Pull, value: float, moment: float | None = None) -> Judged | None:
        """What a setting would do, made at ``moment`` (roast time, s)."""
        at = lever.ground.moment if moment is None else moment
        control: Lever = lever.gauge.control
        what_if = self.outlook.what_if(
            self.t, self.roast, ((at, control, value),), crack_only=self.aim.what == "crack" and self.aim.drop is None
        )
        after, drop = self.aim.of(what_if.forecast), what_if.forecast.drop
        if after is None:
            return None
        gain = self.aim.gain(after, None if drop is None else drop.temperature)
        return Judged(value, after, gain, sure_of(what_if, control), what_if)


def sure_of(what_if: WhatIf, control: Lever) -> float:
    """How sure the sign of a control's gain is: the larger of the mixture's shares on either side of zero."""
    i = 2 + ORDER.index(control)
    gain, sd = what_if.state.x[:, i], np.sqrt(what_if.state.P[:, i, i])
    up = float(what_if.state.weights @ ndtr(gain / sd))
    return up if control == "gas" else max(up, 1.0 - up)


def _fresh(look: Look) -> Advice:
    gas = look.lever("gas")
    if gas is None:
        return Advice("log the gas as it stands, then there is advice", kind="unsure")
    found = _best(look, gas, -1 if look.aim.wants_less else 1)
    if isinstance(found, Judged) and gas.ground.next_due < look.t + SOON + DEADLINES[0]:
        return Advice(then(gas.ground.next_due), kind="wait")  # made a little late it would stand for that one
    if isinstance(found, Judged):
        return _said(look, gas, found, _deadline(look, gas, found))
    air = _by_air(look) if found.kind in ("no room", "leave") else None
    return air or _claimed(look, found)


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


def _by_air(look: Look) -> Advice | None:
    """A move of the air, where the gas can't do it and enough roasts stand behind what the air does."""
    air = look.lever("air")
    if air is None or look.outlook.knowledge.count < LEARNT:
        return None
    start = air.gauge.steps(air.ground.base)
    one = look.judged(air, air.gauge.value(start + 1))
    if one is None:
        return None
    up = float(one.after.median - look.aim.now.median)
    found = _best(look, air, 1 if (up > 0) == (look.aim.off < 0) else -1)
    return _said(look, air, found, _deadline(look, air, found)) if isinstance(found, Judged) else None


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


def bites(what_if: WhatIf) -> float | None:
    """When a move is felt on the probe (roast time, s); None if not within the time looked at."""
    change = np.abs(what_if.path.mean - what_if.without.mean) >= BITE
    return float(what_if.path.t[int(np.argmax(change))]) if change.any() else None


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
        inside = aim.now.cdf(aim.plan + aim.tolerance) - aim.now.cdf(aim.plan - aim.tolerance)
        if inside >= CLAIMED:
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
