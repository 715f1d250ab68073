"""The state equations against numbers and libraries that are not ours.

Runs A and B and the point values were worked out with SciPy from Schwartzberg's (2002) equations by another hand; they
check this code, not nature: the constants behind them were quoted from memory.
"""

from __future__ import annotations

import ht
import numpy as np
import pytest
from scipy.integrate import solve_ivp

from coach.simulator import physics
from coach.simulator.beans import dry_basis
from coach.simulator.physics import Conditions, State


def found_outside(*of: object) -> float:
    """A property by CoolProp.  It takes two seconds to load, and each worker collects all tests: so on first use."""
    from CoolProp.CoolProp import PropsSI

    return float(PropsSI(*of))


RUN_A = {
    60: (70.49, 0.1200, 0.3),
    120: (102.62, 0.1198, 2.1),
    180: (126.91, 0.1188, 7.1),
    240: (145.15, 0.1155, 17.0),
    300: (157.90, 0.1082, 32.0),
    360: (166.51, 0.0976, 50.9),
    420: (172.90, 0.0855, 71.7),
    480: (178.42, 0.0733, 93.1),
    540: (183.68, 0.0618, 114.3),
    600: (188.87, 0.0515, 134.7),
    720: (198.80, 0.0349, 170.7),
    900: (210.66, 0.0194, 207.5),
}
RUN_B = {
    60: 77.82,
    120: 113.95,
    180: 140.19,
    240: 158.13,
    300: 169.34,
    360: 176.99,
    420: 183.47,
    480: 189.75,
    540: 196.05,
    600: 202.26,
    660: 208.17,
    720: 213.52,
}


def drum_of(conductance: float, *, exotherm: float = 232.0) -> Conditions[float]:
    """One kg of dry beans that takes heat from the metal alone, and the metal keeps its temperature."""
    return Conditions(
        dry_mass=1.0,
        size=6.0,
        exotherm=exotherm,
        organic=1e-4,
        burner_set=0.0,
        burner_lag=6.0,
        ambient=22.0,
        capacity_rate=0.01,
        jacket_left=1.0,
        bed_left=1.0,
        bed_mean=1.0,
        contact=conductance,
        metal_capacity=1e12,
        loss=0.0,
        probe_lag=20.0,
        gas_share=0.0,
    )


def at_rest(metal: float, *, bean: float = 25.0, moisture: float = 0.12) -> State[float]:
    return State(bean=bean, moisture=moisture, released=0.0, lost=0.0, metal=metal, probe=bean, burner=0.0)


def stepped(state: State[float], conditions: Conditions[float], seconds: int) -> list[State[float]]:
    out = [state]
    for _ in range(seconds):
        out.append(physics.step(out[-1], conditions, 1.0))
    return out


def test_run_a_with_our_own_steps() -> None:
    states = stepped(at_rest(230.0), drum_of(0.0085), 900)
    for t, (bean, moisture, released) in RUN_A.items():
        assert states[t].bean == pytest.approx(bean, abs=0.0051)
        assert states[t].moisture == pytest.approx(moisture, abs=0.000051)
        assert states[t].released == pytest.approx(released, abs=0.051)


def test_run_a_without_exotherm_and_its_worth() -> None:
    """Published bounds are below 5 °C (Abdul Ghani et al. 2019, read second-hand) and 17 °C (S02's constants)."""
    full = stepped(at_rest(230.0), drum_of(0.0085), 900)
    small = stepped(at_rest(230.0), drum_of(0.0085, exotherm=60.0), 900)
    none = stepped(at_rest(230.0), drum_of(0.0085, exotherm=0.0), 900)
    assert none[600].bean == pytest.approx(171.70, abs=0.0051)
    assert none[900].bean == pytest.approx(187.25, abs=0.0051)
    assert full[600].bean - none[600].bean == pytest.approx(17.17, abs=0.011)
    assert 0.0 < small[600].bean - none[600].bean < 5.0
    assert max(s.bean for s in none) < 230.0


def test_run_b_by_two_integrators() -> None:
    conditions = drum_of(0.0070)

    def gas(t: float) -> float:
        return float(245.0 + 75.0 * np.exp(-t / 240.0))

    def rate(t: float, y: np.ndarray) -> list[float]:
        return list(physics.rates(State(*map(float, y))._replace(metal=gas(t)), conditions))

    start = at_rest(gas(0.0))
    found = solve_ivp(rate, (0.0, 720.0), list(start), rtol=1e-9, atol=1e-10, t_eval=list(RUN_B))
    assert found.y[0] == pytest.approx(list(RUN_B.values()), abs=0.0051)

    state, t, dt = start, 0.0, 0.5
    for _ in range(1440):
        state = physics.step(state._replace(metal=gas(t + dt / 2)), conditions, dt)
        t += dt
    assert state.bean == pytest.approx(RUN_B[720], abs=0.01)


