"""Requests to the person: the next reading where it matters, and what about today is odd or stuck.  Pure."""

from __future__ import annotations

from dataclasses import replace
from itertools import takewhile
from typing import Final

import numpy as np

from coach.forecast.control_inputs import Schedule
from coach.forecast.estimator import BankState, Model, Response, advance
from coach.forecast.forecast_values import Forecast
from coach.roast.profile import Profile
from coach.roast.roast import Roast, until
from coach.roast.units import apart, clock, from_celsius, number

MOVES: Final = 10.0
"""Shift of the crack's median, s: a reading matters when it may well (one in five) move it by more than this."""
MOVES_NEAR: Final = 6.0
"""The same while a crack cue hangs in the balance, s."""
CLOSE: Final = 240.0
MOVES_CLOSE: Final = 4.0
"""Time before the crack's median, s, and the same shift from then on, s: little time is left to mend a forecast."""
NEARLY: Final = 0.6
"""Probability from which on the next reading decides whether a crack cue is heard, which takes two, ..."""
MOVES_DECIDES: Final = 0.5
"""... so that it matters when it moves the crack's median by more than this, s, ..."""
TO_ACT: Final = 60.0
"""... as long as so much time is left, s."""
SETTLED: Final = 75.0
"""Delay after the turning point of the first reading that is evidence on the crack, s."""
ONE_IN_FIVE: Final = 1.2816
"""Two-sided: a normal lies further than this many standard deviations out once in five times."""
GAPS: Final = (15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 75.0, 90.0)
"""Seconds since the last reading at which one is checked for whether it would matter; the last is the longest wait."""
BALANCE: Final = (0.3, 0.8)
"""A crack cue hangs in the balance at these probabilities."""
BEFORE_CRACK: Final = 20.0
"""Time before the crack's median to which a reading is put off at the latest, s."""


def next_reading(
    model: Model, state: BankState, schedule: Schedule, forecast: Forecast, profile: Profile
) -> float | None:
    """Roast time at which the next reading would matter, s; None where only the fixed cadence decides.

    A reading at u moves the projected probe at the crack by a normal of variance cov² / (var + R): the
    part that the reading would explain there.  That over the rate of rise is how far the crack's time may move.
    """
    crack = forecast.first_crack
    if crack is None or forecast.path is None or state.reading_t is None:
        return None
    meets = crack.time.median
    settled = profile.curve.turning_point[0] + SETTLED
    if state.t < settled - GAPS[0]:
        return max(settled, state.reading_t + GAPS[0])
    rate = max(float(np.interp(meets, forecast.path.t, forecast.path.rate)), 0.03)
    chance = max(crack.p_early or 0.0, crack.p_late or 0.0)
    allowed = MOVES_NEAR if BALANCE[0] <= chance <= BALANCE[1] else MOVES
    if meets - state.t < CLOSE:
        decides = chance >= NEARLY and meets - state.t > TO_ACT
        allowed = MOVES_DECIDES if decides else MOVES_CLOSE
    w = state.weights
    bare = replace(state, steps=None)  # what may not have been logged plays no part
    for gap in GAPS:
        u = state.reading_t + gap
        if u < state.t:
            continue
        if u >= meets - BEFORE_CRACK:
            return max(u, state.t)
        then = advance(model, bare, schedule, u)
        response = Response.over(model, u, np.array([meets - u]))
        to_crack = np.stack([response.decay[:, 0], response.drift[:, 0]], axis=1)
        means = np.einsum("mi,mi->m", to_crack, then.x[:, :2])
        here = then.x[:, 0]
        var = w @ (then.P[:, 0, 0] + model.noise(u) + (here - w @ here) ** 2)
        cov = w @ (np.einsum("mi,mi->m", to_crack, then.P[:, :2, 0]) + (here - w @ here) * (means - w @ means))
        if ONE_IN_FIVE * abs(float(cov)) / np.sqrt(float(var)) / rate > allowed:
            return u
        band = profile.band(u, profile.planned_phase(u))
        off, sd = abs(float(w @ here)), float(np.sqrt(w @ then.P[:, 0, 0]))
        if off - sd < band < off + sd:  # it may leave the band, or be back in it
            return u
    return state.reading_t + GAPS[-1]


