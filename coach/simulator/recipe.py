"""The recipe of a simulated person: when to charge, which moves to make, how long to develop."""

from __future__ import annotations

from dataclasses import dataclass

from coach.roast.entries import Event
from coach.roast.profile import Profile
from coach.roast.units import Control


@dataclass(frozen=True)
class RecipeStep:
    """One planned move: its roast time (s), or the dial (°C) or the mark and the seconds after it that bring it."""

    time: float
    control: Control
    value: float
    """Setting: kPa, or the position on the dial."""
    temperature: float | None = None
    event: Event | None = None
    after: float = 0.0


@dataclass(frozen=True)
class Recipe:
    """The person's recipe: when (s) or at which dial (°C) to charge, the moves, the development (s)."""

    steps: tuple[RecipeStep, ...]
    development: float
    charge_at: float | None = None
    charge_temperature: float | None = None


def recipe_of_profile(profile: Profile) -> Recipe:
    """A profile, charged when the dial reads its charge temperature."""
    steps = tuple(
        RecipeStep(s.time, s.control, s.value, s.temperature, s.event if s.event != "charge" else None, s.after)
        for s in profile.steps
    )
    return Recipe(steps, profile.development or 90.0, charge_temperature=profile.charge_temperature)
