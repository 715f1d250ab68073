"""A simulated person at a simulated roaster: reads the dial now and then, types late, sometimes wrongly, makes the
planned moves late, looks at the trier, listens, and calls the marks with a delay of their own.

The person sees the dials and the plan, and knows nothing of the beans.  Two things are shortened: yellow and first
crack are called some time after they truly came, the delay drawn from the person's habits, instead of out of the
colours and pops themselves.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from coach.roast.entries import Entry, Event, Mark, Move, Reading
from coach.roast.profile import Profile, Step
from coach.roast.units import Control, PressureUnit, TemperatureUnit, from_celsius, from_kpa, to_celsius
from coach.simulator.roaster import SimulatedRoaster

PATIENCE = 240.0
"""Seconds after which the person charges, whatever the dial shows."""
LIFT = 3.0
"""Seconds from the last look at the dial to the beans in the drum."""


@dataclass(frozen=True)
class Habits:
    """Habits of a person: seconds between readings, delay of typing (s), moves late by up to (s), share of mistypes,
    delay of calling crack and its sd (s), sd of the development (s), delay of calling yellow and its sd (s), largest
    error of the charge temperature (K), longest lateness of a planned move that somebody else left out (s)."""

    every: float = 30.0
    jitter: float = 6.0
    delay: float = 2.0
    late: float = 6.0
    typo: float = 0.0
    call_delay: float = 4.0
    call_sd: float = 2.0
    development_sd: float = 4.0
    unit: TemperatureUnit = "C"
    yellow_delay: float = 4.0
    yellow_sd: float = 6.0
    charge_within: float = 1.0
    catch_up: float = 30.0


@dataclass(frozen=True)
class Recipe:
    """The person's recipe: when (s) or at which dial (°C) to charge, the moves, the development (s)."""

    steps: tuple[Step, ...]
    development: float
    charge_at: float | None = None
    charge_temperature: float | None = None


def recipe_of_profile(profile: Profile) -> Recipe:
    """A profile, charged when the dial reads its charge temperature."""
    return Recipe(profile.steps, profile.development or 90.0, charge_temperature=profile.charge_temperature)


