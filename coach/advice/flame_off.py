"""Flame-off through the crack: the effect of short pulses, each beside the gas as it is.  Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import ndtr

from coach.forecast.distribution import Distribution
from coach.forecast.forecast_values import Forecast
from coach.forecast.predictor import Outlook
from coach.forecast.projection import GROWS, cracks_of, ends_after
from coach.roast.roast import Roast

MADE_IN: Final = 10.0
"""Delay until a pulse is presumed to begin, s."""
LENGTHS: Final = ((), (10.0,), (20.0,), (30.0,), (10.0, 10.0))
"""Lengths of the pulses compared, s; pairs lie ``APART`` apart."""
APART: Final = 20.0
LONGEST: Final = 360.0
"""Longest development that is computed, s."""


@dataclass(frozen=True)
class Pulse:
    """A flame-off pulse, or none: when the gas goes off and on again (roast times, s), and its outcome: drop
    temperature (°C) and time (s), how likely the roast stalls or races before drop, and the development (s)."""

    off: tuple[float, ...]
    on: tuple[float, ...]
    temperature: Distribution
    time: Distribution
    stall: float
    racing: float
    development: Distribution | None = None


def pulses(outlook: Outlook, t: float, roast: Roast) -> list[Pulse]:
    """Effects of short flame-off pulses from now on, each beside the gas as it is.  Empty if unknown.

    The pilot, the maker's manual and local codes decide whether a flame may be put out and lit again in a roast.
    """
    current = roast.setting("gas", t)
    out: list[Pulse] = []
    if current is None or current <= 0:
        return out
    for lengths in LENGTHS:
        at, off, on = t + MADE_IN, [], []
        for length in lengths:
            off.append(at)
            on.append(at + length)
            at += length + APART
        moves = tuple(m for a, b in zip(off, on, strict=True) for m in ((a, "gas", 0.0), (b, "gas", current)))
        forecast = outlook.what_if(t, roast, moves, risks=True).forecast  # type: ignore[arg-type]
        if forecast.drop is None:
            continue
        out.append(Pulse(tuple(off), tuple(on), forecast.drop.temperature, forecast.drop.time,
                         forecast.stall or 0.0, forecast.racing or 0.0,
                         development(outlook, t, roast, forecast)))  # fmt: skip
    return out


def development(outlook: Outlook, t: float, roast: Roast, forecast: Forecast) -> Distribution | None:
    """The time from crack to drop, s, in a forecast at roast time ``t``; None where the profile has no crack.

    Each crack that may come is followed by its own drop: by the person's rule after so long, or when the probe, from
    the crack's level on, has come to the temperature of the drop.  The spread of the crack's time itself cancels out.
    """
    crack, path, marked = forecast.first_crack, forecast.path, roast.marks.get("first crack")
    cracks = cracks_of(marked, crack)
    if path is None or cracks is None:
        return None
    habit = outlook.knowledge.drop
    ends = ends_after(cracks, outlook.profile, habit)
    least = np.maximum(t - cracks, 0.0)  # not dropped until now
    d = np.arange(0.0, LONGEST + 1.0, 1.0)
    by_time = ndtr((d[None, :] - np.maximum(ends, least + 1.0)[:, None]) / habit.development_sd)
    target = outlook.profile.drop_temperature if habit.temperature is None else habit.temperature
    at = cracks[:, None] + d[None, :]
    mean, spread = np.interp(at, path.t, path.mean), np.interp(at, path.t, path.sd)
    if marked is None and crack is not None:
        threshold = outlook.knowledge.thresholds.get("first crack")
        if threshold is None:
            return None
        mean = crack.level + mean - np.interp(cracks, path.t, path.mean)[:, None]
        spread = np.sqrt(threshold.scale**2 + (GROWS * d[None, :]) ** 2)
    by_heat = np.maximum.accumulate(ndtr((mean - target) / np.hypot(spread, habit.temperature_sd)), axis=1)
    p = (1 - habit.by_temperature) * by_time + habit.by_temperature * by_heat
    p = np.where(d[None, :] <= least[:, None], 0.0, p)
    whole = np.maximum.accumulate(p.mean(axis=0))
    return Distribution(d, whole / whole[-1]) if whole[-1] > 0.5 else None
