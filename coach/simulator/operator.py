"""A simulated person at a simulated roaster: reads the dial now and then, types late, sometimes wrongly, makes the
planned moves late, and calls the marks with a delay of their own.  Gives the entries of a whole roast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from coach.entries import Entry, Mark, Move, Reading
from coach.simulator.machine import Machine
from coach.simulator.roaster import SimulatedRoaster
from coach.units import Control, TemperatureUnit


@dataclass(frozen=True)
class Habits:
    """How a person works: seconds between readings, delay of typing (s), moves late by up to (s), share of mistypes,
    delay of calling crack (s, its sd beside it), development aimed at (s) and its scatter."""

    every: float = 30.0
    jitter: float = 6.0
    delay: float = 2.0
    late: float = 6.0
    typo: float = 0.0
    call_delay: float = 4.0
    call_sd: float = 2.0
    development: float = 90.0
    development_sd: float = 4.0
    unit: TemperatureUnit = "C"


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


def roast_once(
    machine: Machine,
    roaster: SimulatedRoaster,
    habits: Habits,
    rng: np.random.Generator,
    extra: Sequence[tuple[float, Control, float]] = (),
) -> list[Entry]:
    """The entries of one roast, charge at 60 s, in the order typed; ``extra`` moves: (roast time, control, value)."""
    plan, start = machine.demo_plan, 60.0
    out: list[Entry] = []
    roaster.advance(start)
    out.append(Reading(at=start - 5, temperature=roaster.display(1.0, habits.unit)))
    out += [Move(at=start - 3, control=c, value=roaster.setting(c)) for c in ("gas", "air")]
    roaster.charge()
    out.append(Mark(at=start, event="charge"))
    todo = [(start + m.at + float(rng.uniform(0, habits.late)), m.control, m.value) for m in plan.moves]
    todo += [(start + t, c, v) for t, c, v in extra]
    todo.sort()
    next_reading = start + 20.0
    yellow = crack = drop = None
    t = start
    while t < start + 1100:
        t += 1.0
        while todo and todo[0][0] <= t:
            _, control, value = todo.pop(0)
            roaster.set(control, value)
            out.append(Move(at=t, control=control, value=value))
        roaster.advance(t)
        if t >= next_reading:
            shown = roaster.display(1.0, habits.unit)
            if rng.random() < habits.typo:
                shown = mistyped(shown, rng)
            delay = max(0.0, float(rng.normal(habits.delay, 1.0)))
            out.append(Reading(at=round(t + delay, 1), temperature=shown))
            next_reading = t + max(8.0, float(rng.normal(habits.every, habits.jitter)))
        truth = roaster.truth
        assert truth is not None
        if yellow is None and truth.yellow is not None:
            yellow = truth.yellow + max(0.0, float(rng.normal(4, 6)))
        if crack is None and truth.first_crack is not None:
            crack = truth.first_crack + max(0.0, float(rng.normal(habits.call_delay, habits.call_sd)))
            drop = crack + max(20.0, float(rng.normal(habits.development, habits.development_sd)))
        if yellow is not None and yellow <= t and yellow > 0:
            out.append(Mark(at=t, event="yellow"))
            yellow = -1.0
        if crack is not None and 0 < crack <= t:
            out.append(Mark(at=t, event="first crack"))
            crack = -1.0
        if drop is not None and drop <= t:
            out.append(Mark(at=t, event="drop"))
            break
    marks_end = out[-1].at
    return sorted((e for e in out if e.at <= marks_end), key=lambda e: e.at)
