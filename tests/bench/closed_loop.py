"""Many roasts at once on three roasters, each with somebody at the gas: what is foreseen, done and comes of it.

A scene is drawn from a seed: places (a roaster, its beans, a proven roast made into a profile) with some days each.  A
person reads the dial every 30 s in whole degrees, makes the planned moves a little late, and others 10 s after having
thought of them.  The way in which they are thought of is a function of the readings so far; see ``Way``.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Protocol

import numpy as np
import other_roaster
import third_roaster
from numpy.typing import NDArray
from pydantic import ValidationError
from workshops import Weather, _beans, _machine, day_of, invented_profile

from coach.advice.advice_values import aim_of
from coach.advice.advise import advise, ground_of
from coach.forecast.knowledge import Knowledge
from coach.forecast.learning import from_profile
from coach.forecast.predictor import Outlook
from coach.roast.entries import Entry, Header, Mark, Move, Reading
from coach.roast.errors import EntryError
from coach.roast.gauges import Gauge
from coach.roast.profile import Profile
from coach.roast.roast import Probe, Roast, Turned
from coach.simulator import physics
from coach.simulator.batch import Run
from coach.simulator.crack import crack_drive
from coach.simulator.machine import conditions
from coach.simulator.physics import Conditions, State

Array = NDArray[np.float64]
ROASTERS = ("project", "other", "third")
CHARGE = 60.0
EVERY, MADE, LATE, CALLED, DEVELOPED, MOST_DEVELOPED = 30, 10, 3, 4.0, 90.0, 180.0
LONGEST = 900
HEADER = Header(id="x", started="2026-01-01T08:00:00+00:00")


class Plant(Protocol):
    """n roasts under way."""

    cracked: Any

    @property
    def dial(self) -> Array: ...

    def step(self, gas: Array, air: Array) -> None: ...


@dataclass(frozen=True)
class Day(Run):
    """A run whose probe is off by some K, and whose lot cracks some K hotter."""

    probe_offset: float = 0.0
    crack_shift: float = 0.0


class ProjectRoasts:
    """The project's own simulator, a second at a time, with a burner that wanders by a percent."""

    def __init__(self, runs: Sequence[Day], seeds: Sequence[int]) -> None:
        self.runs, self.t = runs, 0
        self.state: State[Any] = State(*np.array([r.start for r in runs], dtype=float).T)
        self.gas, self.air = np.array([r.gas for r in runs]), np.array([r.air for r in runs])
        self.table = np.array([r.schedule()[0][1] for r in runs], dtype=float)
        self.onset = np.array([r.beans.first.onset + r.crack_shift for r in runs])
        self.cracked = np.full(len(runs), np.inf)
        self.offset = np.array([r.probe_offset for r in runs])
        self.noise = np.array([np.random.default_rng(s).normal(size=LONGEST) for s in seeds])
        self.wander = np.zeros(len(runs))

    @property
    def dial(self) -> Array:
        return np.asarray(self.state.probe + self.offset)

    def step(self, gas: Array, air: Array) -> None:
        for i in map(int, np.flatnonzero((gas != self.gas) | (air != self.air))):
            r = self.runs[i]
            self.table[i] = conditions(
                r.machine, r.beans, batch_kg=r.batch_kg, moisture=r.green_moisture, gas=float(gas[i]),
                air=float(air[i]), drum=r.drum, ambient=r.ambient, gas_supply=r.gas_supply,
            )  # fmt: skip
        self.gas, self.air = gas.copy(), air.copy()
        self.wander += -self.wander / 60.0 + 0.0018 * self.noise[:, min(self.t, LONGEST - 1)]
        now: Conditions[Any] = Conditions(*self.table.T)
        now = now._replace(burner_set=now.burner_set * (1 + self.wander))
        self.state = physics.step(self.state, now, 1.0)
        hot = np.maximum(self.state.bean, 120.0)
        drive = np.where(self.state.bean > 120.0, crack_drive(bean=hot, moisture=self.state.moisture), 0.0)
        self.t += 1
        self.cracked = np.where((drive >= self.onset) & np.isinf(self.cracked), float(self.t), self.cracked)


@dataclass
class Scene:
    """n days: their profiles, and the same roasts begun anew as often as wanted.

    ``surprise`` is False for the same days without what nobody can know of them: the lot's own shift of the crack.
    """

    roaster: str
    profiles: list[Profile]
    begin: Callable[[NDArray[np.int_], bool], Plant]
    """Of some rows."""
    late: Array = field(default_factory=lambda: np.zeros(0))

    @property
    def n(self) -> int:
        return len(self.profiles)

    @property
    def goal(self) -> Array:
        """When the crack is planned, s (n,)."""
        return np.array([p.goals["first crack"].time for p in self.profiles])


