"""State equations of a batch of coffee in a gas-heated drum: pure functions, one equation each.

Every function takes floats or numpy arrays of one shape, by keyword, and returns the same kind.  Temperatures are °C,
times s, heat flows kW (kJ/s), masses kg, moisture kg of water per kg of dry bean.

Sources, and how far to trust them:

* S02: Schwartzberg (2002), "Modeling bean heating during batch roasting of coffee beans", in *Engineering and Food for
  the 21st Century*, CRC Press, pp. 871-890.  Its constants are quoted here from memory, not from the printed page; the
  tests only hold that the code integrates them correctly.
* V16: Vargas-Elias et al. (2016), Eng. Agric. 36(2):300-308: mass loss follows Arrhenius, 52.27 kJ/mol (abstract read).
* RM52: Ranz and Marshall (1952), flow past a sphere (from memory; measured for coffee drying by Burmester and Eggers
  (2010), J. Food Eng. 99:430-436, abstract read: ordinary sphere correlations hold).
* BC: BCcampus open textbook, Plumbing Apprenticeship 3e, Appendix 2: gas orifice table (read).
* 'own' marks a choice of this project without a publication behind it.
"""

from __future__ import annotations

import math
from typing import Final, Generic, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

N = TypeVar("N", float, NDArray[np.float64])

KELVIN: Final = 273.15
GAS_CONSTANT: Final = 8.314462618e-3
"""Molar gas constant [kJ/mol/K] (CODATA 2018, exact)."""
LATENT_HEAT: Final = 2790.0
"""Heat to drive bound water out of the bean [kJ/kg water].  Source: S02.  Above the latent heat of free water."""
EXOTHERM_FULL: Final = 232.0
"""Exotherm of S02 [kJ/kg dry].  Published sizes disagree: use 0 to 232."""
STREAM: Final = 250.0 + KELVIN
"""Temperature of the gas stream at which its properties are taken, those of air [K] (own)."""
AIR_HEAT_CAPACITY: Final = 1.034
"""Heat capacity of the gas stream [kJ/kg/K], by a property library."""
AIR_DENSITY: Final = 353.05 / STREAM
"""Density of the gas stream at 101.325 kPa [kg/m³].  Source: ideal gas, M = 28.9647 g/mol."""
AIR_CONDUCTIVITY: Final = 0.0241 * (STREAM / 273.15) ** 1.5 * (273.15 + 194.0) / (STREAM + 194.0)
"""Thermal conductivity of the gas stream [W/m/K].  Source: Sutherland's form (constants from memory)."""
AIR_VISCOSITY: Final = 1.716e-5 * (STREAM / 273.15) ** 1.5 * (273.15 + 110.4) / (STREAM + 110.4)
"""Dynamic viscosity of the gas stream [Pa s].  Source: Sutherland's law (constants from memory)."""
PRANDTL: Final = 1032.1625 * AIR_VISCOSITY / AIR_CONDUCTIVITY
"""Prandtl number of the gas stream."""
MASS_LOSS_ENERGY: Final = 52.27
"""Activation energy of mass loss [kJ/mol].  Source: V16."""
STEEL_HEAT_CAPACITY: Final = 0.48
"""Heat capacity of drum steel [kJ/kg/K].  Handbook range 0.46 to 0.50 (from memory)."""


def exponential(x: N) -> N:
    """e to the x, by the faster of the two libraries."""
    if isinstance(x, float):
        return math.exp(x)
    return np.exp(x)


# ── beans ───────────────────────────────────────────────────────────────────────────────────────────────────────────


def sensible_capacity(*, bean: N, moisture: N) -> N:
    """Heat to warm one kg of dry bean and the water in it [kJ/K per kg dry].

    bean [°C], 0..250; moisture X [kg/kg dry], 0..0.2.  Source: S02, (1 + X) Cb = 1.099 + 0.0070 T + 5.0 X.
    """
    return 1.099 + 0.0070 * bean + 5.0 * moisture


def drying_rate(*, bean: N, moisture: N, size: N) -> N:
    """Rate of change of moisture dX/dt [1/s], never positive.

    bean [°C], 25..250; moisture X [kg/kg dry]; size = bean diameter d [mm], 5..8.
    Source: S02, dX/dt = -(4.32e9 X² / d²) exp(-9889 / T_abs), d in millimetres.
    """
    return -(4.32e9 * moisture * moisture / (size * size)) * exponential(-9889.0 / (bean + KELVIN))


def exotherm_power(*, bean: N, released: N, total: N) -> N:
    """Heat set free by the roasting reactions Qr [kW per kg dry].

    bean [°C]; released He and total Het [kJ/kg dry], 0 <= He <= Het, Het 0..232.
    Source: S02, Qr = 116200 exp(-5500 / T_abs) (Het - He) / Het with Het = 232.  Its size is disputed (Abdul Ghani et
    al. 2019 find it several times smaller), so here the course of the reaction is S02's and ``total`` scales the heat.
    """
    return (116200.0 / EXOTHERM_FULL) * exponential(-5500.0 / (bean + KELVIN)) * (total - released)


