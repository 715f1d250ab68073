"""What advice is about: where crack, or after it the drop, is projected, where the plan wants it, and what being off
costs.  Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from coach.forecast.distribution import Distribution
from coach.forecast.values import Forecast
from coach.roast.profile import Profile
from coach.roast.roast import Roast

KELVIN: Final = 4.0
"""A kelvin off at drop counts like so many seconds off at the crack."""


@dataclass(frozen=True)
class Aim:
    """What is to be brought back: where it is projected, where the plan wants it, how far off it may be, and whether it
    is the crack (s) or the temperature at drop (°C)."""

    what: Literal["crack", "drop"]
    now: Distribution
    plan: float
    tolerance: float
    drop: Distribution | None = None
    """Before the crack: the temperature at drop beside it, °C, where it isn't dropped by temperature anyway."""
    drop_plan: float = 0.0

    @property
    def off(self) -> float:
        """How far off the plan it is projected to be, in the median."""
        return self.now.median - self.plan

    @property
    def wants_less(self) -> bool:
        """Early crack and a hot drop want less heat."""
        return self.off < 0 if self.what == "crack" else self.off > 0

    @property
    def inside(self) -> float:
        """How likely it is to come within its tolerance of the plan."""
        return self.now.cdf(self.plan + self.tolerance) - self.now.cdf(self.plan - self.tolerance)

    @property
    def most(self) -> float:
        """What a move that put the median on the plan, and changed nothing else, would gain of the expected miss."""
        return missed(self.now, self.plan) - missed(self.now, self.now.median)

    def of(self, forecast: Forecast) -> Distribution | None:
        """The same thing in another forecast."""
        if self.what == "crack":
            return None if forecast.first_crack is None else forecast.first_crack.time
        return None if forecast.drop is None else forecast.drop.temperature

    def gain(self, after: Distribution, drop: Distribution | None = None) -> float:
        """By how much the expected miss is smaller, s or K; that of the drop after a move of the crack counts, too."""
        own = missed(self.now, self.plan) - missed(after, self.plan)
        if self.drop is None or drop is None:
            return own
        return own + KELVIN * (missed(self.drop, self.drop_plan) - missed(drop, self.drop_plan))


def aim_of(profile: Profile, roast: Roast, forecast: Forecast) -> Aim | None:
    """What advice is about now: first crack until it is marked, then the temperature at drop; None if unknown."""
    goal = profile.goals.get("first crack")
    if "first crack" not in roast.marks:
        if goal is None or forecast.first_crack is None:
            return None
        by_heat = profile.document.drop.by == "temperature"
        beside = None if by_heat or forecast.drop is None else forecast.drop.temperature
        crack = forecast.first_crack.time
        return Aim("crack", crack, goal.time, goal.time_tolerance, beside, profile.drop_temperature)
    if forecast.drop is None or profile.document.drop.by == "temperature":
        return None
    return Aim("drop", forecast.drop.temperature, profile.drop_temperature, profile.drop_tolerance)


def missed(d: Distribution, plan: float) -> float:
    """The expected absolute difference from a planned value: the integral of F below it and of 1 - F above."""
    x = np.union1d(d.x, [plan])
    p = np.interp(x, d.x, d.p, left=0.0, right=1.0)
    below, above = x <= plan, x >= plan
    return float(np.trapezoid(p[below], x[below]) + np.trapezoid(1.0 - p[above], x[above]))