def scene(roaster: str, seed: int, places: int, days: int, size: float) -> Scene:
    """The same one for the same arguments."""
    rng = np.random.default_rng([seed, ROASTERS.index(roaster), int(10 * size)])
    many = 3 * places
    if roaster == "project":
        machines = [_machine(rng) for _ in range(many)]
        lots = [_beans(m.demo_plan.beans, rng) for m in machines]

        def run_of(i: int, size: float, rng: np.random.Generator) -> tuple[Day, int]:
            w = Weather.draw(machines[i], lots[i], rng, size)
            plan = machines[i].demo_plan
            run = Day(machines[i], lots[i], w.batch, w.soak, plan.gas, plan.air, plan.drum, ambient=w.ambient,
                      moisture=w.moisture, gas_supply=w.supply, probe_offset=w.offset, crack_shift=w.shift)  # fmt: skip
            return run, w.seed

        demos = [m.demo_plan for m in machines]
        plans = [[(0.0, "gas", d.gas), (0.0, "air", d.air),
                  *((p.at, p.control, p.value) for p in d.moves if p.control != "drum")] for d in demos]  # fmt: skip
        first = [run_of(i, 0.3, rng) for i in range(many)]
        plant: Plant = ProjectRoasts([r for r, _ in first], [s for _, s in first])
    elif roaster == "other":
        kits = [other_roaster.a_kit(rng) for _ in range(many)]
        plans = [[*((t, "gas", v) for t, v in k.gas), *((t, "air", v) for t, v in k.air)] for k in kits]
        plant = other_roaster.Roasts(_stacked(kits), _stacked([other_roaster.a_day(rng, 0.3) for _ in range(many)]))
    else:
        third = third_roaster.draw_kits(rng, many)
        plans = [third_roaster.plan_of(third, i) for i in range(many)]
        plant = third_roaster.Roasts(third, third_roaster.draw_days(rng, many, 0.3))
    good = _adopted(plant, plans)[:places]
    rows = [i for i, _ in good for _ in range(days)]
    profiles = [p for _, p in good for _ in range(days)]
    n = len(rows)
    if roaster == "project":
        runs = [run_of(i, size, rng) for i in rows]

        def begin(which: NDArray[np.int_], surprise: bool) -> Plant:
            chosen = [runs[i][0] if surprise else replace(runs[i][0], crack_shift=0.0) for i in which]
            return ProjectRoasts(chosen, [runs[i][1] for i in which])

    elif roaster == "other":
        todays = [other_roaster.a_day(rng, size) for _ in range(n)]

        def begin(which: NDArray[np.int_], surprise: bool) -> Plant:
            days_ = [todays[i] if surprise else replace(todays[i], crack=0.0) for i in which]
            return other_roaster.Roasts(_stacked([kits[rows[i]] for i in which]), _stacked(days_))

    else:
        drawn = third_roaster.draw_days(rng, n, size)

        def begin(which: NDArray[np.int_], surprise: bool) -> Plant:
            d = third_roaster.take(drawn, which)
            d = d if surprise else replace(d, crack=0.0 * d.crack)
            return third_roaster.Roasts(third_roaster.take(third, np.array(rows)[which]), d)

    return Scene(roaster, profiles, begin, rng.uniform(0, 6, n))


def _stacked(items: Sequence[Any]) -> Any:
    """One kit or day whose numbers are arrays over many."""
    table = {}
    for name, value in vars(items[0]).items():
        if isinstance(value, int | float):
            table[name] = np.array([getattr(x, name) for x in items])
    return replace(items[0], **table)


def _adopted(plant: Plant, plans: Sequence[Sequence[tuple[float, str, float]]]) -> list[tuple[int, Profile]]:
    """Of each place whose first roast makes a profile: its number and that."""
    n = len(plans)
    gas = np.array([next(v for _, c, v in sorted(p) if c == "gas") for p in plans])
    air = np.array([next(v for _, c, v in sorted(p) if c == "air") for p in plans])
    queue = sorted((t, i, c, v) for i, p in enumerate(plans) for t, c, v in p)
    dial = np.zeros((n, LONGEST))
    for t in range(LONGEST):
        while queue and queue[0][0] <= t:
            _, i, c, v = queue.pop(0)
            (gas if c == "gas" else air)[i] = v
        dial[:, t] = plant.dial
        plant.step(gas, air)
    out = []
    for i in range(n):
        if not 390 <= plant.cracked[i] <= 700:
            continue
        crack = float(plant.cracked[i]) + CALLED
        drop = crack + DEVELOPED
        entries: list[Entry] = [Mark(at=CHARGE, event="charge")]
        entries += [Move(at=round(CHARGE + t, 1), control=c, value=v) for t, c, v in plans[i] if t < drop]  # type: ignore[arg-type]
        entries += [Reading(at=CHARGE + t, temperature=float(round(dial[i, t]))) for t in range(10, int(drop), 20)]
        entries += [
            Mark(at=round(CHARGE + crack, 1), event="first crack"),
            Mark(at=round(CHARGE + drop, 1), event="drop"),
        ]
        try:
            roast = day_of(sorted(entries, key=lambda e: e.at), "C", 0).roast
            out.append((i, invented_profile(roast, f"place {i}")))
        except (ValidationError, EntryError):
            continue
    return out


