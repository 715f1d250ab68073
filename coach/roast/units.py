"""Units: °C and °F, gas pressure, minutes and seconds; the controls and events of a roast.  The only conversion factors
of the project.

Inside the core temperatures are °C, temperature differences K, pressures kPa, times s.
Factors: NIST Special Publication 811 (2008), Appendix B.8: 1 inH2O (conventional) = 249.0889 Pa,
1 psi = 6894.757 Pa, 1 mmH2O (conventional) = 9.80665 Pa, 1 mbar = 100 Pa exactly; °C = (°F - 32) / 1.8 exactly.
"""

from __future__ import annotations

import math
import re
from typing import Final, Literal, get_args

TemperatureUnit = Literal["C", "F"]
PressureUnit = Literal["kPa", "mbar", "inH2O", "mmH2O", "psi"]
Control = Literal["gas", "air", "drum"]
Event = Literal["charge", "turning point", "yellow", "first crack", "second crack", "drop"]
EVENTS: Final[tuple[Event, ...]] = get_args(Event)
"""The marks, in the order in which a roast passes them."""
Dial = Literal["whole", "half", "tenths", "needle"]
"""Resolution of the probe's dial: whole degrees, half degrees or tenths in digits, or a needle over marks."""

KPA_PER: Final[dict[PressureUnit, float]] = {
    "kPa": 1.0,
    "mbar": 0.1,
    "inH2O": 0.2490889,
    "mmH2O": 0.00980665,
    "psi": 6.894757,
}


def to_celsius(value: float, unit: TemperatureUnit) -> float:
    """A temperature in ``unit`` as °C."""
    return value if unit == "C" else (value - 32.0) / 1.8


def from_celsius(value: float, unit: TemperatureUnit) -> float:
    """A temperature in °C as ``unit``."""
    return value if unit == "C" else value * 1.8 + 32.0


def to_kelvins(difference: float, unit: TemperatureUnit) -> float:
    """A temperature difference (or a rate) in ``unit`` as K."""
    return difference if unit == "C" else difference / 1.8


def from_kelvins(difference: float, unit: TemperatureUnit) -> float:
    """A temperature difference (or a rate) in K as ``unit``."""
    return difference if unit == "C" else difference * 1.8


def apart(kelvins: float, unit: TemperatureUnit, digits: int = 0) -> str:
    """The size of a difference of temperatures in a person's unit.

    >>> apart(-14.2, "C"), apart(14.2, "F")
    ('14 °C', '26 °F')
    """
    return f"{number(from_kelvins(abs(kelvins), unit), digits)} °{unit}"


def to_kpa(value: float, unit: PressureUnit) -> float:
    """A gauge pressure in ``unit`` as kPa."""
    return value * KPA_PER[unit]


def from_kpa(value: float, unit: PressureUnit) -> float:
    """A gauge pressure in kPa as ``unit``."""
    return value / KPA_PER[unit]


def clock(seconds: float) -> str:
    """Seconds as ``m:ss``, with a minus sign before zero.

    >>> clock(380), clock(-5.4), clock(3601)
    ('6:20', '−0:05', '60:01')
    """
    if not math.isfinite(seconds):
        return "–"
    whole = round(abs(seconds))
    sign = "−" if seconds < 0 and whole else ""
    return f"{sign}{whole // 60}:{whole % 60:02d}"


_CLOCK = re.compile(r"(\d{1,3}):([0-5]\d(?:\.\d+)?)")


def parse_clock(text: str) -> float:
    """``m:ss`` (or plain seconds) as seconds; ValueError when it is neither.

    >>> parse_clock("6:20"), parse_clock("90")
    (380.0, 90.0)
    """
    text = text.strip()
    match = _CLOCK.fullmatch(text)
    if match:
        return int(match[1]) * 60 + float(match[2])
    if re.fullmatch(r"\d{1,5}(?:\.\d+)?", text, re.ASCII):
        return float(text)
    raise ValueError(f"'{text[:20]}' is not a time: write minutes and seconds like 6:20, or seconds")


def number(value: float, digits: int = 1) -> str:
    """A number as a person would write it: at most ``digits`` decimals, no trailing zeros.

    >>> number(0.90, 2), number(198.0), number(-0.04)
    ('0.9', '198', '0')
    """
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
