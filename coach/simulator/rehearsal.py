"""A rehearsal's side of the screen: the simulated roaster hears what is typed and shows its dials.

The roaster follows the journal as the coach does.  A move acts when it comes in.  A charge or drop acts when it says it
happened; one that is withdrawn or amended never happened so: the roaster is built anew and goes through everything
again up to now.  A move that is withdrawn or amended sets the control, from now on, to where the journal has it.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np

from coach.entries import Correction, Entry, Mark, Move
from coach.session import Coach
from coach.simulator.clock import RehearsalClock
from coach.simulator.machine import Machine
from coach.simulator.person import Habits, Person, Step, recipe_of_profile
from coach.simulator.roaster import Fault, SimulatedRoaster
from coach.simulator.trier import EMPTY, Look, look_at
from coach.units import Control, from_celsius, from_kpa, number, to_kpa

BEFORE_CRACK: Final = 60.0
"""A jump ends this many seconds before first crack."""
TOGETHER: Final = 1.0
"""What lies no further apart than this is the same moment [s]."""
HELPER: Final = "simulated person"
"""Who typed the entries of a jump, as their field ``by`` says."""


@dataclass(frozen=True)
class Act:
    """Something done to the roaster at a time (s since its start)."""

    time: float
    what: Literal["set", "charge", "drop", "fault"]
    control: Control | None = None
    fault: Fault | None = None
    value: float = 0.0


@dataclass
class LoggedHands:
    """Hands on the roaster that remember what they did."""

    roaster: SimulatedRoaster
    acts: list[Act] = field(default_factory=list)

    def set(self, control: Control, value: float) -> None:
        """Move a control: gas [kPa], air and drum [dial]; as far as it goes."""
        low, high = self.roaster.machine.range(control)
        self.do(Act(self.roaster.time, "set", control, value=min(max(value, low), high)))

    def charge(self) -> None:
        """Drop the beans into the drum; nothing happens if there are some in it."""
        if not self.roaster.loaded:
            self.do(Act(self.roaster.time, "charge"))

    def drop(self) -> None:
        """Let the beans out; nothing happens if there are none."""
        if self.roaster.loaded:
            self.do(Act(self.roaster.time, "drop"))

    def fault(self, fault: Fault, value: float) -> None:
        """Switch a fault on or off."""
        self.do(Act(self.roaster.time, "fault", fault=fault, value=value))

    def do(self, act: Act) -> None:
        """Do it now and remember it."""
        self.acts.append(act)
        perform(self.roaster, act)


def perform(roaster: SimulatedRoaster, act: Act) -> None:
    """Do it on a roaster that stands at the act's time."""
    if act.what == "charge":
        roaster.charge()
    elif act.what == "drop":
        roaster.drop()
    elif act.what == "fault" and act.fault is not None:
        roaster.fault(act.fault, act.value)
    elif act.control is not None:
        roaster.set(act.control, act.value)


def _among(act: Act, acts: list[Act]) -> bool:
    return any(a.what == act.what and abs(a.time - act.time) <= TOGETHER for a in acts)


