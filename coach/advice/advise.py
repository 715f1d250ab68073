"""Advice: one move of the gas that brings the crack, or after it the drop, back to plan; or the reason for none.  Pure.

The move is a rule of two numbers, the estimate's deviation e from the reference (K) and its rate e' (K/s):

    gas = plan's gas x (1 - EACH (e + AHEAD e'))

It needs no model of the roaster: so it works on one that it never met, corrects itself with the next reading, and was
better there than the search for the best what-if of the forecast that it replaced (``bench_advice.py``).  The effect of
a move is another question, answered from ``gas_answer``: a wide range that narrows with the moves logged on this
machine.  Advice is a proposal to a person who knows the roaster.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.advice import wording as words
from coach.advice.advice_values import NO_TIME, Advice, Aim, aim_of
from coach.forecast.control_inputs import NEAR, is_planned, unanswered
from coach.forecast.distribution import Distribution
from coach.forecast.forecast_values import Estimate, Forecast, Path
from coach.forecast.gas_answer import GasAnswer, by_size, shapes, shifted
from coach.forecast.predictor import Outlook
from coach.roast.gauges import Gauge
from coach.roast.profile import Profile, Step
from coach.roast.roast import Roast, Turned
from coach.roast.units import clock

Array = NDArray[np.float64]

EACH: Final = 0.14
"""Change for each kelvin off, as a share of the plan's gas."""
AHEAD: Final = 45.0
"""Time over which the deviation is extrapolated, s."""
LEAST: Final = 0.08
"""Smallest change worth a move, as a share of the gas."""
BEGINS: Final = 150.0
"""Roast time before which, as for ``TURNED`` after the turning point, the readings are too little evidence, s."""
TURNED: Final = 30.0
EARLY: Final = 270.0
EARLY_MOST: Final = 0.15
"""Time left before the crack (s) above which a move changes no more than this share of the gas: where the rest of a
large move is needed, the next readings will show it."""
LARGEST: Final = 0.3
"""Largest change of gas by one move, as a share of the highest planned."""
NO_DROP: Final = 40.0
"""Time to the drop below which it is too late for a move to do much, as ``NO_TIME`` to the crack, s."""
SETTLE: Final = 30.0
"""Time from a move of the person's own until another is advised, s."""
MADE_IN: Final = 10.0
"""Delay from advice until its move is presumed to be made, s."""
STANDS: Final = 25.0
"""Time for which advice stays in force, unchanged while the rule still asks for half of it, s."""
SOON: Final = NEAR
"""Time within which a planned move is due that advice starts from, s: made now, the advised move counts as that one
(``control_inputs.answered``)."""
BITE: Final = 0.4
"""Change of the probe at which a move takes effect, K."""
SURE: Final = 0.8
"""Probability from which on the roast is called off plan, or on it."""
AFTER: Final = 240.0
"""Time beyond the forecast crack until which the effect of a move is computed, s."""
EVERY: Final = 3.0
"""Step at which it is computed, s."""


@dataclass(frozen=True)
class Ground:
    """The start of an advised move: the gas as it is and as it would be without it (kPa; another where a planned move
    is due just now), and the moment from which it would be that, or else at which the advised move is presumed to be
    made (roast time, s)."""

    current: float
    base: float
    moment: float
    soonest: float
    """Time at which a move is presumed to be made if at once, s."""
    step: Step | None = None
    """The planned move that is due just now."""
    next_due: float = np.inf
    """Roast time at which the next planned move after that is due, s."""

    def made(self, value: float) -> float:
        """Roast time (s) at which to set the gas to ``value`` (kPa): at once; as less of a planned move when due."""
        low, high = sorted((self.current, self.base))
        return self.moment if low <= value <= high else self.soonest


