"""The simulated colleague from whom a person takes over."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from coach.roast.profile import Profile
from coach.simulator.habits import Habits
from coach.simulator.person import Person
from coach.simulator.recipe import recipe_of_profile
from coach.simulator.rehearsal.model import Handover

COLLEAGUE: Final = "simulated colleague"
"""Author of the entries before the handover, in their field ``by``."""


def colleague_of(handover: Handover, profile: Profile, seed: int) -> Person:
    """The person at work until the handover: by the plan, less the moves left out."""
    recipe = recipe_of_profile(profile)
    later = [s for s in recipe.steps if s.time > 5.0]
    gone = [later[i - 1] for i in handover.left_out if 0 < i <= len(later)]
    recipe = replace(recipe, steps=tuple(s for s in recipe.steps if s not in gone))
    habits = Habits(late=3.0, development=None, unit=profile.unit, charge_within=2.0)
    rng = np.random.default_rng([seed, 41])
    return Person(habits, recipe, rng, profile.document.pressure_unit, by=COLLEAGUE)


def is_over(handover: Handover, colleague: Person, t: float) -> bool:
    """True if the colleague hands over at t [s since the roaster's start]."""
    return colleague.charged is not None and t - colleague.charged >= handover.at
