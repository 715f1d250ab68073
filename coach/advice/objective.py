"""What advice is about: where crack, or after it the drop, is projected, and where the plan wants it.  Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from coach.forecast.distribution import Distribution
from coach.forecast.values import Forecast
from coach.roast.profile import Profile
from coach.roast.roast import Roast


@dataclass(frozen=True)
class Aim:
    """What is to be brought back: where it is projected, where the plan wants it, how far off it may be, and whether it
    is the crack (s) or the temperature at drop (°C)."""

    what: Literal["crack", "drop"]
    now: Distribution
    plan: float
    tolerance: float

    @property
    def off(self) -> float:
        """How far off the plan it is projected to be, in the median."""
        return self.now.median - self.plan

    @property
    def wants_less(self) -> bool:
        """Early crack and a hot drop want less heat."""
        return self.off < 0 if self.what == "crack" else self.off > 0

    def off_plan(self, sure: float) -> bool:
        """Whether it comes outside its tolerance of the plan with at least this probability."""
        return self.now.cdf(self.plan + self.tolerance) - self.now.cdf(self.plan - self.tolerance) <= 1.0 - sure


def aim_of(profile: Profile, roast: Roast, forecast: Forecast) -> Aim | None:
    """What advice is about now: first crack until it is marked, then the temperature at drop; None if unknown."""
    goal = profile.goals.get("first crack")
    if "first crack" not in roast.marks:
        if goal is None or forecast.first_crack is None:
            return None
        return Aim("crack", forecast.first_crack.time, goal.time, goal.time_tolerance)
    if forecast.drop is None or profile.document.drop.by == "temperature":
        return None
    return Aim("drop", forecast.drop.temperature, profile.drop_temperature, profile.drop_tolerance)
