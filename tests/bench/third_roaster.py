"""A third simulated roaster, of yet another build: neither the project's equations nor those of ``other_roaster``.

It is written from the answer of the heat, not from the parts of a machine: of the burner's heat a share reaches the
beans through the drum, with a lag of its own; the rest comes with the gas, quickly.  Both are drawn from wide ranges
(share 0.2 to 0.6, lag 20 to 200 s), as are the probe (two equal stages in a row, 5 to 40 s together) and the burner's
law (a power of the pressure, a root above a dead pressure, or a root that levels off).  Water is a hump of the beans'
heat capacity, reactions double their heat every so many degrees, and beans crack by a dose: time counts double every
few degrees.  All numbers are our own choice (no source): nothing in the coach was chosen by looking at them.

Many roasts run at once: every field of ``Kits`` and ``Days`` is an array over the n roasts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray
from other_roaster import CHARGE, Place
from pydantic import ValidationError
from workshops import Day, day_of, invented_profile

from coach.roast.entries import Entry, Mark, Move, Reading
from coach.roast.profile import Profile
from coach.roast.units import from_celsius

Array = NDArray[np.float64]
Moves = Sequence[tuple[float, str, float]]
"""(time s from charge, "gas" or "air", setting)."""
ROOM = 22.0
LONGEST = 960
FIRST_GAS = 8.0
"""Time constant with which the hot gas follows the flame, s."""
LOT = {"glow": (15, 60), "doubling": (9, 16), "capacity": (1250, 1550), "water": (1.0e5, 1.8e5), "crack": (190, 203),
       "dose": (2.5, 6)}  # fmt: skip
"""Ranges of what is a lot's own, as in ``Kits``."""


@dataclass(frozen=True)
class Kits:
    """n roasters with their beans and plans: heat in W per kilogram of beans, temperatures °C, times s, gas kPa."""

    power: Array
    """Heat that reaches beans and drum at full gas."""
    share: Array
    """Of that, through the drum."""
    drum_lag: Array
    law: Array
    """Of the burner: 0 a power, 1 a root above a dead pressure, 2 a root that levels off."""
    bend: Array
    """The law's number: the power; the dead pressure as a share of the top; how much it levels off."""
    loss: Array
    """What a kelvin hotter beans take less, W/K."""
    glow: Array
    """Heat of reactions at 200 °C."""
    doubling: Array
    """Kelvins in which it doubles."""
    capacity: Array
    """Of dry beans at 20 °C, J/K."""
    water: Array
    """Heat that the water takes, J."""
    probe: Array
    """Lag of the probe, both stages together."""
    probe_gas: Array
    """By how much the probe reads above the beans at full heat of the gas, K."""
    crack: Array
    """Temperature at which the dose is full in 20 s."""
    dose: Array
    """Kelvins in which the dose doubles."""
    air_cools: Array
    """What one more of air takes off the heat of the gas, as a share."""
    top: Array
    gas: Array
    """Planned gas, (n, 4)."""
    gas_at: Array
    air: Array
    """Planned air, (n, 3)."""
    air_at: Array


@dataclass(frozen=True)
class Days:
    """n days, each with what it does differently and nobody logs."""

    batch: Array
    room: Array
    soak: Array
    """Heat left in the drum at charge against the usual, as a share of full heat."""
    water: Array
    supply: Array
    crack: Array
    offset: Array
    seed: NDArray[np.int64]


Rows = TypeVar("Rows", Kits, Days)


def take(rows: Rows, index: Any) -> Rows:
    """Some of the roasts, or one for several days: by whatever numpy indexes with."""
    return replace(rows, **{f.name: getattr(rows, f.name)[index] for f in fields(rows)})


def flame(kits: Kits, gas: Array) -> Array:
    """The burner's heat at a pressure, 0..1 of the full one."""
    g = np.clip(gas / kits.top, 0.0, 1.2)
    dead = np.sqrt(np.maximum(g - kits.bend, 0.0) / (1 - kits.bend))
    levels = np.sqrt(g) * (1 + kits.bend) / (1 + kits.bend * g)
    return np.where(kits.law == 0, g**kits.bend, np.where(kits.law == 1, dead, levels))