# -- a person at the gas -----------------------------------------------------------------------------------------------


@dataclass
class Hand:
    """One roast as its person sees it: readings (s, °C) and moves (s, control, value) so far."""

    profile: Profile
    row: int
    gas: float
    readings: list[tuple[float, float]] = field(default_factory=list)
    moves: list[tuple[float, str, float]] = field(default_factory=list)
    own: list[tuple[float, float, float]] = field(default_factory=list)
    """Moves besides the plan: time, from, to."""
    said: list[Any] = field(default_factory=list)
    crack: float | None = None
    """When it was called."""
    skip: float = -1.0
    """Planned moves of the gas until then are left out (roast time, s)."""
    at: float = 0.0
    """When the move thought of is to be made, where that is not as soon as can be (roast time, s)."""

    def planned(self, t: float) -> float:
        """The plan's gas."""
        return [s.value for s in self.profile.steps if s.control == "gas" and s.time <= max(t, 0.5)][-1]


Way = Callable[[Hand, float], float | None]
"""From what a person knows right after a reading (roast time, s) to the gas to be set 10 s later, or None."""


@dataclass(frozen=True)
class Outcome:
    """n roasts against their plans: crack s, temperature at drop K, development s if dropped at the plan's temperature
    instead, moves besides the plan; and the hands."""

    crack: Array
    drop: Array
    developed: Array
    moves: Array
    hands: list[Hand]


def play(
    s: Scene, way: Way | None, *, scaled: bool = False, rows: NDArray[np.int_] | None = None,
    fixed: Callable[[float, Array], Array] | None = None, surprise: bool = True,
) -> Outcome:  # fmt: skip
    """Roast all days in one way.  ``scaled``: planned moves are made in the proportion to the plan that the gas has
    just then.  ``fixed`` gives the gas from the time and the plan's gas (n,), whatever the readings."""
    index = np.arange(s.n) if rows is None else rows
    plant = s.begin(index, surprise)
    hands = [Hand(s.profiles[i], int(i), 0.0) for i in index]
    n = len(hands)
    gas, air, planned = np.zeros((3, n))
    queue = sorted(
        (0.0 if x.time <= 1 else x.time + s.late[i], j, x.control, x.value)
        for j, i in enumerate(index) for x in s.profiles[i].steps if x.control != "drum"
    )  # fmt: skip
    todo: list[tuple[int, int, float]] = []
    goal = s.goal[index]
    plan_drop = np.array([h.profile.drop_temperature for h in hands])
    at_drop, developed, crack = np.full(n, np.nan), np.full(n, np.nan), np.full(n, np.inf)
    for t in range(LONGEST):
        while queue and queue[0][0] <= t:
            _, j, control, value = queue.pop(0)
            if control == "air":
                air[j] = value
            else:
                factor = gas[j] / planned[j] if scaled and planned[j] > 0 else 1.0
                planned[j] = value
                if t <= hands[j].skip:
                    continue
                gas[j] = value = _allowed(hands[j].profile, value * factor)
            hands[j].moves.append((float(t), control, value))
        while todo and todo[0][0] <= t:
            _, j, value = todo.pop(0)
            if np.isnan(at_drop[j]):
                hands[j].own.append((float(t), float(gas[j]), value))
                hands[j].moves.append((float(t), "gas", value))
                gas[j] = value
        dial = plant.dial
        crack = np.where(np.isinf(crack) & (plant.cracked + CALLED <= t), float(t), crack)
        at_drop = np.where((crack + DEVELOPED <= t) & np.isnan(at_drop), dial, at_drop)
        hot = (dial >= plan_drop) | (crack + MOST_DEVELOPED <= t)
        developed = np.where((crack <= t) & hot & np.isnan(developed), t - crack, developed)
        if way is not None and t % EVERY == 0 and t > 0:
            for j, h in enumerate(hands):
                if not np.isnan(at_drop[j]):
                    continue
                h.crack = None if np.isinf(crack[j]) else float(crack[j])
                h.readings.append((float(t), float(round(dial[j]))))
                h.gas = float(gas[j])
                wanted = way(h, float(t))
                if wanted is not None:
                    todo = sorted([*todo, (max(t + MADE, int(h.at)), j, wanted)])
        plant.step(gas if fixed is None else fixed(float(t), planned), air)
        if not np.isnan(at_drop + developed).any():
            break
    crack = np.where(np.isinf(crack), goal + 150.0, crack)
    moves = np.array([len(h.own) for h in hands], dtype=float)
    return Outcome(crack - goal, at_drop - plan_drop, developed - DEVELOPED, moves, hands)


