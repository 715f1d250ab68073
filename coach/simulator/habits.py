"""Habits of a simulated person: intervals, lateness, mistypes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from coach.roast.units import TemperatureUnit


@dataclass(frozen=True)
class Habits:
    """Habits of a person: seconds between readings, delay of typing (s), moves late by up to (s), share of mistypes,
    delay of calling crack (s, its sd beside it), development aimed at (s; the recipe's if None) and its scatter, delay
    of calling yellow and its sd (s), largest error of the charge temperature (K), step of the readings (degrees),
    longest lateness of a planned move that somebody else left out (s), the share of readings that are timed as the
    dial turns over, the reaction to a turn (s, in the mean; simple reactions take 0.2 to 0.3 s: Luce, Response Times,
    1986), the share of turns missed, and of those pressed for a neighbouring number."""

    every: float = 30.0
    jitter: float = 6.0
    delay: float = 2.0
    late: float = 6.0
    typo: float = 0.0
    call_delay: float = 4.0
    call_sd: float = 2.0
    development: float | None = 90.0
    development_sd: float = 4.0
    unit: TemperatureUnit = "C"
    yellow_delay: float = 4.0
    yellow_sd: float = 6.0
    charge_within: float = 1.0
    rounding: float = 1.0
    catch_up: float = 30.0
    turns: float = 0.0
    reaction: float = 0.3
    missed: float = 0.05
    wrong: float = 0.02


SHARES: Final = ("typo", "turns", "missed", "wrong")


def habits_of(text: str, habits: Habits) -> Habits:
    """Habits changed by a text: 'every=20, typo=0.02'.  ValueError, naming the fault, if it can't be."""
    changes: dict[str, float] = {}
    known = [n for n, v in vars(habits).items() if n != "unit"]
    for part in text.replace(",", " ").split():
        name, _, value = part.partition("=")
        if name not in known:
            raise ValueError(f"there is no habit '{name[:30]}'; there are: {', '.join(known)}")
        try:
            changes[name] = float(value)
        except ValueError:
            raise ValueError(f"'{value[:20]}' is no number for {name}") from None
        low, high = (0.0, 1.0) if name in SHARES else (1.0, 600.0) if name == "every" else (0.0, 600.0)
        if not low <= changes[name] <= high:
            raise ValueError(f"{name} must lie between {low:g} and {high:g}")
    if changes.get("rounding", 1.0) == 0.0:
        raise ValueError("rounding must be above 0")
    return replace(habits, **changes)  # type: ignore[arg-type]


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