def ground_of(profile: Profile, t: float, roast: Roast) -> Ground | None:
    """The start of a move advised at ``t`` (s); None when the gas was never reported."""
    current = roast.setting("gas", t)
    if current is None:
        return None
    coming = unanswered(profile, roast, "gas", t)
    later = next((s.time for s in coming if s.time > t + SOON), np.inf)
    if coming and coming[0].time <= t + SOON:
        step = coming[0]
        return Ground(current, step.value, max(step.time, t + MADE_IN), t + MADE_IN, step, later)
    # so shortly before the next one's time that it isn't taken for it (``control_inputs.answered``)
    soonest = max(min(t + MADE_IN, later - NEAR), t)
    return Ground(current, current, soonest, soonest, None, later)


def advise(
    outlook: Outlook,
    t: float,
    roast: Roast,
    forecast: Forecast,
    estimate: Estimate | None,
    before: Advice | None = None,
    *,
    wider: float = 1.0,
) -> Advice | None:
    """The advice at roast time ``t`` (s); None while nothing can be forecast.

    ``before``: the advice in force until now; a move that still serves is kept, so that its amount and deadline don't
    wander.
    """
    profile = outlook.profile
    aim = None if roast.phase == "cooling" else aim_of(profile, roast, forecast, t)
    if aim is None or estimate is None:
        return None
    if t < max(profile.curve.turning_point[0] + TURNED, BEGINS):
        return Advice("")
    if t > profile.curve.end and not aim.wants_less:
        return Advice(f"the plan ended at {clock(profile.curve.end)}: no more heat by it")
    cadence = float(getattr(profile.document.cadence, roast.phase, 60.0))
    if estimate.age is None or estimate.age > max(2 * cadence, 60.0):
        return Advice("a reading first, then advice", kind="wait")
    gauge, ground = Gauge.of(profile, roast, "gas"), ground_of(profile, t, roast)
    if gauge is None or ground is None:
        return Advice("log the gas as it stands, then there is advice", kind="unsure")
    left = _left(aim, forecast, t)
    if left < (NO_TIME if aim.what == "crack" else NO_DROP):
        late = aim.off_plan(SURE)
        return Advice(words.reason("too late", aim), kind="too late") if late else Advice(words.on_plan(aim))
    own = last_own(outlook, roast, t)
    if own is not None and t < own.t + SETTLE:
        text = f"the gas change of {clock(own.t)} has yet to take effect; next look {clock(own.t + SETTLE)}"
        return Advice(f"Wait: {text}", kind="wait")
    off = _off(outlook, roast, forecast, estimate, aim)
    kept = _kept(before, t, ground, gauge, _asked(profile, t, ground, off))
    value = _value(profile, t, ground, gauge, off, early=left > EARLY) if kept is None else kept
    if value is None or abs(value - ground.base) < 1e-6:
        return _none(profile, aim, gauge, ground, off)
    if ground.next_due - NEAR < ground.moment - 1e-6 or ground.next_due - NEAR < t + MADE_IN:
        text = f"Wait: the {clock(ground.next_due)} gas change comes first; its size is looked at then"
        return Advice(text, kind="wait")
    if forecast.path is None:
        return Advice(words.on_plan(aim))
    answer = outlook.gas_answer(t, roast)
    fit = _short_of_plan(outlook, answer, forecast, forecast.path, aim, gauge, ground, value)
    if fit is None and abs(aim.off) <= aim.tolerance:
        return Advice(words.on_plan(aim))
    if fit is None:
        return Advice(words.reason("less gas" if value < ground.base else "more gas", aim), kind="wait")
    deadline = before.deadline if kept is not None and before is not None else min(t + STANDS, ground.next_due - NEAR)
    return _said(profile, answer, aim, gauge, ground, *fit, deadline or t, wider)


# -- the rule ----------------------------------------------------------------------------------------------------------


def _left(aim: Aim, forecast: Forecast, t: float) -> float:
    """Time left until the aim, s."""
    if aim.what == "crack":
        return aim.now.median - t
    return forecast.drop.time.median - t if forecast.drop is not None else 0.0


