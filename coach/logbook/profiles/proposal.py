"""Proposal for the next roast: one small change, computed with the coach's own model, never made by itself.  Pure."""

from __future__ import annotations

from typing import Final

import numpy as np

from coach.forecast.control_inputs import Plan, Schedule
from coach.forecast.estimator import advance, start
from coach.forecast.knowledge import Knowledge
from coach.forecast.predictor import Outlook
from coach.forecast.projection import look_ahead
from coach.logbook.review.review import moves_off
from coach.roast.profile import Profile, Step
from coach.roast.roast import Roast
from coach.roast.units import clock, number

SHARE: Final = 0.2
"""Largest share of the gap that is closed in one step: much of one roast's gap is chance, and a correction for chance
adds to the next one's."""
FULL_EFFECT: Final = 120.0
"""Time before first crack by which a gas move takes full effect, about, s."""
SMALL: Final = 0.5
"""Share of the tolerance below which a gap needs no change."""
TRIED: Final = 0.05
"""Share of a gas setting whose effect the model is asked for."""
ODD: Final = 0.25
"""Share of the crack's time beyond which a gap is no reason for a change: something else was wrong."""


def proposal(profile: Profile, roast: Roast, knowledge: Knowledge) -> str:
    """One change for the next roast of this profile, or the reason for none, in words."""
    goal, crack = profile.goals.get("first crack"), roast.marks.get("first crack")
    if goal is None or crack is None:
        return "Without a first crack in plan and roast there is nothing to go by."
    gap = crack - goal.time
    if abs(gap) < SMALL * goal.time_tolerance:
        off = f"within {clock(abs(gap))} of the plan" if abs(gap) >= 1 else "as planned"
        return f"First crack came {off}: change nothing{_rule_not_kept(profile, roast)}."
    came = f"First crack came {clock(abs(gap))} {'late' if gap > 0 else 'early'}"
    if abs(gap) > ODD * goal.time:
        return (
            f"{came}: too far off for a change of gas. Check the mark, the charge and the moves, and change nothing by "
            "this roast."
        )
    if missed := _missed(profile, roast, crack):
        return f"{came}, and {missed}. Make the plan's moves first."
    settings = [s for s in profile.steps if s.control == "gas" and s.time <= goal.time - FULL_EFFECT and s.value > 0]
    if not settings:
        return f"{came}; the plan has no gas move that could act."
    return f"{came}; {_other_gas(profile, knowledge, settings[-1], gap)}"


def _rule_not_kept(profile: Profile, roast: Roast) -> str:
    """Remark that development was far from the plan's, where the plan drops by it; '' elsewhere."""
    actual, planned, d = roast.development, profile.development, profile.document.drop
    if actual is None or planned is None or d.by != "development" or abs(actual - planned) <= d.time_tolerance:
        return ""
    word = "longer" if actual > planned else "shorter"
    return (
        f"; but development was {clock(abs(actual - planned))} {word} than its rule: drop {clock(planned)} after crack"
    )


def _missed(profile: Profile, roast: Roast, crack: float) -> str:
    """The first planned gas move that was not made as planned, in words; '' where there is none, or none was logged."""
    if not any(m.control == "gas" for m in roast.moves):
        return ""
    off = moves_off(profile, roast)
    return next((text for step, _, text in off if step.control == "gas" and step.time <= crack - 60), "")


def _other_gas(profile: Profile, knowledge: Knowledge, step: Step, gap: float) -> str:
    """Another value of a planned gas setting, in whole steps of the gas, against a ``gap`` (s, late is positive)."""
    shift = crack_shift(profile, knowledge, step, 1 + TRIED)
    if shift is None or shift >= -0.5:
        return "the model can't say what gas would do: change nothing."
    document = profile.document
    tick = document.limits.gas_step or 10.0 ** -len(number(step.shown, 4).partition(".")[2])
    per_tick = shift * tick / (TRIED * step.shown)  # the model is near linear so close to the plan
    ticks = int(SHARE * gap / -per_tick + np.copysign(1e-9, gap))
    if ticks == 0:
        return "a fifth of that is less than one step of gas: change nothing yet."
    value, limits = step.shown + ticks * tick, document.limits.gas
    if limits is not None and not limits[0] <= value <= limits[1]:
        return "gas is at the end of its range."
    effect = ticks * per_tick
    return (
        f"try gas {number(value, 3)} instead of {number(step.shown, 3)} {document.pressure_unit} at "
        f"{clock(step.time)}: by the model about {number(abs(effect), 0)} s {'earlier' if effect < 0 else 'later'}, "
        f"{round(100 * abs(effect / gap))} % of the gap."
    )


def crack_shift(profile: Profile, knowledge: Knowledge, step: Step, factor: float) -> float | None:
    """Shift of first crack (s, later is positive) when one planned gas step is ``factor`` times as high until the next.

    The model's answer to the step alone, at the plan's crack temperature; None where the plan rises too little there.
    """
    goal, plan = profile.goals["first crack"], Plan(profile)
    slope = profile.curve.slope(goal.time, 30.0)
    if slope < 0.01:
        return None
    change = plan.input("gas", step.value * factor) - plan.input("gas", step.value)
    after = min((s.time for s in profile.steps if s.control == "gas" and s.time > step.time), default=1e6)
    model = Outlook(profile, knowledge, 1.0).model
    schedule = Schedule(np.array([step.time, after]), np.array([[change, 0.0, 0.0], [0.0, 0.0, 0.0]]))
    none = Schedule(np.zeros(0), np.zeros((0, 3)))
    path = look_ahead(model, advance(model, start(model), none, max(step.time - 1.0, 0.0)), schedule).path
    deviation = float(np.interp(goal.time, path.t, path.mean)) - profile.curve.value(goal.time)
    return -deviation / slope