def _allowed(profile: Profile, value: float) -> float:
    """Inside the gauge's range, on one of its marks."""
    g = gauge(profile)
    return g.value(
        float(np.clip(round(g.steps(value)), np.ceil(g.low / g.step - 1e-6), np.floor(g.high / g.step + 1e-6)))
    )


def gauge(profile: Profile) -> Gauge:
    """The gas gauge of a profile."""
    found = _GAUGES.get(profile.name + str(id(profile)))
    if found is None:
        found = Gauge.of(profile, Roast(HEADER), "gas")
        assert found is not None
        _GAUGES[profile.name + str(id(profile))] = found
    return found


_GAUGES: dict[str, Gauge] = {}


# -- ways --------------------------------------------------------------------------------------------------------------


def off_plan(h: Hand, back: float = 45.0) -> tuple[float, float]:
    """How far off the reference the last reading is, K, and its rate over ``back`` seconds, K/s."""
    t, e = np.array([(t, c - h.profile.curve.value(t)) for t, c in h.readings]).T
    return float(e[-1]), float((e[-1] - np.interp(t[-1] - back, t, e)) / back)


def two_numbers(h: Hand, t: float, *, each: float = 0.08, ahead: float = 60.0, least: float = 0.08,
                start: float = 150.0, end: float = 450.0, every: float = 60.0) -> float | None:  # fmt: skip
    """Each minute from 2:30 to 7:30: plan x (1 - 0.08 (e + 60 s x e')), moved only for more than 8 %."""
    if not start <= t <= end or (t - start) % every or h.crack is not None:
        return None
    e, rate = off_plan(h)
    value = _allowed(h.profile, h.planned(t) * max(1 - each * (e + ahead * rate), 0.0))
    return value if abs(value / h.gas - 1) > least else None


def thumb(h: Hand, t: float) -> float | None:
    """5 % of the plan's gas for each degree off, at a third and at two thirds of the way to the crack."""
    goal = h.profile.goals["first crack"].time
    if h.crack is not None or not any(x <= t < x + EVERY for x in (0.45 * goal, 0.7 * goal)):
        return None
    e, _ = off_plan(h)
    value = _allowed(h.profile, h.planned(t) * max(1 - 0.05 * e, 0.0))
    return None if value == h.gas else value


def knower(s: Scene, since: float = 160.0) -> Outcome:
    """Somebody who knows roaster and day, but for the lot's own shift of the crack: the one proportion to the plan's
    gas, from 2:40 on, that brings the crack to its time, by bisection."""
    low, high = np.full(s.n, np.log(0.3)), np.full(s.n, np.log(2.5))

    def gas(f: Array) -> Callable[[float, Array], Array]:
        top = np.array([gauge(p).value(gauge(p).high / gauge(p).step) for p in s.profiles])
        return lambda t, planned: planned if t < since else np.minimum(planned * f, top)

    for _ in range(9):
        middle = (low + high) / 2
        found = play(s, None, fixed=gas(np.exp(middle)), surprise=False).crack
        low, high = np.where(found > 0, middle, low), np.where(found > 0, high, middle)
    return play(s, None, fixed=gas(np.exp((low + high) / 2)))


def score(name: str, found: Outcome, plan: Outcome) -> str:
    """One line: crack off, against the plan (the ratio with its standard error), worse than it by over 5 s, drop and
    development off, moves."""
    off, was = np.abs(found.crack), np.abs(plan.crack)
    share = off.mean() / was.mean()
    unsure = np.std(off - share * was) / np.sqrt(len(off)) / was.mean()
    return (
        f"{name:24s} crack {off.mean():5.1f} s  {share:5.2f} +- {unsure:.2f} of plan"
        f"  worse by 5 s {np.mean(off > was + 5):.3f}"
        f"  drop {np.nanmean(np.abs(found.drop)):4.2f} K ({np.nanmean(np.abs(plan.drop)):4.2f})"
        f"  development {np.nanmean(np.abs(found.developed)):4.1f} s ({np.nanmean(np.abs(plan.developed)):4.1f})"
        f"  moves {np.median(found.moves):.0f} (mean {found.moves.mean():.1f}, most {found.moves.max():.0f})"
    )


