"""A drill at work: the roaster of the day, the colleague before, what happens during the roast, and the truth after."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.roast.profile import Profile
from coach.roast.units import Control
from coach.simulator.beans import Beans
from coach.simulator.hands import LoggedHands
from coach.simulator.machine import Machine
from coach.simulator.person import Habits, Person, recipe_of_profile
from coach.simulator.rehearsal.model import Day, Drill, Handover, Inject
from coach.simulator.roaster import SimulatedRoaster

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
    first: dict[Control, float | None] = {"gas": None, "air": None, "drum": None}
    if profile is not None and profile.document.machine != machine.name:
        low, high = 0.3 * machine.capacity_kg, 1.1 * machine.capacity_kg
        batch = min(max(profile.document.batch_kg, low), high)
        soak = min(max(profile.charge_temperature - BELOW_CHARGE, 120.0), 280.0)
        for step in reversed([s for s in profile.steps if s.time <= 5.0]):
            bottom, top = machine.range(step.control)
            first[step.control] = min(max(step.value, bottom), top)
    return SimulatedRoaster(
        machine,
        beans,
        seed=seed,
        drum_soak=soak + day.soak,
        ambient=22.0 + day.ambient,
        moisture=day.moisture,
        batch_kg=batch,
        crack_shift=day.crack_shift,
        gas=first["gas"],
        air=first["air"],
        drum=first["drum"],
    )


@dataclass(frozen=True)
class Happened:
    """One thing that was injected, at a time (s since the roaster's start)."""

    time: float
    inject: Inject


@dataclass(frozen=True)
class Truth:
    """Times are s since the roaster's start, which is the ``at`` of the journal; None where something did not come."""

    charge: float | None
    yellow: float | None
    first_crack: float | None
    drop: float | None
    times: NDArray[np.float64]
    """Grid of the probe's course, (n,)."""
    probe: NDArray[np.float64]
    """Temperature on a faultless probe [°C], (n,)."""
    mass_loss: float | None
    happened: tuple[Happened, ...] = ()

    def probe_at(self, t: float) -> float:
        """Temperature on a faultless probe at t [°C]."""
        return float(np.interp(t, self.times, self.probe))


def truth_of(roaster: SimulatedRoaster, happened: tuple[Happened, ...] = ()) -> Truth:
    """The truth of the roaster's last batch."""
    found = roaster.truth
    times = np.array([s.time for s in roaster.history])
    probe = np.array([s.state.probe for s in roaster.history])
    return Truth(
        charge=found.charge if found else None,
        yellow=found.yellow if found else None,
        first_crack=found.first_crack if found else None,
        drop=found.drop if found else None,
        times=times,
        probe=probe,
        mass_loss=roaster.mass_loss if found else None,
        happened=happened,
    )


class Injector:
    """Injector of a drill.  ``second`` is called once for each whole second, the roaster being there."""

    def __init__(self, drill: Drill, seed: int) -> None:
        self.drill = drill
        rng = np.random.default_rng([seed, 17])
        self._times = [float(rng.uniform(*i.between)) if i.between is not None else i.at for i in drill.inject]
        self.happened: list[Happened] = []
        self.alarm = False
        """True if the smoke alarm sounds in the room."""
        self._open = list(range(len(drill.inject)))
        self._ends: list[tuple[float, Inject]] = []

    def again(self) -> None:
        """Reset to the state before the charge."""
        self.happened, self._ends, self.alarm = [], [], False
        self._open = list(range(len(self.drill.inject)))

    def second(self, t: float, hands: LoggedHands) -> None:
        """Inject what is due at t [s since the roaster's start]."""
        for due, inject in [e for e in self._ends if e[0] <= t]:
            self._ends.remove((due, inject))
            self._end(inject, hands)
        if hands.roaster.truth is None or not hands.roaster.loaded:
            return
        for i in [i for i in self._open if self._due(i, t, hands.roaster)]:
            self._open.remove(i)
            self._do(self.drill.inject[i], t, hands)

    def _due(self, i: int, t: float, roaster: SimulatedRoaster) -> bool:
        inject, truth, time = self.drill.inject[i], roaster.truth, self._times[i]
        assert truth is not None
        if time is not None:
            return t - truth.charge >= time
        if inject.at_crack is not None:
            return truth.first_crack is not None and t >= truth.first_crack + inject.at_crack
        turned = truth.turning_point is not None and t > truth.turning_point
        return turned and inject.at_temperature is not None and roaster.probe >= inject.at_temperature

    def _do(self, inject: Inject, t: float, hands: LoggedHands) -> None:
        self.happened.append(Happened(t, inject))
        if inject.what == "smoke alarm":
            self.alarm = True
        elif inject.control is not None:
            hands.set(inject.control, hands.roaster.setting(inject.control) * inject.value)
        elif inject.fault is not None:
            hands.fault(inject.fault, inject.value)
        if inject.lasts is not None:
            self._ends.append((t + inject.lasts, inject))

    def _end(self, inject: Inject, hands: LoggedHands) -> None:
        if inject.what == "smoke alarm":
            self.alarm = False
        elif inject.fault is not None:
            hands.fault(inject.fault, 1.0 if inject.fault == "gas supply" else 0.0)


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
