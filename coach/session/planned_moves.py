"""Moves of the plan that are still to be made, and those missed.  Pure."""

from __future__ import annotations

from dataclasses import replace

from coach.advice.advice_values import Advice
from coach.cues.situation import NextMove
from coach.forecast.control_inputs import OVERDUE, answered
from coach.forecast.forecast_values import Forecast
from coach.roast.curve import crossing
from coach.roast.profile import Profile, Step
from coach.roast.roast import Roast
from coach.roast.units import Control


def planned_moves(
    profile: Profile, t: float, roast: Roast, forecast: Forecast, advice: Advice | None
) -> tuple[list[NextMove], list[NextMove]]:
    """Planned moves neither made nor left out at roast time ``t`` (s): those to come, in the plan's order, and those
    missed, newest first: of each control the last one that was due.

    Where advice replaces a move to come, it has the advised setting, or is left out if that keeps the control as it is.
    """
    coming: list[NextMove] = []
    missed: dict[Control, NextMove] = {}
    for step in profile.steps:
        due = _due(step, t, roast, forecast)
        if due <= t:
            missed.pop(step.control, None)  # a later move of its control takes the place of a missed one
        if answered(profile, roast, step, due, t):
            continue
        if due < t - OVERDUE:
            missed[step.control] = NextMove(step, due, due - t)
        elif advice is None or advice.instead != step or advice.value is None or advice.shown is None:
            coming.append(NextMove(step, due, due - t))
        elif advice.value != roast.setting(step.control, t):
            coming.append(NextMove(replace(step, value=advice.value, shown=advice.shown), due, due - t))
    return coming, sorted(missed.values(), key=lambda m: -m.due)


def _due(step: Step, t: float, roast: Roast, forecast: Forecast) -> float:
    """The roast time (s) at which a planned move is due, as known at ``t`` (s)."""
    if step.event is not None and step.event != "charge":
        marked = roast.marks.get(step.event)
        if marked is not None:
            return marked + step.after
        if step.event == "first crack" and forecast.first_crack is not None:
            return forecast.first_crack.time.median + step.after
        return max(step.time, t + 1)
    if step.temperature is not None and forecast.path is not None:
        due = crossing(forecast.path.t, forecast.path.mean, step.temperature)
        if due is not None and due > forecast.path.t[0]:
            return due
        if due is not None:
            return next((r.t for r in roast.readings if r.celsius >= step.temperature and r.t > 60), t)
    return step.time