CHARGE_OFF: Final = 3.0
"""Tolerances beyond which the charge is odd."""
BATCH_OFF: Final = 0.06
"""Share by which the weight differs beyond which the batch is odd."""
WILD: Final = 4.0
"""Smoothed squared surprise, in multiples of what it should be, beyond which the readings are odd."""
FAR: Final = 12.0
"""Deviation from the reference after the turning point beyond which the roast is odd, K."""
LIKELIER: Final = 2.2
"""Log likelihood ratio of the readings with and without an unlogged move from which on it is asked about."""
SMALLEST: Final = 0.03
"""... and when the input moved by this much at least."""
SINCE: Final = 2
"""... and so many readings have come since."""
LOGGED_NEAR: Final = 45.0
"""Time within which a logged move explains it, s."""
BETWEEN: Final = 15.0
"""Time after a reading at which a step is dated, s: steps are tried at readings, and it came in between."""
FROM: Final = 150.0
"""Roast time before which the model predicts too little, s."""


def odd(profile: Profile, roast: Roast, state: BankState, forecast: Forecast) -> tuple[str, ...]:
    """Ways in which today is unlike the history, in words; empty when there is none."""
    out: list[str] = []
    unit = roast.header.unit
    charged = roast.charge_reading
    if charged is not None:
        off = charged.celsius - profile.charge_temperature
        if abs(off) > CHARGE_OFF * profile.charge_tolerance:
            out.append(f"charged {apart(off, unit)} too {'hot' if off > 0 else 'cold'}")
    batch = roast.header.batch_kg
    if batch is not None and abs(batch / profile.document.batch_kg - 1) > BATCH_OFF:
        out.append(f"batch of {batch:g} kg, not {profile.document.batch_kg:g}")
    if forecast.deviation is not None and state.t > profile.curve.turning_point[0] + 60.0:
        if abs(forecast.deviation) > FAR:
            out.append(f"{apart(forecast.deviation, unit)} {'above' if forecast.deviation > 0 else 'below'} plan")
        if state.count >= 6 and state.score > WILD:
            out.append("readings scatter")
    return tuple(out)


STILL: Final = 4.0
"""Least move of the reference while three readings or more were the same that makes a still probe, K."""
STILL_BY_TWO: Final = 8.0
"""The same for two readings, K: one of them may be a slip."""
UNTIL_TURN: Final = 30.0
"""Time after the reference's turning point until which a probe may well be still, s."""


def stuck(profile: Profile, roast: Roast, t: float) -> str:
    """The still probe in words, where the last readings up to ``t`` (s) were all the same while the reference moved; ''
    elsewhere.  It is stuck, or the roast has stalled: either way a forecast from its readings is not to be trusted."""
    readings = roast.readings[: until(roast.readings, t)]
    turned = profile.curve.turning_point[0] + UNTIL_TURN
    same = list(takewhile(lambda r: r.celsius == readings[-1].celsius and r.t >= turned, reversed(readings)))
    if len(same) < 2:
        return ""
    since, unit = same[-1].t, profile.unit
    moved = abs(profile.curve.value(readings[-1].t) - profile.curve.value(since))
    if moved < (STILL if len(same) > 2 else STILL_BY_TWO):
        return ""
    shown = f"{number(from_celsius(readings[-1].celsius, unit), 0)} °{unit}"
    return f"{shown} since {clock(since)}: probe stuck, or roast stands still"


def gas_moved(state: BankState, schedule: Schedule) -> float | None:
    """Roast time, s, about which an unlogged move seems to have been made; None when nothing hints at one."""
    if state.t < FROM or state.steps is None:
        return None
    since = state.steps.since
    known = [any(abs(t - x) < LOGGED_NEAR for t in schedule.times if 1.0 < t <= state.t) for x in since]
    fit = (state.steps.count >= SINCE) & ~np.array(known, dtype=bool)
    if not fit.any():
        return None
    log, step = state.steps.odds(state.weights)
    log = np.where(fit, log, -np.inf)
    best = int(np.argmax(log))
    if log[best] < LIKELIER or abs(step[best]) < SMALLEST:
        return None
    p = np.exp(log - log[best])
    return min(float(p @ since / p.sum()) + BETWEEN, state.t)
