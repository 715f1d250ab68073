"""Thermometers against an independent ITS-90 package and the makers' tables."""

from __future__ import annotations

import pytest
import thermocouple_its90

from coach.simulator.thermometer import type_k_emf, type_k_temperature, without_cold_junction


@pytest.mark.parametrize("temperature", [0.0, 25.0, 50.0, 100.0, 150.0, 210.0, 230.0, 300.0, 400.0, 800.0, 1372.0])
def test_type_k_against_its90_package(temperature: float) -> None:
    outside = thermocouple_its90.get("K").emf(temperature)
    assert type_k_emf(temperature) == pytest.approx(outside, abs=1e-6)
    assert type_k_temperature(max(outside, type_k_emf(0.0))) == pytest.approx(temperature, abs=1e-4)


@pytest.mark.parametrize(("temperature", "emf"), [(100.0, 4.096), (200.0, 8.138), (300.0, 12.209)])
def test_type_k_against_nist_table(temperature: float, emf: float) -> None:
    """NIST ITS-90 tables, +/- 0.001 mV."""
    assert type_k_emf(temperature) == pytest.approx(emf, abs=0.001)


def test_forgotten_cold_junction() -> None:
    """Worked out with the same package: terminals at 25 °C, a true 230 °C shows 205.10 °C."""
    assert without_cold_junction(230.0, ambient=25.0) == pytest.approx(205.10, abs=0.005)
    assert without_cold_junction(20.0, ambient=25.0) == pytest.approx(0.0, abs=1e-6)


def test_outside_its_range() -> None:
    for wrong in (-1.0, 1400.0):
        with pytest.raises(ValueError, match="not known"):
            type_k_emf(wrong)
    with pytest.raises(ValueError, match="no temperature"):
        type_k_temperature(60.0)
