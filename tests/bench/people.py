"""Two scripted people to try drills on: one who works as a good hand does, one who has just begun.

Both see what a person sees: the dial, the gauges, the trier, alarms, their own log and the plan.  Neither knows what
is injected.  How each works is our own idea of it: that the first beats the second says something about the score and
the drills, nothing about people.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np

from coach.roast.entries import Entry, Event, Note
from coach.roast.profile import Profile, Step
from coach.roast.units import Control
from coach.simulator.person import Habits, Person, recipe_of_profile
from coach.simulator.rehearsal.model import Drill
from coach.simulator.rehearsal.rehearsal import draught
from coach.simulator.roaster import SimulatedRoaster

STILL = 2.5
"""Draught, 0 to 10, below which a person sees that the fan stands still."""


@dataclass
class Corrector(Person):
    """A person who corrects: ``trim`` is a factor on every planned gas pressure."""

    trim: float = 1.0
    planned_gas: float | None = None
    """The plan's gas now [kPa]; None before its first gas move."""

    def take_over(
        self, t: float, charged: float, marks: Mapping[Event, float], made: Iterable[tuple[Control, float]]
    ) -> None:
        made = list(made)
        super().take_over(t, charged, marks, made)
        passed = [s for s in self.recipe.steps if s.control == "gas" and charged + s.time <= t - self.habits.catch_up]
        gone = [*(s.value for s in passed), *(value for control, value in made if control == "gas")]
        self.planned_gas = gone[-1] if gone else None

    def aimed(self, step: Step, roaster: SimulatedRoaster) -> float:
        """The planned setting, the gas times the trim."""
        if step.control != "gas":
            return super().aimed(step, roaster)
        self.planned_gas = step.value
        return self._trimmed(step.value, roaster)

    def gas(self, t: float, roaster: SimulatedRoaster) -> list[Entry]:
        """Set the gas to the plan's times the trim, and log it."""
        value = self._trimmed(roaster.setting("gas") if self.planned_gas is None else self.planned_gas, roaster)
        if abs(roaster.setting("gas") - value) < 1e-9:
            return []
        roaster.set("gas", value)
        return [self.move(t, "gas", value)]

    def _trimmed(self, planned: float, roaster: SimulatedRoaster) -> float:
        return min(round(planned * self.trim, 2), roaster.machine.burner.full_pressure)


class Mind(Protocol):
    """What a person thinks and does besides following the plan, once a second."""

    stopped: bool
    """Whether the person has stopped for good."""

    def think(self, t: float, person: Corrector, roaster: SimulatedRoaster) -> list[Entry]:
        """What is done and typed at t [s since the roaster's start]."""


@dataclass
class Expert:
    """Glances at dial and gauges every five seconds; corrects early and a little; compares gauge and log; knows a
    dial that stands still, and one that is off when the beans turn yellow; stops when it is not safe."""

    profile: Profile
    rng: np.random.Generator
    glances: list[tuple[float, float]] = field(default_factory=list)
    offset: float = 0.0
    corrected: float = -1e9
    said: set[str] = field(default_factory=set)
    alarmed: float | None = None
    stopped: bool = False
    _left: float | None = None

    def think(self, t: float, person: Corrector, roaster: SimulatedRoaster) -> list[Entry]:
        """See :class:`Mind`."""
        if person.charged is None:
            return self._wait(t, person, roaster)
        if self.stopped or "drop" in person.marks:
            return []
        out = self._safety(t, person, roaster, after=float(self.rng.uniform(1.0, 4.0)))
        if out or self.stopped or t % 5.0 != 0.0:
            return out
        out += self._gauge(t, person, roaster)
        now = t - person.charged
        if now < 85.0:  # around the turning point the dial says little
            return out
        self.glances.append((now, roaster.display(1.0, "C")))
        out += self._dial(t, person, roaster)
        if "dial stands still" in self.said or len(self.glances) < 8:
            return out
        out += self._correct(t, now, person, roaster)
        return out

    def _wait(self, t: float, person: Corrector, roaster: SimulatedRoaster) -> list[Entry]:
        """Before the charge: less gas while the drum is too hot."""
        hot = roaster.display(1.0, "C") > self.profile.charge_temperature + 2.0
        if hot and roaster.setting("gas") > 0.25:
            roaster.set("gas", 0.2)
            return [person.move(t, "gas", 0.2)]
        return []

    def _safety(self, t: float, person: Corrector, roaster: SimulatedRoaster, after: float) -> list[Entry]:
        over = roaster.display(1.0, "C") >= self.profile.safety and t - (person.charged or 0.0) > 100.0
        if self.alarmed is None and (over or roaster.setting("smoke alarm") or draught(roaster) < STILL):
            self.alarmed = t + after
        if self.alarmed is None or t < self.alarmed:
            return []
        return self.stop(t, person, roaster)

    def stop(self, t: float, person: Corrector, roaster: SimulatedRoaster) -> list[Entry]:
        """Gas off, and say so."""
        self.stopped = True
        roaster.set("gas", 0.0)
        return [person.move(t, "gas", 0.0), Note(at=t, text="stop")]

    def _gauge(self, t: float, person: Corrector, roaster: SimulatedRoaster) -> list[Entry]:
        """The gauge against one's own log."""
        stands = roaster.setting("gas")
        if person.planned_gas is None or self._left is None:
            self._left = stands
            return []
        out: list[Entry] = []
        due = min(round(person.planned_gas * person.trim, 2), roaster.machine.burner.full_pressure)
        if abs(stands - due) > 0.02:
            out = [Note(at=t, text="the gauge is not where I set it"), person.move(t, "gas", stands)]
            out += person.gas(t, roaster)
        return out

    def _dial(self, t: float, person: Corrector, roaster: SimulatedRoaster) -> list[Entry]:
        recent = [v for _, v in self.glances][-8:]
        if len(self.glances) >= 2 and "dial stands still" not in self.said:
            (t0, v0), (t1, v1) = self.glances[-2], self.glances[-1]
            jump = v1 - v0 - float(self.profile.curve.value(t1) - self.profile.curve.value(t0))
            if abs(jump) > 3.5:
                self.offset += jump
                return self._say(t, person, "the dial jumped")
        goal = self.profile.goals.get("yellow")
        if len(recent) == 8 and max(recent) == min(recent) and "first crack" not in person.marks:
            person.trim = 1.0
            return [*self._say(t, person, "dial stands still"), *person.gas(t, roaster)]
        if "dial stands still" in self.said and len(set(recent[-3:])) > 1:
            self.said.discard("dial stands still")
            self.glances.clear()
        yellow = person.marks.get("yellow")
        if goal is not None and yellow is not None and 0.0 <= t - yellow < 5.0 and recent:
            off = recent[-1] - goal.temperature
            if abs(off - self.offset) > 5.0:
                self.offset = off
                return self._say(t, person, "the dial is off")
        return []

    def _say(self, t: float, person: Corrector, text: str) -> list[Entry]:
        if text in self.said:
            return []
        self.said.add(text)
        return [Note(at=t, text=text)]

    def _correct(self, t: float, now: float, person: Corrector, roaster: SimulatedRoaster) -> list[Entry]:
        """A little more or less gas, by where the deviation will be a minute on."""
        if person.planned_gas is None:
            person.planned_gas = roaster.setting("gas")
        if t - self.corrected < 45.0:
            return []
        times = np.array([g[0] for g in self.glances][-8:])
        off = np.array([g[1] for g in self.glances][-8:]) - self.offset - self.profile.curve.at(times)
        slope, level = np.polyfit(times - times[-1], off, 1)
        ahead = float(level + 70.0 * slope)
        rising = float(self.profile.curve.slope(now)) * 15.0 > 1.5
        if rising and len({v for _, v in self.glances[-4:]}) == 1:
            return []  # a dial that does not move says nothing
        if ahead > 14.0 and person.trim <= 0.65:
            return self.stop(t, person, roaster)  # the heat does not follow the valve
        trim = float(np.clip(person.trim * np.clip(1.0 - 0.032 * ahead, 0.75, 1.3), 0.4, 2.2))
        if abs(ahead) < 2.0 or abs(trim - person.trim) < 0.06:
            return []
        person.trim = trim
        self.corrected = t
        return person.gas(t, roaster)


