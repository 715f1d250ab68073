"""Habits of a simulated person: intervals, lateness, mistypes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from coach.roast.units import TemperatureUnit


@dataclass(frozen=True)
class Habits:
    """Habits of a person: seconds between readings, delay of typing (s), moves late by up to (s), share of mistypes,
    delay of calling crack (s, its sd beside it), development aimed at (s; the recipe's if None) and its scatter, delay
    of calling yellow and its sd (s), largest error of the charge temperature (K), step of the readings (degrees),
    longest lateness of a planned move that somebody else left out (s)."""

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
