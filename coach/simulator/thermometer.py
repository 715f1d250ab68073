"""Thermometers: type K emf, the error of a lost cold junction, and time constants.

Source: NIST Standard Reference Database 60 (ITS-90 reference functions), type K, 0 to 1372 °C; the exponential term's
constants were read, the polynomial's are from memory.  Both are checked against an independent ITS-90 package.
"""

from __future__ import annotations

import math
from typing import Final

from scipy.optimize import brentq

_K: Final = (
    -0.176004136860e-01,
    0.389212049750e-01,
    0.185587700320e-04,
    -0.994575928740e-07,
    0.318409457190e-09,
    -0.560728448890e-12,
    0.560750590590e-15,
    -0.320207200030e-18,
    0.971511471520e-22,
    -0.121047212750e-25,
)
_A0, _A1, _A2 = 0.1185976, -0.1183432e-3, 126.9686


def type_k_emf(temperature: float) -> float:
    """Emf of a type K thermocouple [mV], cold junction at 0 °C; temperature 0..1372 °C, else ValueError."""
    if not 0.0 <= temperature <= 1372.0:
        raise ValueError(f"type K is not known at {temperature:g} °C here")
    total = 0.0
    for coefficient in reversed(_K):
        total = total * temperature + coefficient
    return total + _A0 * math.exp(_A1 * (temperature - _A2) ** 2)


def type_k_temperature(emf: float) -> float:
    """Temperature [°C] of a type K thermocouple with its cold junction at 0 °C; emf [mV] 0..54.8, else ValueError."""
    low, high = 0.0, 1372.0
    if not type_k_emf(low) <= emf <= type_k_emf(high):
        raise ValueError(f"no temperature of type K gives {emf:g} mV")
    return float(brentq(lambda t: type_k_emf(t) - emf, low, high, xtol=1e-9))


def without_cold_junction(temperature: float, *, ambient: float) -> float:
    """Display of a type K instrument [°C] that takes its own terminals, in truth at ``ambient`` [°C], for 0 °C."""
    return type_k_temperature(max(type_k_emf(temperature) - type_k_emf(ambient), type_k_emf(0.0)))