def organic_loss_rate(*, bean: N, at_200: N) -> N:
    """Loss of dry matter (gas and vapours other than the bean's own water) [kg/s per kg dry].

    bean [°C], 100..250; at_200 = the rate at 200 °C [1/s], about 1e-4.
    Source: Arrhenius form and 52.27 kJ/mol from V16; at_200 is a property of the beans (own).
    """
    factor = MASS_LOSS_ENERGY / GAS_CONSTANT
    return at_200 * exponential(factor / (200.0 + KELVIN) - factor / (bean + KELVIN))


# ── gas stream ──────────────────────────────────────────────────────────────────────────────────────────────────────


def unexchanged(*, conductance: N, capacity_rate: N) -> N:
    """Share of a temperature difference left after a pass, exp(-NTU), 0..1; the effectiveness is 1 less it.

    conductance h A [kW/K] between the stream and a body at one temperature; capacity_rate G cp [kW/K] of the stream.
    Source: effectiveness-NTU method with one side at constant temperature (any heat-transfer text).
    """
    return exponential(-conductance / capacity_rate)


def stream_after(*, inlet: N, body: N, left: N) -> N:
    """Temperature of a stream [°C] after passing a body [°C]; ``left`` from :func:`unexchanged`."""
    return body + (inlet - body) * left


def film_coefficient(*, speed: float, size: float) -> float:
    """Heat transfer coefficient between the gas stream and one bean in it [kW/m²/K].

    speed [m/s], 0.05..10; size = bean diameter [mm].
    Source: RM52, Nu = 2 + 0.6 Re^(1/2) Pr^(1/3) for a sphere.
    """
    diameter = size / 1000.0
    reynolds = AIR_DENSITY * speed * diameter / AIR_VISCOSITY
    nusselt = 2.0 + 0.6 * math.sqrt(reynolds) * math.cbrt(PRANDTL)
    return nusselt * AIR_CONDUCTIVITY / diameter / 1000.0


def saturation_pressure(*, temperature: N) -> N:
    """Vapour pressure of water [kPa], 100..300 °C.  Source: Antoine equation (constants from memory, A 8.14019, B
    1810.94, C 244.485 for mmHg and °C)."""
    return 0.133322 * exponential(math.log(10.0) * (8.14019 - 1810.94 / (temperature + 244.485)))


def water_activity(*, moisture: N) -> N:
    """Water activity of the bean, 0..1; moisture X [kg/kg dry].

    Source: own one-constant form X / (X + 0.08): 0.61 at 11 % (SCA asks green coffee to stay below 0.70).
    """
    return moisture / (moisture + 0.08)


# ── burner ──────────────────────────────────────────────────────────────────────────────────────────────────────────


def burner_heat(*, pressure: float, full_pressure: float, full_heat: float) -> float:
    """Heat of the burner when steady [kW] at a gauge pressure [kPa], 0..a few kPa.

    full_heat [kW] is its heat at full_pressure [kPa].  Source: orifice law (BC): heat goes as the root of pressure.
    """
    return float(full_heat * (pressure / full_pressure) ** 0.5)


# ── probe ───────────────────────────────────────────────────────────────────────────────────────────────────────────


def probe_rate(*, probe: N, bean: N, gas: N, lag: N, gas_share: N) -> N:
    """Rate of change of a first-order probe [K/s] that feels beans and the gas between them.

    probe, bean, gas [°C]; lag > 0 [s] (a 3 mm sheath 1.5 s in water to 35 s in air, a 6 mm one 5 to 87 s: cable makers'
    tables; none published for a coffee bed); gas_share 0..1 (own).  Source: S02 treats the probe as a first-order lag.
    """
    return ((1.0 - gas_share) * bean + gas_share * gas - probe) / lag


# ── the whole ───────────────────────────────────────────────────────────────────────────────────────────────────────


class State(NamedTuple, Generic[N]):
    """State of the roaster and its beans at one moment."""

    bean: N
    """Bean temperature [°C]."""
    moisture: N
    """Bean moisture X [kg/kg dry]."""
    released: N
    """Exotherm already set free He [kJ/kg dry]."""
    lost: N
    """Dry matter lost [kg/kg dry]."""
    metal: N
    """Temperature of the drum metal [°C]."""
    probe: N
    """Temperature of the probe's tip [°C]."""
    burner: N
    """Heat the burner gives now [kW]."""