@dataclass
class Person:
    """One person with one batch.  ``second`` is to be called once for each whole second, in order."""

    habits: Habits
    recipe: Recipe
    rng: np.random.Generator
    pressure_unit: PressureUnit = "kPa"
    by: str = ""
    """Written into every entry, so that it differs from those of a person of flesh; '' for none."""
    charged: float | None = None
    """Time of the charge, s since the roaster's start; None before."""
    marks: dict[Event, float] = field(default_factory=dict)
    """Times of the marks called, s since the roaster's start."""
    todo: list[tuple[float, Step]] = field(default_factory=list)
    """The planned moves to come, each with its time, s since the roaster's start."""
    _waiting: list[Step] = field(default_factory=list)
    _pending: list[Entry] = field(default_factory=list)
    _next_reading: float = 5.0
    _charge_at: float | None = None
    _calls: dict[Event, float] = field(default_factory=dict)

    def second(self, t: float, roaster: SimulatedRoaster) -> list[Entry]:
        """Act at t (s since the roaster's start), the roaster being there; return what is typed."""
        out: list[Entry] = []
        if "drop" in self.marks:
            if roaster.setting("gas") > 0.0:  # an empty drum over a burner left on soon passes the safety limit
                roaster.set("gas", 0.0)
            return out
        if self.charged is None:
            out += self._before(t, roaster)
        else:
            out += self._moves(t, roaster)
            self._read(t, roaster)
            out += self._call(t, roaster)
        out += [e for e in self._pending if e.at <= t]
        self._pending = [e for e in self._pending if e.at > t]
        return out

    def take_over(
        self, t: float, charged: float, marks: Mapping[Event, float], made: Iterable[tuple[Control, float]]
    ) -> None:
        """Go on with a batch that another began; all times s since the roaster's start, ``made`` the settings made.

        Steps long past (see ``Habits.catch_up``) stay undone; the next reading comes at once.
        """
        self._begin(charged)
        for control, value in made:
            found = next((d for d in self.todo if d[1].control == control and d[1].value == value), None)
            if found is not None:
                self.todo.remove(found)
        self.todo = [d for d in self.todo if d[0] > t - self.habits.catch_up]
        self._next_reading = t + 1.0
        self.marked_by_others(marks)

    def marked_by_others(self, marks: Mapping[Event, float]) -> None:
        """Note marks that somebody else called (s since the roaster's start): they are not called once more."""
        for event, at in marks.items():
            if event not in self.marks:
                self.marks[event] = at
                self._due_after(event)

    # ── before the charge ───────────────────────────────────────────────────────────────────────────────────────

    def _before(self, t: float, roaster: SimulatedRoaster) -> list[Entry]:
        out: list[Entry] = []
        recipe, h = self.recipe, self.habits
        if self._charge_at is not None:
            if t >= self._charge_at:
                roaster.charge()
                out.append(self._mark(t, "charge"))
                self._begin(t)
            return out
        dial = roaster.display(unit=h.unit)
        if recipe.charge_at is not None:
            ready = t >= recipe.charge_at - LIFT
        else:
            goal = from_celsius(recipe.charge_temperature or 0.0, h.unit)
            ready = (t >= 10.0 and abs(dial - goal) <= h.charge_within) or t >= PATIENCE
        if ready:
            self._charge_at = t + LIFT
            out.append(self._reading(t, dial))
            out += [self.move(t, c, roaster.setting(c)) for c in ("gas", "air")]
        elif recipe.charge_at is None and t >= self._next_reading:
            out.append(self._reading(t, dial))
            self._next_reading = t + 20.0
        return out

    def _begin(self, t: float) -> None:
        self.charged = self.marks["charge"] = t
        for step in self.recipe.steps:
            if step.temperature is not None or step.event not in (None, "charge"):
                self._waiting.append(step)
            else:
                self.todo.append((t + step.time + float(self.rng.uniform(0, self.habits.late)), step))
        self.todo.sort(key=_due)
        self._next_reading = t + 20.0

    # ── the roast ───────────────────────────────────────────────────────────────────────────────────────────────

    def _moves(self, t: float, roaster: SimulatedRoaster) -> list[Entry]:
        out: list[Entry] = []
        assert self.charged is not None
        if t > self.charged + 100.0:  # past the turning point the dial means the beans
            dial = to_celsius(roaster.display(unit=self.habits.unit), self.habits.unit)
            for step in [s for s in self._waiting if s.temperature is not None and dial >= s.temperature]:
                self._later(t, step)
        while self.todo and self.todo[0][0] <= t:
            _, step = self.todo.pop(0)
            value = self.aimed(step, roaster)
            if abs(roaster.setting(step.control) - value) > 1e-9 or step.time > 5.0:
                roaster.set(step.control, value)
                out.append(self.move(t, step.control, value))
        return out

    def aimed(self, step: Step, roaster: SimulatedRoaster) -> float:
        """The setting to which a planned move is made: kPa, or the position on the dial."""
        if step.control != "gas":
            return step.value
        return min(round(step.value, 2), roaster.machine.burner.full_pressure)

    def _later(self, due: float, step: Step) -> None:
        self._waiting.remove(step)
        self.todo.append((due + float(self.rng.uniform(0, self.habits.late)), step))
        self.todo.sort(key=_due)

    def _due_after(self, event: Event) -> None:
        for step in [s for s in self._waiting if s.event == event]:
            self._later(self.marks[event] + step.after, step)

    def _read(self, t: float, roaster: SimulatedRoaster) -> None:
        h = self.habits
        if t < self._next_reading:
            return
        shown = roaster.display(unit=h.unit)
        if self.rng.random() < h.typo:
            shown = mistyped(shown, self.rng)
        delay = max(0.0, float(self.rng.normal(h.delay, 1.0)))
        self._pending.append(self._reading(round(t + delay, 1), shown))
        self._next_reading = t + max(8.0, float(self.rng.normal(h.every, h.jitter)))

    def _call(self, t: float, roaster: SimulatedRoaster) -> list[Entry]:
        h, truth = self.habits, roaster.truth
        out: list[Entry] = []
        if "yellow" not in self._calls and truth.yellow is not None:
            self._calls["yellow"] = truth.yellow + max(0.0, float(self.rng.normal(h.yellow_delay, h.yellow_sd)))
        if "first crack" not in self._calls and truth.first_crack is not None:
            delay = max(0.0, float(self.rng.normal(h.call_delay, h.call_sd)))
            self._calls["first crack"] = self.marks.get("first crack", truth.first_crack + delay)
            develop = max(20.0, float(self.rng.normal(self.recipe.development, h.development_sd)))
            self._calls["drop"] = self._calls["first crack"] + develop
        for event in ("yellow", "first crack", "drop"):
            if event not in self.marks and event in self._calls and self._calls[event] <= t:
                if event == "yellow" and "first crack" in self.marks:
                    continue
                out.append(self._mark(t, event))
                if event == "drop":
                    roaster.drop()
                    break
        return out

    # ── entries ─────────────────────────────────────────────────────────────────────────────────────────────────

    def _mark(self, t: float, event: Event) -> Mark:
        self.marks[event] = t
        if event != "charge":
            self._due_after(event)
        return Mark(at=t, event=event, **self._signed())

    def move(self, t: float, control: Control, value: float) -> Move:
        """A move as it is logged; value in kPa or as on the dial."""
        shown = round(from_kpa(value, self.pressure_unit), 4) if control == "gas" else value
        return Move(at=t, control=control, value=shown, **self._signed())

    def _reading(self, t: float, shown: float) -> Reading:
        return Reading(at=t, temperature=shown, **self._signed())

    def _signed(self) -> dict[str, Any]:
        return {"by": self.by} if self.by else {}


def _due(planned: tuple[float, Step]) -> float:
    return planned[0]


def mistyped(value: float, rng: np.random.Generator) -> float:
    """A reading as clumsy fingers give it: a digit doubled, swapped or left out."""
    text = f"{value:.0f}"
    kind = int(rng.integers(3))
    i = int(rng.integers(len(text) - 1))
    if kind == 0:
        return float(text[: i + 1] + text[i] + text[i + 1 :])
    if kind == 1:
        return float(text[:i] + text[i + 1] + text[i] + text[i + 2 :])
    return float(text[:i] + text[i + 1 :])
