"""The record of advice in words.  Pure."""

from __future__ import annotations

from coach.roast.units import TemperatureUnit, clock, from_celsius, number
from coach.verification.advice_outcomes import AdviceOutcome, Interval

HOW = {
    "followed": "followed",
    "partly": "followed in part",
    "beyond": "more than advised",
    "otherwise": "moved the other way",
    "not followed": "not followed",
    "replaced": "changed before it was due",
}


def line(told: AdviceOutcome, unit: TemperatureUnit) -> str:
    """One line: '3:20 gas to 1.3: crack 8:05 to 8:26 (8:18-8:35); followed after 12 s; came 8:24: inside'."""
    g = told.given
    out = (
        f"{clock(g.t)} {g.control} to {number(g.shown, 2)}: {g.about} {value(told, g.without[1], unit)} to "
        f"{_interval(told, g.stated, unit)}; {HOW[told.how]}"
    )
    if told.how in ("partly", "beyond") and told.share is not None:
        out += f" ({100 * told.share:.0f} %)"
    if told.delay is not None:
        out += f" after {told.delay:.0f} s"
    if told.how in ("not followed", "replaced") or told.came is None:
        return out
    out += f"; came {value(told, told.came, unit)}"
    if told.held_to is None or told.inside is None:
        return out
    out += ": inside" if told.inside else ": OUTSIDE"
    if not told.as_said:
        out += f" the forecast for the moves that were made ({_interval(told, told.held_to, unit)})"
    return out


def value(told: AdviceOutcome, x: float, unit: TemperatureUnit) -> str:
    """The quantity that a move was about: a time of the crack (m:ss), or a temperature at drop (in ``unit``)."""
    return clock(x) if told.given.about == "crack" else f"{number(from_celsius(x, unit), 0)} °{unit}"


def _interval(told: AdviceOutcome, i: Interval, unit: TemperatureUnit) -> str:
    return f"{value(told, i[1], unit)} ({value(told, i[0], unit)}-{value(told, i[2], unit)})"
