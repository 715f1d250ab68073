"""Proposal for the next roast: one small change, computed with the coach's own model, never made by itself.  Pure."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor
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

ODD: Final = 0.25
"""Share of the crack's time beyond which a gap is no reason for a change: something else was wrong."""


@dataclass(frozen=True)
class Proposal:
    """One change, or the reason for none.

    ``value`` and ``planned`` are gas settings in the profile's unit; ``shift`` is the change's effect on first crack, s
    (later is positive); ``gap`` the lateness of crack, s (early is negative).
    """

    text: str
    gap: float | None = None
    at: float | None = None
    planned: float | None = None
    value: float | None = None
    shift: float | None = None


def proposal(profile: Profile, roast: Roast, knowledge: Knowledge) -> Proposal:
    """Propose one change for the next roast of this profile."""
    goal, crack = profile.goals.get("first crack"), roast.marks.get("first crack")
    if goal is None or crack is None:
        return Proposal("Without a first crack in plan and roast there is nothing to go by.")
    gap = crack - goal.time
    word = "late" if gap > 0 else "early"
    if abs(gap) < SMALL * goal.time_tolerance:
        off = f"within {clock(abs(gap))} of the plan" if abs(gap) >= 1 else "as planned"
        near = f"First crack came {off}: change nothing"
        return Proposal(near + _rule_not_kept(profile, roast) + ".", gap)
    if abs(gap) > ODD * goal.time:
        return Proposal(
            f"First crack came {clock(abs(gap))} {word}: too far off for a change of gas. Check the mark, the charge "
            "and the moves, and change nothing by this roast.",
            gap,
        )
    if missed := _missed(profile, roast, crack):
        return Proposal(f"First crack came {clock(abs(gap))} {word}, and {missed}. Make the plan's moves first.", gap)
    step = _step(profile, goal.time)
    if step is None:
        return Proposal(f"First crack came {clock(abs(gap))} {word}; the plan has no gas move that could act.", gap)
    return _by_model(profile, knowledge, step, gap, word)


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


def _step(profile: Profile, crack: float) -> Step | None:
    """The last planned gas setting that acts before first crack."""
    steps = [s for s in profile.steps if s.control == "gas" and s.time <= crack - FULL_EFFECT and s.value > 0]
    return steps[-1] if steps else None


def _by_model(profile: Profile, knowledge: Knowledge, step: Step, gap: float, word: str) -> Proposal:
    slope = crack_shift(profile, knowledge, step, 1.05)
    document = profile.document
    unit = document.pressure_unit
    tick = document.limits.gas_step or 10 ** floor(_digits(step.shown))
    nothing = f"First crack came {clock(abs(gap))} {word}; "
    if slope is None or slope >= -0.5:
        return Proposal(nothing + "the model can't say what gas would do: change nothing.", gap)
    wanted = -SHARE * gap
    share = 0.05 * wanted / slope  # of the setting; the model is near linear so close to the plan
    ticks = floor(abs(share) * step.shown / tick + 1e-9)
    if ticks == 0:
        return _other_time(profile, knowledge, step, gap, nothing)
    value = step.shown + (1 if share > 0 else -1) * ticks * tick
    limits = document.limits.gas
    if limits is not None and not limits[0] <= value <= limits[1]:
        return Proposal(nothing + "gas is at the end of its range.", gap)
    shift = slope * (value / step.shown - 1) / 0.05
    return Proposal(
        nothing + f"try gas {number(value, 3)} instead of {number(step.shown, 3)} {unit} at {clock(step.time)}: "
        + _effect(shift, gap),
        gap, step.time, step.shown, value, shift,
    )  # fmt: skip


def _other_time(profile: Profile, knowledge: Knowledge, step: Step, gap: float, nothing: str) -> Proposal:
    """The same setting at another time, where a whole step of it would be too much."""
    unit = profile.document.pressure_unit
    slope = delay_shift(profile, knowledge, step, 10.0)
    much = f"{nothing}a fifth of that is less than one step of gas or 5 s of its time: change nothing yet."
    if slope is None or abs(slope) < 0.05:
        return Proposal(much, gap)
    wanted = 10.0 * -SHARE * gap / slope
    seconds = 5.0 * floor(abs(wanted) / 5.0) * (1 if wanted > 0 else -1)
    if seconds == 0 or abs(seconds) > 60:
        return Proposal(much, gap)
    shift = slope * seconds / 10.0
    return Proposal(
        f"{nothing}try gas {number(step.shown, 3)} {unit} at {clock(step.time + seconds)}, not {clock(step.time)}: "
        + _effect(shift, gap),
        gap, step.time + seconds, step.shown, step.shown, shift,
    )  # fmt: skip


def _effect(shift: float, gap: float) -> str:
    """Effect of a change on first crack (``shift``, s) beside the ``gap`` (s), in words."""
    word = "earlier" if shift < 0 else "later"
    return f"by the model about {number(abs(shift), 0)} s {word}, {round(100 * abs(shift / gap))} % of the gap."


def _digits(value: float) -> float:
    """The power of ten of the step in which a setting is written: 1.6 -> -1, 0.45 -> -2."""
    text = f"{value:.4f}".rstrip("0")
    return -float(len(text.split(".")[1])) if "." in text else 0.0


def crack_shift(profile: Profile, knowledge: Knowledge, step: Step, factor: float) -> float | None:
    """Shift of first crack (s, later is positive) when one planned gas step is ``factor`` times as high until the next.

    The model's answer to the step alone, at the plan's crack temperature; None where the plan rises too little there.
    """
    plan = Plan(profile)
    change = plan.input("gas", step.value * factor) - plan.input("gas", step.value)
    after = min((s.time for s in profile.steps if s.control == "gas" and s.time > step.time), default=1e6)
    return _shift(profile, knowledge, step.time, after, change)


def delay_shift(profile: Profile, knowledge: Knowledge, step: Step, seconds: float) -> float | None:
    """Shift of first crack (s, later is positive) when one planned gas step is made ``seconds`` later."""
    before = [s.value for s in profile.steps if s.control == "gas" and s.time < step.time]
    if not before or step.time <= 60:
        return None
    plan = Plan(profile)
    change = plan.input("gas", before[-1]) - plan.input("gas", step.value)
    a, b = sorted((step.time, step.time + seconds))
    return _shift(profile, knowledge, a, b, change if seconds > 0 else -change)


def _shift(profile: Profile, knowledge: Knowledge, begin: float, end: float, change: float) -> float | None:
    """Shift of first crack (s, later is positive) from a change of the gas input between two times (s)."""
    goal = profile.goals["first crack"]
    slope = profile.curve.slope(goal.time, 30.0)
    if slope < 0.01:
        return None
    model = Outlook(profile, knowledge, 1.0).model
    schedule = Schedule(np.array([begin, end]), np.array([[change, 0.0, 0.0], [0.0, 0.0, 0.0]]))
    none = Schedule(np.zeros(0), np.zeros((0, 3)))
    path = look_ahead(model, advance(model, start(model), none, max(begin - 1.0, 0.0)), schedule).path
    deviation = float(np.interp(goal.time, path.t, path.mean)) - profile.curve.value(goal.time)
    return -deviation / slope