class Roasts:
    """n roasts under way, a second at a time: what the dials show, and when beans crack (s from charge)."""

    def __init__(self, kits: Kits, days: Days) -> None:
        n = len(kits.power)
        self.kits, self.days, self.t = kits, days, 0
        self.bean = days.room.copy()
        start = kits.share * flame(kits, kits.gas[:, 0])
        self.drum = start * 0.8 + days.soak  # of full heat, as the drum gives it off
        self.stream = (1 - kits.share) * flame(kits, kits.gas[:, 0]) * 0.8
        self.first, self.probe = np.full((2, n), 195.0)
        self.dose, self.cracked = np.zeros(n), np.full(n, np.inf)
        self._wander, self._bed = np.zeros(n), np.zeros(n)
        noise = [np.random.default_rng(int(s)).normal(size=(2, LONGEST)) for s in days.seed]
        self._noise = np.array(noise).reshape(n, 2, LONGEST)

    @property
    def dial(self) -> Array:
        """What the probes read now, °C (n,), before any rounding."""
        return self.probe + self.days.offset + self._bed

    def step(self, gas: Array, air: Array) -> None:
        """One second with these settings (n,)."""
        k, d = self.kits, self.days
        now = self._noise[:, :, min(self.t, LONGEST - 1)]
        self._wander += -self._wander / 90.0 + 0.001 * now[:, 0]
        self._bed += -self._bed / 12.0 + 0.05 * now[:, 1]
        heat = flame(k, gas) * d.supply * (1 + self._wander)
        self.drum += (k.share * heat - self.drum) / k.drum_lag
        self.stream += ((1 - k.share) * heat * (1 - k.air_cools * (air - 3.0)) - self.stream) / FIRST_GAS
        bean = self.bean
        glow = np.minimum(k.glow * 2.0 ** ((bean - 200.0) / k.doubling), 4 * k.glow)
        taken = k.power * (self.drum + self.stream) + d.batch * glow - k.loss * (bean - d.room)
        hump = k.water * d.water / (30.0 * np.sqrt(2 * np.pi)) * np.exp(-0.5 * ((bean - 125.0) / 30.0) ** 2)
        self.bean = bean + taken / (d.batch * (k.capacity * (1 + 0.0025 * (bean - 20.0)) + hump))
        seen = self.bean + k.probe_gas * self.stream
        self.first += (seen - self.first) / (k.probe / 2)
        self.probe += (self.first - self.probe) / (k.probe / 2)
        self.dose += 2.0 ** ((self.bean - k.crack - d.crack) / k.dose) / 20.0
        self.t += 1
        self.cracked = np.where((self.dose >= 1.0) & np.isinf(self.cracked), float(self.t), self.cracked)


def run(kits: Kits, days: Days, moves: Sequence[Moves], seconds: int = LONGEST) -> tuple[Array, Array, Array]:
    """Times (seconds,), dials (n, seconds) °C, and when the beans crack (n,), s from charge, infinity if they don't.

    ``moves`` (n lists) hold the first settings, too; without one the plan's first stands.
    """
    roasts = Roasts(kits, days)
    gas, air = kits.gas[:, 0].copy(), kits.air[:, 0].copy()
    queue = sorted((t, i, control, value) for i, row in enumerate(moves) for t, control, value in row)
    out = np.zeros((len(gas), seconds))
    for t in range(seconds):
        while queue and queue[0][0] <= t:
            _, i, control, value = queue.pop(0)
            (gas if control == "gas" else air)[i] = value
        out[:, t] = roasts.dial
        roasts.step(gas, air)
    return np.arange(float(seconds)), out, roasts.cracked


def plan_of(kits: Kits, i: int) -> list[tuple[float, str, float]]:
    """The planned moves of one roaster, in order of time."""
    gas = [(float(t), "gas", float(v)) for t, v in zip(kits.gas_at[i], kits.gas[i], strict=True)]
    air = [(float(t), "air", float(v)) for t, v in zip(kits.air_at[i], kits.air[i], strict=True)]
    return sorted([*gas, *air])


def draw_kits(rng: np.random.Generator, n: int) -> Kits:
    """n places drawn at random; the burner is as strong as a crack at a time drawn from 420 to 600 s needs, and only
    those are kept where the dial rises by 5 to 15 K in the minute before it."""
    found: list[Kits] = []
    while sum(len(k.power) for k in found) < n:
        kits = _draw(rng, 2 * n + 4)
        usual = draw_days(np.random.default_rng(0), len(kits.power), 0.0)
        _, dial, cracked = run(kits, usual, [plan_of(kits, i) for i in range(len(kits.power))], 720)
        at, row = np.minimum(cracked, 700).astype(int), np.arange(len(cracked))
        rise = dial[row, at] - dial[row, at - 60]
        found.append(take(kits, np.flatnonzero((rise > 5) & (rise < 15) & (cracked < 660))))
    return take(_joined(found), np.arange(n))


