"""Through the crack: what short flame-off pulses would do, each beside the gas as it stands.  Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from coach.distribution import Distribution
from coach.outlook import Outlook
from coach.roast import Roast

MADE_IN: Final = 10.0
"""How long after it is looked at a pulse is presumed to begin, s."""
LENGTHS: Final = ((), (10.0,), (20.0,), (30.0,), (10.0, 10.0))
"""Lengths of the pulses compared, s; pairs lie ``APART`` apart."""
APART: Final = 20.0


@dataclass(frozen=True)
class Pulse:
    """A flame-off pulse, or none: when the gas goes off and on again (roast times, s), and what comes of it: drop
    temperature (°C) and time (s), and how likely the roast stalls or races before drop."""

    off: tuple[float, ...]
    on: tuple[float, ...]
    temperature: Distribution
    time: Distribution
    stall: float
    racing: float


def pulses(outlook: Outlook, t: float, roast: Roast) -> list[Pulse]:
    """What short flame-off pulses from now on would do, each beside the gas as it stands.  Empty if unknown.

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
        forecast = outlook.what_if(t, roast, moves).forecast  # type: ignore[arg-type]
        if forecast.drop is None:
            continue
        out.append(Pulse(tuple(off), tuple(on), forecast.drop.temperature, forecast.drop.time,
                         forecast.stall or 0.0, forecast.racing or 0.0))  # fmt: skip
    return out