@pytest.mark.parametrize(
    ("bean", "moisture", "capacity"),
    [(25, 0.12, 1.6732), (100, 0.11, 2.1162), (150, 0.09, 2.3844), (200, 0.04, 2.5952), (220, 0.02, 2.6853)],
)
def test_heat_capacity_points(bean: float, moisture: float, capacity: float) -> None:
    """Worked out with the same equations by another hand."""
    per_dry = physics.sensible_capacity(bean=float(bean), moisture=moisture)
    assert per_dry / (1.0 + moisture) == pytest.approx(capacity, abs=5.1e-5)


@pytest.mark.parametrize(
    ("bean", "moisture", "rate"),
    [
        (100, 0.12, -5.347e-6),
        (150, 0.10, -8.506e-5),
        (180, 0.08, -2.558e-4),
        (200, 0.05, -2.513e-4),
        (220, 0.02, -9.385e-5),
    ],
)
def test_drying_points(bean: float, moisture: float, rate: float) -> None:
    """Worked out with the same equations by another hand."""
    assert physics.drying_rate(bean=float(bean), moisture=moisture, size=6.0) == pytest.approx(rate, rel=2e-4)


@pytest.mark.parametrize(("bean", "power"), [(150, 0.2632), (200, 1.0396), (220, 1.6657)])
def test_exotherm_points(bean: float, power: float) -> None:
    """Worked out with the same equations by another hand."""
    found = physics.exotherm_power(bean=float(bean), released=0.0, total=232.0)
    assert found == pytest.approx(power, abs=5.1e-5)


@pytest.mark.parametrize(
    ("pressures", "flows"),
    [
        ((1, 3, 3.5, 4, 7), (0.276, 0.478, 0.516, 0.552, 0.730)),
        ((1, 3, 3.5, 4, 7), (1.187, 2.055, 2.220, 2.373, 3.139)),
        ((1, 3, 3.5, 4, 7), (2.302, 3.987, 4.307, 4.604, 6.090)),
        ((10, 11), (2.373, 2.489)),
    ],
)
def test_heat_goes_as_the_root_of_pressure(pressures: tuple[float, ...], flows: tuple[float, ...]) -> None:
    """BCcampus, Plumbing Apprenticeship 3e, Appendix 2: flow by pressure of drills 80, 70 and 61 (and 70 with propane);
    flow and so heat goes as the root of pressure."""
    heats = [physics.burner_heat(pressure=float(p), full_pressure=7.0, full_heat=6.0) for p in pressures]
    for heat, flow in zip(heats, flows, strict=True):
        assert heat / heats[0] == pytest.approx(flow / flows[0], rel=2e-3)
    assert physics.burner_heat(pressure=0.0, full_pressure=3.0, full_heat=6.0) == 0.0


def test_mass_loss_ratio() -> None:
    """Vargas-Elias et al. (2016): 52.27 kJ/mol."""
    a = physics.organic_loss_rate(bean=200.0, at_200=1.0)
    assert physics.organic_loss_rate(bean=210.0, at_200=1.0) / a == pytest.approx(1.3165, abs=5e-5)
    assert physics.organic_loss_rate(bean=220.0, at_200=1.0) / a == pytest.approx(1.714, abs=5e-4)
    assert a == pytest.approx(1.0)


def test_moisture_basis() -> None:
    """11 % wet is 12.36 % dry."""
    assert dry_basis(0.11) == pytest.approx(0.12360, abs=5e-6)
    assert dry_basis(0.12) == pytest.approx(0.1364, abs=5e-5)


@pytest.mark.parametrize(
    ("key", "own", "off"),
    [
        ("D", physics.AIR_DENSITY, 1e-3),
        ("C", 1000.0 * physics.AIR_HEAT_CAPACITY, 1e-3),
        ("L", physics.AIR_CONDUCTIVITY, 0.012),
        ("V", physics.AIR_VISCOSITY, 0.03),
        ("PRANDTL", physics.PRANDTL, 0.03),
    ],
)
def test_the_gas_stream_is_air_at_250_by_coolprop(key: str, own: float, off: float) -> None:
    assert own == pytest.approx(found_outside(key, "T", 523.15, "P", 101325.0, "Air"), rel=off)