def _joined(rows: list[Kits]) -> Kits:
    return Kits(**{f.name: np.concatenate([getattr(r, f.name) for r in rows]) for f in fields(Kits)})


def _draw(rng: np.random.Generator, n: int) -> Kits:
    def between(low: float, high: float) -> Array:
        return np.asarray(rng.uniform(low, high, n))

    def even(low: float, high: float) -> Array:
        return np.exp(between(np.log(low), np.log(high)))

    law = rng.integers(0, 3, n).astype(float)
    bend = np.choose(law.astype(int), [between(0.4, 0.75), between(0.0, 0.12), between(0.1, 0.6)])
    top = between(1.5, 4.0)
    crack_at = between(420, 600)
    plan = _plan(rng, crack_at, top)
    kits = Kits(
        power=np.full(n, 1300.0), share=between(0.2, 0.6), drum_lag=even(20, 200), law=law, bend=bend,
        loss=between(0.4, 2.6), glow=between(*LOT["glow"]), doubling=between(*LOT["doubling"]),
        capacity=between(*LOT["capacity"]), water=between(*LOT["water"]), probe=even(5, 40), probe_gas=between(0, 14),
        crack=between(*LOT["crack"]), dose=between(*LOT["dose"]), air_cools=between(0.0, 0.025), top=top,
        air=np.tile([3.0, 4.0, 6.0], (n, 1)), **plan,
    )  # fmt: skip
    usual = draw_days(np.random.default_rng(0), n, 0.0)
    low, high = np.full(n, 500.0), np.full(n, 5000.0)
    for _ in range(14):
        middle = np.sqrt(low * high)
        trial = replace(kits, power=middle)
        cracked = run(trial, usual, [plan_of(trial, i) for i in range(n)], 720)[2]
        low, high = np.where(cracked > crack_at, middle, low), np.where(cracked > crack_at, high, middle)
    return replace(kits, power=np.sqrt(low * high))


def _plan(rng: np.random.Generator, crack_at: Array, top: Array) -> dict[str, Array]:
    """Gas and air for cracks at these times (n,), s, drawn as in ``_draw``."""
    parts, shape = np.array([0.0, 0.45, 0.68, 0.85]), (len(top), 4)
    gas_at = np.where(parts > 0, parts * crack_at[:, None] + rng.normal(0, 12, shape), 0.0)
    gas = (np.array([0.7, 0.56, 0.4, 0.27]) * np.exp(rng.normal(0, 0.05, shape)) * top[:, None]).round(2)
    return {"gas": gas, "gas_at": gas_at, "air_at": (np.array([0.0, 0.4, 0.75]) * crack_at[:, None]).round()}


def draw_days(rng: np.random.Generator, n: int, size: float) -> Days:
    """n days drawn at random, ``size`` times as different as usual."""

    def about(mean: float, sd: float) -> Array:
        return np.asarray(mean + size * rng.normal(0, sd, n))

    return Days(
        batch=about(1, 0.008), room=about(ROOM, 2.0), soak=about(0.1, 0.01), water=about(1, 0.02),
        supply=np.exp(about(0, 0.007)), crack=about(0, 0.5), offset=about(0, 0.3), seed=rng.integers(0, 1 << 30, n),
    )  # fmt: skip