def _off(outlook: Outlook, roast: Roast, forecast: Forecast, estimate: Estimate, aim: Aim) -> float:
    """Deviation expected in ``AHEAD`` s, K: from the reference, or where the drop is the aim, from it at that crack."""
    goal, crack = outlook.profile.goals.get("first crack"), roast.marks.get("first crack")
    if aim.late and forecast.first_crack is not None:
        crack = forecast.first_crack.time.median
    at = estimate.t if goal is None or crack is None else estimate.t - (crack - goal.time)
    curve = outlook.model.curve
    return estimate.temperature - curve.value(at) + AHEAD * (estimate.rate - curve.slope(at))


def _planned(profile: Profile, t: float, ground: Ground) -> float:
    """The plan's gas at ``t`` (s), or that of the planned move that is due just now, kPa."""
    if ground.step is not None:
        return ground.step.value
    gas = [s for s in profile.steps if s.control == "gas"]
    return [s.value for s in gas if s.time <= max(t, gas[0].time)][-1] if gas else ground.base


def _asked(profile: Profile, t: float, ground: Ground, off: float) -> float:
    """The gas that the rule asks for, kPa, whatever the gauge allows."""
    return _planned(profile, t, ground) * max(1.0 - EACH * off, 0.0)


def _value(profile: Profile, t: float, ground: Ground, gauge: Gauge, off: float, *, early: bool) -> float | None:
    """The setting to be advised, kPa, on a mark of the gauge and inside its range; None for too small a change."""
    asked, base = _asked(profile, t, ground, off), ground.base
    if early:
        asked = float(np.clip(asked, base * (1 - EARLY_MOST), base * (1 + EARLY_MOST)))
    start, reach = gauge.steps(base), LARGEST * gauge.top / gauge.step
    low, high = np.ceil(gauge.low / gauge.step - 1e-6), np.floor(gauge.high / gauge.step + 1e-6)
    wanted = float(np.clip(gauge.steps(asked), start - reach, start + reach))
    value = gauge.value(float(np.clip(round(wanted), low, high)))
    return value if abs(value - base) > LEAST * max(base, 1e-9) else None


def _kept(before: Advice | None, t: float, ground: Ground, gauge: Gauge, asked: float) -> float | None:
    """The setting that was advised before, kPa, while in force and the rule still asks for half of that change."""
    if (
        before is None
        or before.kind != "move"
        or before.value is None
        or before.deadline is None
        or t > before.deadline
    ):
        return None
    change = before.value - ground.base
    if abs(change) < gauge.value(1) / 2 or not (asked - ground.base) / change >= 0.5:
        return None
    return before.value


def _none(profile: Profile, aim: Aim, gauge: Gauge, ground: Ground, off: float) -> Advice:
    """The reason for no move."""
    if not aim.off_plan(SURE):
        return Advice(words.on_plan(aim), kind="too late" if aim.late else "quiet")
    start, less = gauge.steps(ground.base), off > 0
    if abs(EACH * off) > LEAST and not gauge.allows(start - 1 if less else start + 1):
        return Advice(words.reason("no room", aim), kind="no room")
    return Advice(words.reason("coming back", aim), kind="recovering")


def last_own(outlook: Outlook, roast: Roast, t: float) -> Turned | None:
    """The last move of the gas until ``t`` (s) that is not a planned one made about its time."""
    for move in reversed(roast.moves):
        if 1.0 < move.t <= t and move.control == "gas" and not is_planned(outlook.profile, roast, move):
            return move
    return None


# -- the text of a move ----------------------------------------------------------------------------------------------