class Rehearsal:
    """The simulated roaster behind the screen.  With ``auto`` a simulated person works it and types.

    ``build`` makes the roaster afresh, the same each time; the machine's demo plan and ``seed`` if left out.
    ``clock`` is the clock of the rehearsal, to pause it and put it forward; without one neither is possible.
    """

    def __init__(
        self,
        machine: Machine,
        *,
        seed: int = 0,
        auto: bool = False,
        clock: RehearsalClock | None = None,
        habits: Habits | None = None,
        build: Callable[[], SimulatedRoaster] | None = None,
    ) -> None:
        self.auto = auto
        self.seed = seed
        self.hands = LoggedHands(build() if build is not None else SimulatedRoaster(machine, seed=seed))
        self._build = build or (lambda: SimulatedRoaster(machine, seed=seed))
        self._clock = clock
        self._habits = habits or Habits(development=None)
        self._person: Person | None = None
        self._helps_until = 0.0
        self._second = 0
        self._own: list[Entry] = []

    @property
    def roaster(self) -> SimulatedRoaster:
        """The roaster as it stands."""
        return self.hands.roaster

    # ── what the screen calls ───────────────────────────────────────────────────────────────────────────────────

    def advance(self, now: float, coach: Coach) -> list[Entry]:
        """Let the roaster run to ``now`` [s]; what the simulated person, if there is one, typed meanwhile."""
        out: list[Entry] = []
        while self._second + 1 <= now:
            self._second += 1
            t = float(self._second)
            self.roaster.advance(max(t, self.roaster.time))
            if self.auto or t <= self._helps_until:
                out += self._person_for(coach).second(t, self.hands)
            elif self._person is not None:
                self._person = None
        self.roaster.advance(max(now, self.roaster.time))
        self._own += out
        return out

    def hear(self, entry: Entry, coach: Coach) -> None:
        """What was typed acts on the roaster; what the simulated person typed has acted already."""
        if any(entry is e for e in self._own):
            self._own = [e for e in self._own if e is not entry]
            return
        self.roaster.advance(max(entry.at, self.roaster.time))
        if isinstance(entry, Move):
            value = to_kpa(entry.value, coach.header.pressure_unit) if entry.control == "gas" else entry.value
            self.hands.set(entry.control, value)
        elif isinstance(entry, Mark) and entry.event in ("charge", "drop"):
            self._happened(coach)
        elif isinstance(entry, Correction):
            self._corrected(entry, coach)

    def line(self, coach: Coach) -> str:
        """The dials as a person sees them."""
        r, unit = self.roaster, coach.header.unit
        gas = number(from_kpa(r.setting("gas"), coach.header.pressure_unit), 2)
        parts = [
            f"SIMULATED ROASTER  dial {r.display(1.0, unit):.0f} °{unit}",
            f"gas {gas} {coach.header.pressure_unit}",
            f"air {number(r.setting('air'))}",
        ]
        pops = sum(1 for p in r.pops_until() if p.time > r.time - 10.0)
        if pops:
            parts.append(f"pops in 10 s: {pops}")
        if coach.roast.charge_at is None:
            parts.append(f"(charge at {from_celsius(coach.profile.charge_temperature, unit):.0f})")
        if self.paused:
            parts.append("PAUSED")
        return "  ".join(parts)

    def look(self, coach: Coach) -> Look:
        """What the trier shows now.  A second look within five seconds shows the same handful."""
        r = self.roaster
        if not r.loaded:
            return EMPTY
        rng = np.random.default_rng([r.seed, 11, r.batch, math.floor(r.time / 5.0)])
        return look_at(bean=r.bean, rng=rng)

    @property
    def paused(self) -> bool:
        """Whether the rehearsal stands still."""
        return self._clock is not None and self._clock.paused

    def toggle_pause(self) -> None:
        """Let it stand, or go on."""
        if self._clock is None:
            return
        if self._clock.paused:
            self._clock.begin()
        else:
            self._clock.stop()

    def jump(self, coach: Coach) -> str:
        """Put roaster and clock forward to a minute before first crack; says what was done, or why nothing was.

        The simulated person works and types in between; the next ``advance`` gives those entries.
        """
        if self._clock is None:
            return "There is no clock to put forward."
        now = self.roaster.time
        if coach.roast.phase in ("development", "cooling"):
            return "First crack is past."
        onset = self._onset_ahead(coach)
        if onset is None:
            return "First crack does not come within half an hour."
        target = math.floor(onset - BEFORE_CRACK)
        if target <= now + 1.0:
            return "First crack is less than a minute away."
        self._helps_until = target
        self._clock.forward(target - now)
        return "A minute before first crack. The simulated person worked and typed until here."

    # ── inside ──────────────────────────────────────────────────────────────────────────────────────────────────

    def _person_for(self, coach: Coach) -> Person:
        if self._person is None:
            self._person = self._new_person(coach, self.roaster.time)
        return self._person

    def _new_person(self, coach: Coach, t: float) -> Person:
        rng = np.random.default_rng([self.seed, 13, int(t)])
        habits = self._habits
        if habits.unit != coach.header.unit:
            habits = Habits(**{**vars(habits), "unit": coach.header.unit})
        by = "" if self.auto else HELPER
        person = Person(habits, recipe_of_profile(coach.profile), rng, coach.header.pressure_unit, by)
        charge = coach.roast.charge_at
        if charge is not None:
            marks = [(event, charge + at) for event, at in coach.roast.marks.items()]
            made = [Step(m.t, m.control, m.value) for m in coach.roast.moves]
            person.take_over(t, charge, marks, made)
        return person

    def _onset_ahead(self, coach: Coach) -> float | None:
        """When first crack would truly come if the simulated person went on from here, s since the start."""
        known = self.roaster.first_crack_onset
        if known is not None:
            return known
        hands = copy.deepcopy(self.hands)
        t = self._second + 1.0
        person = copy.deepcopy(self._person) if self.auto and self._person else self._new_person(coach, t)
        end = t + 1800.0
        while t < end and hands.roaster.first_crack_onset is None:
            hands.roaster.advance(max(t, hands.roaster.time))
            person.second(t, hands)
            t += 1.0
        return hands.roaster.first_crack_onset

    def _corrected(self, entry: Correction, coach: Coach) -> None:
        target = next((n.entry for n in coach.entries if n.line == entry.of), None)
        if isinstance(target, Move):
            t = coach.roast.time(self.roaster.time)
            for control in {target.control, (entry.replace or {}).get("control", target.control)}:
                value = coach.roast.setting(control, t)
                self.hands.set(control, self._build().setting(control) if value is None else value)
        elif isinstance(target, Mark) and target.event in ("charge", "drop"):
            self._happened(coach)

    def _happened(self, coach: Coach) -> None:
        """Bring the roaster's charge and drop to what the journal says."""
        roast, now = coach.roast, self.roaster.time
        said = [Act(roast.charge_at, "charge")] if roast.charge_at is not None else []
        if roast.charge_at is not None and "drop" in roast.marks:
            said.append(Act(roast.charge_at + roast.marks["drop"], "drop"))
        said = [Act(min(max(a.time, 0.0), now), a.what) for a in said]
        done = [a for a in self.hands.acts if a.what in ("charge", "drop")]
        missing = [a for a in said if not _among(a, done)]
        if all(_among(a, said) for a in done) and all(a.time >= now - TOGETHER for a in missing):
            for act in missing:
                self.hands.do(Act(now, act.what))
            return
        others = [a for a in self.hands.acts if a.what not in ("charge", "drop")]
        acts = sorted([*said, *others], key=lambda a: a.time)
        roaster = self._build()
        for act in acts:
            roaster.advance(max(act.time, roaster.time))
            perform(roaster, act)
        roaster.advance(max(now, roaster.time))
        self.hands.roaster, self.hands.acts = roaster, acts
