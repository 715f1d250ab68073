"""The advice of one moment: one move and what it would do, or the reason for none; and what it aims at.  Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from coach.forecast.distribution import Distribution
from coach.forecast.forecast_values import Forecast
from coach.roast.profile import Profile, Step
from coach.roast.roast import Roast

AdviceKind = Literal["move", "quiet", "recovering", "too late", "no room", "wait", "unsure", "withheld"]


@dataclass(frozen=True)
class Advice:
    """One move, or the reason for none.

    ``control`` None means leave it: ``text`` then gives the reason.  Core units (gas kPa); times are roast time, s.
    """

    text: str
    control: Literal["gas"] | None = None
    value: float | None = None
    shown: float | None = None
    deadline: float | None = None
    bites: float | None = None
    """Roast time at which it takes effect on the probe, s."""
    crack_before: tuple[float, float, float] | None = None
    crack_after: tuple[float, float, float] | None = None
    kind: AdviceKind = "quiet"
    instead: Step | None = None
    """The planned move that it replaces."""


NO_TIME: Final = 60.0
"""Time to the crack below which it is too late for a move to do much to it, s."""


@dataclass(frozen=True)
class Aim:
    """The aim: where it is projected, where the plan wants it, its tolerance, and whether it is the crack (s) or the
    temperature at drop (°C)."""

    what: Literal["crack", "drop"]
    now: Distribution
    plan: float
    tolerance: float
    late: bool = False
    """True for the drop while the crack is still to come, too soon for a move to do much to it."""

    @property
    def off(self) -> float:
        """Projected deviation from the plan, in the median, s or K."""
        return self.now.median - self.plan

    @property
    def wants_less(self) -> bool:
        """True for an early crack and a hot drop."""
        return self.off < 0 if self.what == "crack" else self.off > 0

    def off_plan(self, sure: float) -> bool:
        """True if it lies outside its tolerance of the plan with at least this probability."""
        return self.now.cdf(self.plan + self.tolerance) - self.now.cdf(self.plan - self.tolerance) <= 1.0 - sure


def aim_of(profile: Profile, roast: Roast, forecast: Forecast, t: float) -> Aim | None:
    """The aim of advice at roast time ``t`` (s): first crack until it is marked or is due within ``NO_TIME``, then the
    temperature at drop, where that is not what the person drops by; None if unknown."""
    goal, crack, to_come = profile.goals.get("first crack"), forecast.first_crack, "first crack" not in roast.marks
    drop = None
    if forecast.drop is not None and profile.document.drop.by != "temperature":
        heat = forecast.drop.temperature
        drop = Aim("drop", heat, profile.drop_temperature, profile.drop_tolerance, late=to_come)
    if not to_come:
        return drop
    if goal is None or crack is None:
        return None
    if drop is not None and crack.time.median - t < NO_TIME:
        return drop
    return Aim("crack", crack.time, goal.time, goal.time_tolerance)