def shifts_of(
    outlook: Outlook, answer: GasAnswer, forecast: Forecast, path: Path, aim: Aim, ground: Ground, value: float
) -> tuple[Array, float | None]:
    """Effect of setting the gas to ``value`` (kPa) on the aim's median: the shift by member of the response to gas
    (n,), s or K, and when it takes effect (roast time, s; None where it is too small).  ``path``: the forecast's."""
    current, base, advised = (outlook.plan.input("gas", x) for x in (ground.current, ground.base, value))
    made = ground.made(value)
    end = (aim.now.median + AFTER) if aim.what == "crack" else (forecast.drop.time.median if forecast.drop else 0.0)
    grid = np.arange(made, max(end, made + 4.0), EVERY)
    since_made, since_moment, since_next = (shapes(grid - x) for x in (made, ground.moment, ground.next_due))
    # the gas differs from the present setting until the moment, then from the base until the next planned move
    change = by_size((advised - current) * (since_made - since_moment) + (advised - base) * (since_moment - since_next))
    felt = np.abs(answer.weights @ change) >= BITE
    bites = float(grid[int(np.argmax(felt))]) if felt.any() else None
    if aim.what == "drop":
        return change[:, -1], bites
    mean = np.interp(grid, path.t, path.mean)
    level = float(np.interp(aim.now.median, path.t, path.mean))
    crossed = mean[None, :] + change >= level
    first = np.where(crossed.any(axis=1), np.argmax(crossed, axis=1), len(grid) - 1)
    row = np.arange(len(first))
    v = mean[first] + change[row, first]
    u = mean[np.maximum(first - 1, 0)] + change[row, np.maximum(first - 1, 0)]
    back = np.where(v > u, np.clip((v - level) / np.maximum(v - u, 1e-6), 0.0, 1.0), 0.0)
    return grid[first] - EVERY * back - aim.now.median, bites


def _short_of_plan(
    outlook: Outlook, answer: GasAnswer, forecast: Forecast, path: Path, aim: Aim, gauge: Gauge, ground: Ground,
    value: float,
) -> tuple[float, Array, float | None] | None:  # fmt: skip
    """The setting, reduced mark by mark to one whose stated median passes the plan by no more than its tolerance, and
    by no more than it is off now, kPa, with its effect (``shifts_of``); None where that leaves too small a change."""
    marks, back = gauge.steps(value), 1.0 if value < ground.base else -1.0
    while back * (ground.base - value) > LEAST * max(ground.base, 1e-9):
        shifts, bites = shifts_of(outlook, answer, forecast, path, aim, ground, value)
        shift = float(answer.quantiles(shifts, (0.5,))[0])
        if np.sign(shift) * (aim.off + shift) <= min(aim.tolerance, abs(aim.off)):
            return value, shifts, bites
        marks += back
        value = gauge.value(round(marks))
    return None


def _said(
    profile: Profile, answer: GasAnswer, aim: Aim, gauge: Gauge, ground: Ground, value: float, shifts: Array,
    bites: float | None, deadline: float, wider: float,
) -> Advice:  # fmt: skip
    now, after = aim.now, shifted(aim.now, shifts, answer.weights)
    after = Distribution(after.median + wider * (after.x - after.median), after.p)
    text = words.move_text(
        profile, aim, gauge, current=ground.current, base=ground.base, value=value, moment=ground.moment,
        deadline=None if ground.made(value) > ground.soonest else deadline, bites=bites, after=after,
    )  # fmt: skip
    return Advice(
        text, control="gas", value=value, shown=gauge.shown(value), deadline=deadline, bites=bites,
        crack_before=(now.q10, now.median, now.q90), crack_after=(after.q10, after.median, after.q90), kind="move",
        instead=ground.step,
    )  # fmt: skip


def sensitivity(outlook: Outlook, t: float, roast: Roast, forecast: Forecast) -> str:
    """Effect of one step of the gas on crack, or after it on the temperature at drop, in one line; '' if unknown."""
    aim, gauge = aim_of(outlook.profile, roast, forecast, t), Gauge.of(outlook.profile, roast, "gas")
    ground = ground_of(outlook.profile, t, roast)
    if aim is None or gauge is None or ground is None or forecast.path is None:
        return ""
    start = gauge.steps(ground.base)
    way = -1 if aim.wants_less else 1
    way = way if gauge.allows(start + way) else -way
    answer = outlook.gas_answer(t, roast)
    shifts, bites = shifts_of(outlook, answer, forecast, forecast.path, aim, ground, gauge.value(start + way))
    change = np.sort(np.abs(answer.quantiles(shifts, (0.1, 0.5, 0.9))))
    return words.one_step(outlook.profile, aim, gauge, change, bites, _left(aim, forecast, t) + t)
