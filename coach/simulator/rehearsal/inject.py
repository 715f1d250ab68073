"""A drill at work: the roaster of the day, the colleague before, what happens during the roast, and the truth after."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.roast.profile import Profile
from coach.roast.units import Control
from coach.simulator.beans import Beans
from coach.simulator.machine import Machine
from coach.simulator.person import Habits, Person, recipe_of_profile
from coach.simulator.rehearsal.model import Day, Drill, Handover, Inject
from coach.simulator.roaster import FAULTS, Fault, Milestones, SimulatedRoaster

BELOW_CHARGE: Final = 20.0
"""Distance below charge temperature at which the drum metal of a machine not the profile's own starts [K] (own)."""

COLLEAGUE: Final = "simulated colleague"
"""Author of the entries before the handover, in their field ``by``."""


def roaster_of(
    machine: Machine,
    drill: Drill | None = None,
    *,
    seed: int,
    profile: Profile | None = None,
    beans: Beans | None = None,
) -> SimulatedRoaster:
    """The roaster on the day of a drill (a day like the plan's without one); the same for a seed.

    It starts with the profile's charge and first settings, as far as the machine has them, the drum a little below
    charge temperature; as in the machine's own demo plan without a profile, or with one made on this machine.
    """
    day, plan = drill.day if drill is not None else Day(), machine.demo_plan
    batch, soak = plan.batch_kg, plan.soak
    first: dict[Control, float] = {}
    if profile is not None and profile.document.machine != machine.name:
        low, high = 0.3 * machine.capacity_kg, 1.1 * machine.capacity_kg
        batch = min(max(profile.document.batch_kg, low), high)
        soak = min(max(profile.charge_temperature - BELOW_CHARGE, 120.0), 280.0)
        first |= {s.control: s.value for s in reversed(profile.steps) if s.time <= 5.0}
    return SimulatedRoaster(
        machine,
        beans,
        seed=seed,
        drum_soak=soak + day.soak,
        ambient=22.0 + day.ambient,
        moisture=day.moisture,
        batch_kg=batch,
        crack_shift=day.crack_shift,
        **first,
    )


@dataclass(frozen=True, kw_only=True)
class Truth(Milestones):
    """The truth of a batch; the roaster's start is the ``at`` of the journal."""

    times: NDArray[np.float64]
    """Grid of the probe's course, (n,)."""
    probe: NDArray[np.float64]
    """Temperature on a faultless probe [°C], (n,)."""
    mass_loss: float
    happened: tuple[float, ...] = ()
    """Times at which something was injected."""


def truth_of(roaster: SimulatedRoaster, happened: Sequence[float] = ()) -> Truth:
    """The truth of the roaster's last batch."""
    times = np.array([s.time for s in roaster.history])
    probe = np.array([s.state.probe for s in roaster.history])
    return Truth(**vars(roaster.truth), times=times, probe=probe, mass_loss=roaster.mass_loss, happened=tuple(happened))


class Injector:
    """Injects things into a charge, those at random by the seed.  ``second`` is called once for each whole second, the
    roaster being there.
    """

    def __init__(self, inject: Sequence[Inject], seed: int) -> None:
        rng = np.random.default_rng([seed, 17])
        self._open = [(i, i.at if i.between is None else float(rng.uniform(*i.between))) for i in inject]
        self._ends: list[tuple[float, Fault | Control]] = []
        self.happened: list[float] = []
        """Times at which something was injected [s since the roaster's start]."""

    def second(self, t: float, roaster: SimulatedRoaster) -> None:
        """Inject what is due at t [s since the roaster's start]; end what has lasted long enough."""
        for end in [e for e in self._ends if e[0] <= t]:
            self._ends.remove(end)
            roaster.set(end[1], FAULTS[end[1]])
        if not roaster.loaded:
            return
        for due in [(inject, time) for inject, time in self._open if _is_due(inject, time, t, roaster)]:
            self._open.remove(due)
            inject = due[0]
            self.happened.append(t)
            roaster.set(inject.what, inject.value * (1.0 if inject.what in FAULTS else roaster.setting(inject.what)))
            if inject.lasts is not None:
                self._ends.append((t + inject.lasts, inject.what))


def _is_due(inject: Inject, time: float | None, t: float, roaster: SimulatedRoaster) -> bool:
    """``time``: the roast time at which it comes, where it is known beforehand [s]."""
    truth = roaster.truth
    if time is not None:
        return truth.charge is not None and t - truth.charge >= time
    if inject.at_crack is not None:
        return truth.first_crack is not None and t >= truth.first_crack + inject.at_crack
    turned = truth.turning_point is not None and t > truth.turning_point
    return turned and inject.at_temperature is not None and roaster.probe >= inject.at_temperature


def colleague_of(handover: Handover, profile: Profile, seed: int) -> Person:
    """The person at work until the handover: by the plan, less the moves left out."""
    recipe = recipe_of_profile(profile)
    later = [s for s in recipe.steps if s.time > 5.0]
    gone = [later[i - 1] for i in handover.left_out if 0 < i <= len(later)]
    recipe = replace(recipe, steps=tuple(s for s in recipe.steps if s not in gone))
    habits = Habits(late=3.0, unit=profile.unit, charge_within=2.0)
    rng = np.random.default_rng([seed, 41])
    return Person(habits, recipe, rng, profile.document.pressure_unit, by=COLLEAGUE)


def is_over(handover: Handover, colleague: Person, t: float) -> bool:
    """True if the colleague hands over at t [s since the roaster's start]."""
    return colleague.charged is not None and t - colleague.charged >= handover.at
