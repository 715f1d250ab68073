"""Units against exact factors and against pint."""

from __future__ import annotations

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.roast.units import KPA_PER, clock, from_celsius, from_kpa, parse_clock, to_celsius, to_kpa


def test_pressure_factors_against_nist_and_pint() -> None:
    # NIST SP 811 (2008), Appendix B.8; pint's registry is the second, independent source
    registry = pint.UnitRegistry()
    names = {"mbar": "millibar", "inH2O": "inH2O", "psi": "psi", "kPa": "kPa"}
    for unit, name in names.items():
        expected = registry.Quantity(1.0, name).to("kPa").magnitude
        assert KPA_PER[unit] == pytest.approx(expected, rel=2e-7)  # type: ignore[index]
    assert KPA_PER["mmH2O"] == pytest.approx(0.00980665)


def test_fixed_points_of_the_temperature_scales() -> None:
    assert to_celsius(212, "F") == pytest.approx(100)
    assert to_celsius(32, "F") == 0
    assert from_celsius(100, "F") == pytest.approx(212)


@given(st.floats(-50, 700), st.sampled_from(["C", "F"]))
def test_temperatures_come_back(value: float, unit: str) -> None:
    assert from_celsius(to_celsius(value, unit), unit) == pytest.approx(value, abs=1e-9)  # type: ignore[arg-type]


@given(st.floats(0, 100), st.sampled_from(sorted(KPA_PER)))
def test_pressures_come_back(value: float, unit: str) -> None:
    assert from_kpa(to_kpa(value, unit), unit) == pytest.approx(value, abs=1e-9)  # type: ignore[arg-type]


@given(st.integers(0, 5999))
def test_clock_comes_back(seconds: int) -> None:
    assert parse_clock(clock(seconds)) == seconds