class Conditions(NamedTuple, Generic[N]):
    """Conditions that are constant from one change of a control to the next."""

    dry_mass: N
    """Dry bean mass in the drum [kg]; 0 when it is empty."""
    size: N
    """Bean diameter [mm]."""
    exotherm: N
    """Total exotherm Het [kJ/kg dry]."""
    organic: N
    """Loss of dry matter at 200 °C [1/s]."""
    burner_set: N
    """Heat the burner settles to [kW]."""
    burner_lag: N
    """Time constant of the burner [s]."""
    ambient: N
    """Room temperature [°C]; the gas stream starts from it."""
    capacity_rate: N
    """Heat capacity rate of the gas stream G cp [kW/K]."""
    jacket_left: N
    """exp(-NTU) of the stream past the outside of the drum."""
    bed_left: N
    """exp(-NTU) of the stream through the beans; 1 when the drum is empty."""
    bed_mean: N
    """Mean of the stream's excess over the beans as a share of the excess at the inlet, (1 - exp(-NTU)) / NTU."""
    contact: N
    """Conductance from metal to beans [kW/K]."""
    metal_capacity: N
    """Heat capacity of the drum metal [kJ/K]."""
    loss: N
    """Conductance from metal to room [kW/K]."""
    probe_lag: N
    """Time constant of the probe [s]."""
    gas_share: N
    """Share of the gas in the temperature that the probe feels, 0..1."""


class Flows(NamedTuple, Generic[N]):
    """Heat flows [kW] and the gas temperatures [°C] they come from."""

    inlet: N
    """Gas temperature entering the drum [°C]."""
    bed: N
    """Mean gas temperature between the beans [°C]."""
    outlet: N
    """Gas temperature leaving the drum [°C]."""
    gas_to_metal: N
    gas_to_bean: N
    metal_to_bean: N
    metal_to_room: N


def flows(s: State[N], c: Conditions[N]) -> Flows[N]:
    """Heat flows at one moment.  The gas stream has no storage: flame, then drum outside, then bed, then chimney."""
    flame = c.ambient + s.burner / c.capacity_rate
    inlet = stream_after(inlet=flame, body=s.metal, left=c.jacket_left)
    outlet = stream_after(inlet=inlet, body=s.bean, left=c.bed_left)
    return Flows(
        inlet=inlet,
        bed=s.bean + (inlet - s.bean) * c.bed_mean,
        outlet=outlet,
        gas_to_metal=c.capacity_rate * (flame - inlet),
        gas_to_bean=c.capacity_rate * (inlet - outlet),
        metal_to_bean=c.contact * (s.metal - s.bean),
        metal_to_room=c.loss * (s.metal - c.ambient),
    )


def rates(s: State[N], c: Conditions[N]) -> State[N]:
    """Time derivative of the state with beans in the drum, per second.  Source of the balances: S02 (form)."""
    f = flows(s, c)
    drying = drying_rate(bean=s.bean, moisture=s.moisture, size=c.size)
    exotherm = exotherm_power(bean=s.bean, released=s.released, total=c.exotherm)
    heat = (f.gas_to_bean + f.metal_to_bean) / c.dry_mass + exotherm + LATENT_HEAT * drying
    return State(
        bean=heat / sensible_capacity(bean=s.bean, moisture=s.moisture),
        moisture=drying,
        released=exotherm,
        lost=organic_loss_rate(bean=s.bean, at_200=c.organic),
        metal=(f.gas_to_metal - f.metal_to_bean - f.metal_to_room) / c.metal_capacity,
        probe=probe_rate(probe=s.probe, bean=s.bean, gas=f.bed, lag=c.probe_lag, gas_share=c.gas_share),
        burner=(c.burner_set - s.burner) / c.burner_lag,
    )


def empty_rates(s: State[N], c: Conditions[N]) -> State[N]:
    """Time derivative of the state with the drum empty: the probe feels metal and gas, the bean part is constant."""
    nothing = s.bean * 0.0
    f = flows(s, c)
    return State(
        bean=nothing,
        moisture=nothing,
        released=nothing,
        lost=nothing,
        metal=(f.gas_to_metal - f.metal_to_room) / c.metal_capacity,
        probe=probe_rate(probe=s.probe, bean=s.metal, gas=f.inlet, lag=c.probe_lag, gas_share=c.gas_share),
        burner=(c.burner_set - s.burner) / c.burner_lag,
    )


def step(s: State[N], c: Conditions[N], dt: float, *, empty: bool = False) -> State[N]:
    """The state ``dt`` seconds on, by the classical fourth-order Runge-Kutta rule, controls constant."""
    f = empty_rates if empty else rates
    half = 0.5 * dt
    k1 = f(s, c)
    k2 = f(State(*[y + half * k for y, k in zip(s, k1, strict=True)]), c)
    k3 = f(State(*[y + half * k for y, k in zip(s, k2, strict=True)]), c)
    k4 = f(State(*[y + dt * k for y, k in zip(s, k3, strict=True)]), c)
    sixth = dt / 6.0
    return State(*[y + sixth * (a + 2.0 * (b + d) + e) for y, a, b, d, e in zip(s, k1, k2, k3, k4, strict=True)])