# -- with the coach ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Issued:
    """A move as it was advised and made: when either (s), from and to (kPa), the crack without and with it as stated
    (10 %, 50 %, 90 %, s), and until when planned moves were left out for it (s)."""

    row: int
    hand: int
    t: float
    made: float
    base: float
    value: float
    before: tuple[float, float, float]
    after: tuple[float, float, float]
    skip: float


class Coached:
    """Somebody who follows what the coach advises after each reading."""

    def __init__(self, knowledge: Callable[[Profile], Knowledge] | None = None) -> None:
        self.knowledge = from_profile if knowledge is None else knowledge
        self.kept: dict[int, tuple[Hand, Outlook]] = {}
        self.issued: list[Issued] = []
        self.silent: list[tuple[int, float, str, float]] = []
        """Row, time, kind, and how likely the crack was to come outside its tolerance, where no move was advised."""
        self.spent: list[float] = []

    def __call__(self, h: Hand, t: float) -> float | None:
        if id(h) not in self.kept:
            self.kept[id(h)] = (h, Outlook(h.profile, self.knowledge(h.profile), 1.0))
        outlook = self.kept[id(h)][1]
        roast = roast_of(h)
        estimate, forecast = outlook.at(t, roast, asking=False)
        began = time.process_time()
        a = advise(outlook, t, roast, forecast, estimate)
        self.spent.append(time.process_time() - began)
        ground = ground_of(h.profile, t, roast)
        if a is None or ground is None:
            return None
        if a.kind != "move" or a.value is None or a.crack_before is None or a.crack_after is None:
            if h.crack is None and forecast.first_crack is not None:
                f = forecast.first_crack
                self.silent.append((h.row, t, a.kind, (f.p_early or 0.0) + (f.p_late or 0.0)))
            return None
        if ground.made(a.value) > t + EVERY:
            return None  # a planned move made smaller when it is due: the next reading comes first
        h.at = max(t + MADE, ground.made(a.value))
        if ground.step is not None:
            h.skip = ground.step.time + LATE + 4
        aim = aim_of(h.profile, roast, forecast, t)
        if aim is not None and aim.what == "crack":
            self.issued.append(
                Issued(h.row, id(h), t, h.at, ground.base, a.value, a.crack_before, a.crack_after, h.skip)
            )
        return None if abs(a.value - h.gas) < 1e-6 else a.value


def roast_of(h: Hand) -> Roast:
    """What the coach sees of it."""
    moves = tuple(Turned(t, c, v, i, v) for i, (t, c, v) in enumerate(h.moves))  # type: ignore[arg-type]
    readings = tuple(Probe(t, v, 100 + i, t, v) for i, (t, v) in enumerate(h.readings))
    marks: dict[Any, float] = {"charge": 0.0}
    phase: Any = "drying"
    if h.crack is not None:
        marks["first crack"], phase = h.crack, "development"
    return Roast(HEADER, 0.0, marks, readings=readings, moves=moves, phase=phase)


def happened(s: Scene, found: Outcome, issued: Sequence[Issued]) -> Array:
    """What each issued move really did to the crack (s), the plan being kept after it, by roasting the day again."""
    hands = {id(h): h for h in found.hands}
    rows = np.array([i.row for i in issued])

    def again(with_it: bool) -> Array:
        plant = s.begin(rows, True)
        queue = []
        for j, i in enumerate(issued):
            h = hands[i.hand]
            queue += [(t, j, c, v) for t, c, v in h.moves if t <= i.t]
            for x in h.profile.steps:
                at = x.time + s.late[i.row]
                if at > i.t and (not with_it or x.control != "gas" or x.time > i.skip):
                    queue.append((at, j, x.control, x.value))
            queue += [(i.made, j, "gas", i.value)] if with_it else []
        queue.sort()
        gas, air = np.zeros((2, len(rows)))
        for t in range(LONGEST):
            while queue and queue[0][0] <= t:
                _, j, c, v = queue.pop(0)
                if c != "drum":
                    (gas if c == "gas" else air)[j] = v
            plant.step(gas, air)
        return np.asarray(plant.cracked)

    return again(True) - again(False)