@dataclass
class Novice:
    """Looks at the dial when typing only; corrects late and too much; reacts to alarms after a while; notes nothing."""

    profile: Profile
    rng: np.random.Generator
    corrected: float = -1e9
    alarmed: float | None = None
    stopped: bool = False

    def think(self, t: float, person: Corrector, roaster: SimulatedRoaster) -> list[Entry]:
        """See :class:`Mind`."""
        if person.charged is None or self.stopped or "drop" in person.marks:
            return []
        now = t - person.charged
        over = roaster.display(1.0, "C") >= self.profile.safety and now > 100.0
        if self.alarmed is None and (over or roaster.setting("smoke alarm") or draught(roaster) < STILL):
            self.alarmed = t + float(self.rng.uniform(25.0, 120.0))
        if self.alarmed is not None and t >= self.alarmed:
            self.stopped = True
            roaster.set("gas", 0.0)
            return [person.move(t, "gas", 0.0)]
        if now < 150.0 or t - self.corrected < 120.0 or t % 10.0 != 0.0:
            return []
        off = roaster.display(1.0, "C") - float(self.profile.curve.value(now))
        if abs(off) < 6.0:
            return []
        self.corrected = t
        if person.planned_gas is None:
            person.planned_gas = roaster.setting("gas")
        person.trim = 0.7 if off > 0 else 1.35
        return person.gas(t, roaster)


EXPERT = Habits(
    every=18.0, jitter=3.0, delay=1.5, late=3.0, typo=0.0, call_delay=3.0, call_sd=1.5,
    development_sd=2.0, yellow_delay=3.0, yellow_sd=3.0, charge_within=2.0, catch_up=120.0,
)  # fmt: skip
NOVICE = Habits(
    every=50.0, jitter=12.0, delay=3.0, late=25.0, typo=0.03, call_delay=12.0, call_sd=6.0,
    development_sd=12.0, yellow_delay=12.0, yellow_sd=15.0, charge_within=15.0, catch_up=10.0,
)  # fmt: skip


def person_of(who: str, profile: Profile, drill: Drill, seed: int) -> tuple[Corrector, Mind]:
    """The 'expert' or the 'novice', for one roast.  ValueError for anybody else."""
    if who not in ("expert", "novice"):
        raise ValueError(f"nobody is called {who!r}")
    rng = np.random.default_rng([seed, 31, who == "expert"])
    habits = EXPERT if who == "expert" else NOVICE
    if who == "novice" and not drill.sound:  # leans on the cues: without them looks less often, and later
        habits = replace(habits, every=1.6 * habits.every, late=2.0 * habits.late)
    unit, pressure = profile.unit, profile.document.pressure_unit
    person = Corrector(replace(habits, unit=unit), recipe_of_profile(profile), rng, pressure)
    mind = np.random.default_rng([seed, 37, who == "expert"])
    return person, Expert(profile, mind) if who == "expert" else Novice(profile, mind)