@pytest.mark.parametrize("temperature", [100.0, 150.0, 180.0, 200.0, 220.0, 250.0, 300.0])
def test_steam_against_coolprop(temperature: float) -> None:
    outside = found_outside("P", "T", temperature + 273.15, "Q", 0, "Water") / 1000.0
    assert physics.saturation_pressure(temperature=temperature) == pytest.approx(outside, rel=0.013)


@pytest.mark.parametrize("temperature", [25.0, 100.0, 150.0, 200.0, 220.0])
def test_bound_water_takes_more_heat_than_free_water(temperature: float) -> None:
    kelvin = temperature + 273.15
    free = found_outside("H", "T", kelvin, "Q", 1, "Water") - found_outside("H", "T", kelvin, "Q", 0, "Water")
    assert free / 1000.0 < physics.LATENT_HEAT


@pytest.mark.parametrize("speed", [0.2, 0.5, 1.0, 2.0, 5.0])
def test_film_against_gnielinski(speed: float) -> None:
    """One sphere of Gnielinski's correlation (VDI Heat Atlas, in ``ht``): voidage 1, no bed factor."""
    t, size = 250.0, 6.0
    k = found_outside("L", "T", t + 273.15, "P", 101325.0, "Air")
    nusselt = ht.conv_packed_bed.Nu_packed_bed_Gnielinski(
        dp=size / 1000.0,
        voidage=1.0,
        vs=speed,
        rho=found_outside("D", "T", t + 273.15, "P", 101325.0, "Air"),
        mu=found_outside("V", "T", t + 273.15, "P", 101325.0, "Air"),
        Pr=found_outside("PRANDTL", "T", t + 273.15, "P", 101325.0, "Air"),
        fa=1.0,
    )
    outside = nusselt * k / (size / 1000.0) / 1000.0
    assert physics.film_coefficient(speed=speed, size=size) == pytest.approx(outside, rel=0.15)


@pytest.mark.parametrize(("speed", "film"), [(0.5, 45), (1.0, 58), (2.0, 76), (5.0, 113)])
def test_film_points(speed: float, film: float) -> None:
    """Ranz-Marshall for a 6 mm sphere with CoolProp's air at 250 °C [W/m²/K], worked out by another hand."""
    found = 1000.0 * physics.film_coefficient(speed=speed, size=6.0)
    assert found == pytest.approx(film, rel=0.015)


@pytest.mark.parametrize("ntu", [0.05, 0.5, 1.0, 3.0])
def test_effectiveness_against_ht(ntu: float) -> None:
    """A stream past a body at one temperature is an exchanger with capacity ratio 0."""
    left = physics.unexchanged(conductance=ntu * 0.01, capacity_rate=0.01)
    assert 1.0 - left == pytest.approx(ht.effectiveness_from_NTU(NTU=ntu, Cr=0.0))


def test_sensor_step() -> None:
    """t0.9 / t0.5 = 3.3219 for a first-order sensor; beans too heavy to cool, the probe alone moves."""
    conditions = drum_of(0.0)._replace(dry_mass=1e12, exotherm=0.0, probe_lag=33.2)
    state = State(bean=100.0, moisture=0.0, released=0.0, lost=0.0, metal=100.0, probe=0.0, burner=0.0)
    probe = np.array([s.probe for s in stepped(state, conditions, 200)])
    half, most = (float(np.interp(level, probe, np.arange(201.0))) for level in (50.0, 90.0))
    assert half == pytest.approx(23.0, abs=0.1)  # a 3 mm sheath in air: cable maker's table
    assert most / half == pytest.approx(3.3219, rel=2e-3)


def test_sensor_ramp() -> None:
    """In a steady ramp a probe reads low by its time constant times the rate."""

    def rate(t: float, y: np.ndarray) -> list[float]:
        return [physics.probe_rate(probe=float(y[0]), bean=25.0 + t / 6.0, gas=0.0, lag=20.0, gas_share=0.0)]

    end = solve_ivp(rate, (0.0, 300.0), [25.0], rtol=1e-9, atol=1e-9).y[0, -1]
    assert 25.0 + 300.0 / 6.0 - end == pytest.approx(20.0 / 6.0, abs=1e-5)  # 20 s at 10 °C/min: 3.33 °C