def roast(kits: Kits, day: Days, rng: np.random.Generator, size: float, number: int, every: float,
          profile: Profile | None, unit: str) -> Day | None:  # fmt: skip
    """One day of one place (n = 1), typed by a person who makes moves a little late, leaves one out at times, and
    corrects once on some days."""
    moves: list[tuple[float, str, float]] = []
    for at, control, value in plan_of(kits, 0):
        if at and rng.random() < 0.05 * size:
            continue
        late = float(rng.uniform(0, 6)) + (float(rng.uniform(10, 40)) if rng.random() < 0.15 * size else 0.0)
        moves.append((at + late if at else 0.0, control, value))
    looks, corrects = float(rng.uniform(200, 400)), rng.random() < 0.5
    whim, delay = size * float(rng.normal(0, 0.05)), max(float(rng.normal(4, 2)), 0.0)
    if profile is not None and corrects:
        times, dial, _ = run(kits, day, [moves])
        before = max((m for m in moves if m[1] == "gas" and m[0] <= looks), key=lambda m: m[0])
        off = float(np.interp(looks, times, dial[0])) - profile.curve.value(looks)
        value = before[2] * float(np.exp(-0.03 * off + whim))
        moves.append((looks, "gas", round(min(value, float(kits.top[0])), 2)))
    times, dial, cracked = run(kits, day, [moves])
    crack = float(cracked[0])
    drop = crack + delay + float(rng.normal(90, 5))
    if not 330 <= crack <= 800 or drop > times[-1] - 10:
        return None
    entries: list[Entry] = [Mark(at=CHARGE, event="charge")]
    entries += [Move(at=round(CHARGE + at, 1), control=c, value=v) for at, c, v in moves if at < drop]  # type: ignore[arg-type]
    at = float(rng.uniform(5, 25))
    while at < drop:
        shown = round(from_celsius(float(np.interp(at, times, dial[0])), unit))  # type: ignore[arg-type]
        if rng.random() < 0.01:
            shown = int(str(shown)[::-1])
        seen = max(float(rng.normal(2, 1)), 0.0)
        entries.append(Reading(at=round(CHARGE + at + seen, 1), temperature=float(shown)))
        at += every + float(rng.normal(0, every / 5))
    entries.append(Mark(at=round(CHARGE + crack + delay, 1), event="first crack"))
    entries.append(Mark(at=round(CHARGE + drop, 1), event="drop"))
    return day_of(sorted(entries, key=lambda e: e.at), unit, number, times, dial[0], crack)


def place(seed: int, number: int, earlier: int, live: int, size: float = 1.0, every: float = 30.0) -> Place | None:
    """One place, always the same for the same arguments: a reference, earlier days, and days to be forecast."""
    rng = np.random.default_rng([seed, number, 3])
    for _ in range(20):
        kits, unit = draw_kits(rng, 1), "F" if rng.random() < 0.4 else "C"
        found = _roasted(kits, rng, f"place {number}", earlier, live, size, every, unit)
        if found is not None:
            return found
    return None


def second(first: Place, seed: int, number: int, earlier: int, live: int) -> Place | None:
    """The same roaster and person with another profile: another lot in another weight, and another gas plan."""
    assert isinstance(first.kit, Kits)
    rng = np.random.default_rng([seed, number, 4])
    for _ in range(20):
        kits = _other_lot(first.kit, rng)
        unit = first.profile.unit
        found = None if kits is None else _roasted(kits, rng, f"place {number}, second", earlier, live, 1.0, 30.0, unit)
        if found is not None:
            return found
    return None


def _other_lot(kits: Kits, rng: np.random.Generator) -> Kits | None:
    """Another lot, weight and plan on the same roaster, with the gas that a crack at a time drawn needs; None where
    there is none, or the dial rises by less than 5 or more than 15 K in the minute before it."""
    drawn = {name: rng.uniform(low, high, 1) for name, (low, high) in LOT.items()}
    weight = float(np.exp(rng.normal(0, 0.15)))
    for name in ("glow", "capacity", "water"):
        drawn[name] *= weight
    crack_at = rng.uniform(420, 600, 1)
    lot = replace(kits, **drawn, **_plan(rng, crack_at, kits.top))
    usual, (low, high) = draw_days(np.random.default_rng(0), 1, 0.0), (0.3, 1.0 / 0.7)
    for _ in range(14):
        middle = float(np.sqrt(low * high))
        trial = replace(lot, gas=np.minimum(lot.gas * middle, kits.top[:, None]).round(2))
        _, dial, cracked = run(trial, usual, [plan_of(trial, 0)], 720)
        low, high = (middle, high) if cracked[0] > crack_at[0] else (low, middle)
    at = int(min(cracked[0], 700))
    return trial if 5 < dial[0, at] - dial[0, at - 60] < 15 and abs(cracked[0] - crack_at[0]) < 60 else None


def _roasted(kits: Kits, rng: np.random.Generator, name: str, earlier: int, live: int, size: float, every: float,
             unit: str) -> Place | None:  # fmt: skip
    """The days of one profile; None where its plan doesn't roast."""
    reference = roast(kits, draw_days(rng, 1, 0.3), rng, 0.3, 0, 20.0, None, unit)
    if reference is None:
        return None
    try:
        profile = invented_profile(reference.roast, name)
    except ValidationError:  # a roast that no profile can be made from
        return None
    days: list[Day] = []
    for i in range(1, 3 * (earlier + live)):
        day = roast(kits, draw_days(rng, 1, size), rng, size, i, every, profile, unit)
        if day is not None:
            days.append(day)
        if len(days) == earlier + live:
            break
    return Place(profile, days[:earlier], days[earlier:], kits)
