"""Another simulated roaster, of another build than the project's: no equation, number or line of code is shared.

Two shells of bean, a drum, gas that follows the flame with its own lag, flames that flicker, beans that crack by their
core.  All numbers are our own choice, made so that a roast lasts 7 to 12 minutes; nothing in the coach was chosen by
looking at them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError
from workshops import Day, day_of, invented_profile

from coach.roast.entries import Entry, Mark, Move, Reading
from coach.roast.profile import Profile
from coach.roast.units import from_celsius

Array = NDArray[np.float64]
CHARGE = 60.0
LONGEST = 960


@dataclass(frozen=True)
class Kit:
    """One roaster, its beans and its plan: heat flows in W/K for one kilogram, heat in J/K, times in s, gas in kPa."""

    power: float = 5280.0
    drum: float = 3600.0
    drum_loss: float = 3.4
    gas_drum: float = 4.5
    gas_bean: float = 4.4
    drum_bean: float = 2.87
    core: float = 21.0
    flow: float = 8.3
    bean: float = 2270.0
    water: float = 0.11
    dries: float = 3.0e-5
    probe: float = 16.0
    probe_gas: float = 0.06
    crack: float = 186.7
    flame: float = 9.0
    unit: str = "C"
    top: float = 2.5
    gas: tuple[tuple[float, float], ...] = ((0, 1.7), (240, 1.5), (360, 1.3), (450, 1.0))
    air: tuple[tuple[float, float], ...] = ((0, 3.0), (240, 5.0), (400, 7.0))


@dataclass(frozen=True)
class Today:
    """What a day does differently, and nobody logs."""

    batch: float = 1.0
    room: float = 22.0
    drum: float = 195.0
    water: float = 1.0
    supply: float = 1.0
    crack: float = 0.0
    offset: float = 0.0
    seed: int = 0


class Roasts:
    """Roasts under way, a second at a time.  Numbers of ``kit`` and ``today`` are of one roast, or arrays over many."""

    def __init__(self, kit: Kit, today: Today) -> None:
        self.kit, self.today, self.t = kit, today, 0
        seeds = np.atleast_1d(today.seed)
        self._noise = np.array([np.random.default_rng(int(s)).normal(size=LONGEST) for s in seeds])
        one = np.ndim(today.seed) == 0
        self._noise = self._noise[0] if one else self._noise.T
        room = today.room + 0.0 * np.asarray(kit.power)
        self.gas_t, self.probe = room * 0 + 230.0, room * 0 + 195.0
        self.drum: Any = room * 0 + today.drum
        self.shell, self.core = room, room
        self.water: Any = kit.water * today.water
        self.flicker = room * 0
        self.cracked = room * 0 + np.inf

    @property
    def dial(self) -> Array:
        """What the probe shows, °C."""
        return np.asarray(self.probe + self.today.offset)

    def step(self, gas: Array | float, air: Array | float) -> None:
        """One second with these settings."""
        kit, today = self.kit, self.today
        half = kit.bean * today.batch / 2
        self.flicker = self.flicker - self.flicker / 40.0 + 0.0022 * self._noise[min(self.t, LONGEST - 1)]
        heat = kit.power * np.sqrt(gas / kit.top) * today.supply * (1 + self.flicker)
        stream = kit.flow * (0.7 + 0.06 * air)
        blow = 0.8 + 0.05 * air
        settled = (heat + stream * today.room + kit.gas_drum * self.drum + kit.gas_bean * blow * self.shell) / (
            stream + kit.gas_drum + kit.gas_bean * blow
        )
        gas_t = self.gas_t + (settled - self.gas_t) / kit.flame
        dried = kit.dries * self.water * np.maximum(self.shell - 70.0, 0.0) ** 1.1
        to_shell = kit.gas_bean * blow * (gas_t - self.shell) + kit.drum_bean * (self.drum - self.shell)
        glow = 120.0 / (1 + np.exp(-(self.core - 188.0) / 6.0))
        drum = self.drum + (kit.gas_drum * (gas_t - self.drum) - kit.drum_bean * (self.drum - self.shell)
                            - kit.drum_loss * (self.drum - today.room) + 0.12 * heat) / kit.drum  # fmt: skip
        shell = self.shell + (to_shell - kit.core * (self.shell - self.core) - 2.4e6 * dried) / half
        core = self.core + (kit.core * (shell - self.core) + glow) / half
        self.water = self.water - dried
        seen = (1 - kit.probe_gas) * shell + kit.probe_gas * gas_t
        self.probe = self.probe + (seen - self.probe) / kit.probe
        self.gas_t, self.drum, self.shell, self.core = gas_t, drum, shell, core
        self.cracked = np.where((core >= kit.crack + today.crack) & np.isinf(self.cracked), float(self.t), self.cracked)
        self.t += 1


def way(
    kit: Kit, today: Today, moves: list[tuple[float, str, float]], seconds: int = LONGEST
) -> tuple[Array, Array, float]:
    """Times (s from charge), what the probe shows (°C), and when the first beans crack (s; infinity if none does)."""
    gas, air = kit.gas[0][1], kit.air[0][1]
    out, queue, roasts = np.zeros(seconds), sorted(moves), Roasts(kit, today)
    for t in range(seconds):
        while queue and queue[0][0] <= t:
            _, control, value = queue.pop(0)
            gas, air = (value, air) if control == "gas" else (gas, value)
        out[t] = roasts.dial
        roasts.step(gas, air)
    return np.arange(float(seconds)), out, float(roasts.cracked)


def a_kit(rng: np.random.Generator) -> Kit:
    """A place drawn at random."""

    def near(value: float, sd: float) -> float:
        return float(value * np.exp(rng.normal(0, sd)))

    k = Kit()
    return replace(
        k,
        drum=near(k.drum, 0.25), gas_bean=near(k.gas_bean, 0.06), drum_bean=near(k.drum_bean, 0.1),
        flow=near(k.flow, 0.08), bean=near(k.bean, 0.05), probe=near(k.probe, 0.4), probe_gas=near(k.probe_gas, 0.4),
        flame=near(k.flame, 0.4), crack=k.crack + float(rng.normal(0, 2)), unit="F" if rng.random() < 0.4 else "C",
        gas=tuple((max(t + float(rng.normal(0, 20)), 0.0) if t else t, round(min(near(v, 0.05), k.top), 2))
                  for t, v in k.gas),
        air=tuple((max(t + float(rng.normal(0, 20)), 0.0) if t else t, v) for t, v in k.air),
    )  # fmt: skip


def a_day(rng: np.random.Generator, size: float) -> Today:
    """A day drawn at random, ``size`` times as different as usual."""
    return Today(
        batch=1 + size * float(rng.normal(0, 0.015)),
        room=22 + size * float(rng.normal(0, 2)),
        drum=195 + size * float(rng.normal(0, 4)),
        water=1 + size * float(rng.normal(0, 0.02)),
        supply=float(np.exp(size * rng.normal(0, 0.01))),
        crack=size * float(rng.normal(0, 0.6)),
        offset=size * float(rng.normal(0, 0.3)),
        seed=int(rng.integers(1 << 30)),
    )


def roast(kit: Kit, today: Today, rng: np.random.Generator, size: float, number: int, every: float,
          profile: Profile | None) -> Day | None:  # fmt: skip
    """One day, typed by a person who makes moves a little late, leaves one out at times, and corrects on some days."""
    moves: list[tuple[float, str, float]] = []
    for control, plan in (("gas", kit.gas), ("air", kit.air)):
        for t, value in plan:
            if t and rng.random() < 0.05 * size:
                continue
            late = float(rng.uniform(0, 6)) + (float(rng.uniform(10, 40)) if rng.random() < 0.15 * size else 0.0)
            moves.append((t + late if t else 0.0, control, value))
    looks = float(rng.uniform(200, 400))
    corrects, whim, delay = rng.random() < 0.5, size * float(rng.normal(0, 0.05)), max(float(rng.normal(4, 2)), 0.0)
    if profile is not None and corrects:
        times, probe, _ = way(kit, today, moves)
        before = max((m for m in moves if m[1] == "gas" and m[0] <= looks), key=lambda m: m[0])
        off = float(np.interp(looks, times, probe)) - profile.curve.value(looks)
        moves.append((looks, "gas", round(min(before[2] * float(np.exp(-0.03 * off + whim)), kit.top), 2)))
    times, probe, crack = way(kit, today, moves)
    drop = crack + delay + float(rng.normal(90, 5))
    if not 330 <= crack <= 800 or drop > times[-1] - 10:
        return None
    entries: list[Entry] = [Mark(at=CHARGE, event="charge")]
    entries += [Move(at=round(CHARGE + t, 1), control=c, value=v) for t, c, v in moves if t < drop]  # type: ignore[arg-type]
    t = float(rng.uniform(5, 25))
    while t < drop:
        shown = round(from_celsius(float(np.interp(t, times, probe)) + float(rng.normal(0, 0.15)), kit.unit))  # type: ignore[arg-type]
        if rng.random() < 0.01:
            shown = int(str(shown)[::-1])
        seen = max(float(rng.normal(2, 1)), 0.0)
        entries.append(Reading(at=round(CHARGE + t + seen, 1), temperature=float(shown)))
        t += every + float(rng.normal(0, every / 5))
    entries.append(Mark(at=round(CHARGE + crack + delay, 1), event="first crack"))
    entries.append(Mark(at=round(CHARGE + drop, 1), event="drop"))
    return day_of(sorted(entries, key=lambda e: e.at), kit.unit, number, times, probe, crack)


@dataclass(frozen=True)
class Place:
    """A reference, earlier days and days to be forecast."""

    profile: Profile
    earlier: list[Day]
    live: list[Day]
    kit: object
    """The roaster: what nobody knows but an oracle."""


def place(seed: int, number: int, earlier: int, live: int, size: float = 1.0, every: float = 30.0) -> Place | None:
    """One place, always the same for the same arguments."""
    rng = np.random.default_rng([seed, number])
    for _ in range(20):
        found = _roasted(a_kit(rng), rng, f"place {number}", earlier, live, size, every)
        if found is not None:
            return found
    return None


def second(first: Place, seed: int, number: int, earlier: int, live: int) -> Place | None:
    """The same roaster and person with another profile: another lot in another weight, and another gas plan."""
    assert isinstance(first.kit, Kit)
    rng = np.random.default_rng([seed, number, 4])
    for _ in range(20):
        lot, weight = a_kit(rng), float(np.exp(rng.normal(0, 0.15)))
        gas = tuple((t, round(min(v * weight**1.5, lot.top), 2)) for t, v in lot.gas)
        kit = replace(first.kit, bean=lot.bean * weight, water=lot.water * weight * float(np.exp(rng.normal(0, 0.1))),
                      crack=lot.crack, gas=gas, air=lot.air)  # fmt: skip
        found = _roasted(kit, rng, f"place {number}, second", earlier, live, 1.0, 30.0)
        if found is not None:
            return found
    return None


def _roasted(
    kit: Kit, rng: np.random.Generator, name: str, earlier: int, live: int, size: float, every: float
) -> Place | None:
    """The days of one profile; None where its plan doesn't roast."""
    reference = roast(kit, a_day(rng, 0.3), rng, 0.3, 0, 20.0, None)
    if reference is None:
        return None
    try:
        profile = invented_profile(reference.roast, name)
    except ValidationError:  # a roast that no profile can be made from, such as one that cools in mid-roast
        return None
    days: list[Day] = []
    for i in range(1, 3 * (earlier + live)):
        day = roast(kit, a_day(rng, size), rng, size, i, every, profile)
        if day is not None:
            days.append(day)
        if len(days) == earlier + live:
            break
    return Place(profile, days[:earlier], days[earlier:], kit)
