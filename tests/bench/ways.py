"""One simulated day roasted in several ways: by the plan only, by a rule of thumb, by advice; and what each statement
of the advice was worth, by simulating the same day over again.

Every person follows the profile's moves.  One who follows advice makes the move 5 to 20 s after it is given, and leaves
out the planned move that it stands for.  The rule of thumb changes the gas of the plan by 3 % for each kelvin off the
reference, once a minute at most, outside 2 K.  Everything else is the same.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from workshops import Weather, Workshop

from coach.advice.advise import LARGEST, _best, advise
from coach.advice.candidates import MADE_IN, Judged, Look, Pull, ground_of
from coach.advice.objective import aim_of
from coach.advice.values import Advice
from coach.forecast.knowledge import Knowledge
from coach.forecast.predictor import Outlook
from coach.forecast.values import Forecast
from coach.roast.entries import Entry, Header, Move
from coach.roast.gauges import Gauge
from coach.roast.roast import Numbered, Roast, effective, fold
from coach.simulator.batch import Run, simulate_many
from coach.simulator.machine import PlannedMove
from coach.simulator.person import BareHands, Person
from coach.simulator.recipe import Recipe, recipe_of_profile

WAYS = ("plan", "rule of thumb", "advice")
CHARGE = 60.0
LONGEST = 1100.0
AFTER = 120.0
"""The crack is waited for so long after it was called, or is planned, s."""


@dataclass(frozen=True)
class Said:
    """What was said at a roast time (s), the controls having been moved so until then and being planned so after."""

    t: float
    advice: Advice
    made: tuple[PlannedMove, ...]
    coming: tuple[PlannedMove, ...]
    base: float
    """The gas as it stands, or is about to stand by the plan, kPa."""
    until: float
    """Planned moves of the gas until then would be left out for another now (roast time, s)."""
    gauge: Gauge
    before_crack: bool
    known: float | None = None
    """The gas that the forecast would have set then, had it had to, however little it gained, kPa."""


@dataclass
class Outcome:
    """One roast: errors against the plan (crack s, drop K, development s), moves besides the plan, what was stated."""

    crack: float
    drop: float
    development: float
    moves: int
    stall: bool
    race: bool
    stated: list[tuple[float, float, float, float]] = field(default_factory=list)
    """For each followed move that speaks of crack: before, q10, after, q90 as said, s."""
    kinds: list[str] = field(default_factory=list)
    spent: list[float] = field(default_factory=list)
    followed: list[tuple[Said, float]] = field(default_factory=list)
    """Each followed move with the roast time at which it was made, s."""
    silences: list[Said] = field(default_factory=list)
    """What was said after each reading that was no move."""
    called: float = 0.0
    """When the crack was called (roast time, s)."""
    start: Run | None = None
    """The day as it was at charge, to be simulated over again."""
    made: tuple[PlannedMove, ...] = ()
    """Every move that was made."""


def recipe_of(w: Workshop) -> Recipe:
    """The profile's moves: the person follows the profile, whatever the days before it were like."""
    return replace(recipe_of_profile(w.profile), charge_at=CHARGE, charge_temperature=None)


def roast(w: Workshop, knowledge: Knowledge, weather: Weather, seed: int, way: str) -> Outcome | None:
    """One day, one way; None where it is not roasted to the end."""
    rng = np.random.default_rng([seed, 7])
    roaster = weather.roaster(w.machine, w.beans)
    hands = BareHands(roaster)
    person = Person(w.habits, recipe_of(w), np.random.default_rng(seed))
    header = Header(id="d", unit=w.habits.unit, started="2026-01-01T08:00:00+00:00")
    outlook = Outlook(w.profile, knowledge, 1.0)
    entries: list[Numbered] = []
    folded = Roast(header)
    standing: Advice | None = None
    todo: tuple[float, float, Said | None] | None = None
    last_own = -1e9
    out = Outcome(0, 0, 0, 0, False, False)
    t = CHARGE - 5.0
    while "drop" not in person.marks and t < CHARGE + LONGEST:
        roaster.advance(t)
        new: list[Entry] = list(person.second(t, hands))
        now = t - CHARGE
        if todo is not None and t >= todo[0]:
            said = todo[2]
            control = "gas" if said is None or said.advice.control is None else said.advice.control
            value = min(todo[1], w.machine.range(control)[1])
            hands.set(control, value)
            new.append(Move(at=t, control=control, value=round(value, 4)))
            out.moves += 1
            last_own, todo = t, None
            if said is not None:
                out.followed.append((said, now))
                a = said.advice
                if a.crack_before is not None and a.crack_after is not None and "first crack" not in person.marks:
                    out.stated.append((a.crack_before[1], *a.crack_after))
        if new:
            entries += [Numbered(len(entries) + 2 + i, e) for i, e in enumerate(new)]
            before, folded = folded, fold(header, effective(entries))
            if before.moves != folded.moves and before.charge_at is not None:
                first = min(m.t for m in folded.moves if m not in before.moves)
                outlook.keep(sum(1 for r in folded.readings if r.t < first))
            if before.charge_at is None:
                outlook.keep(0)
        if way == "advice" and now > 100 and (new or t % 10 == 0) and folded.readings and "drop" not in person.marks:
            t0 = time.thread_time()
            estimate, forecast = outlook.at(now, folded)
            standing = advise(outlook, now, folded, forecast, None if estimate is None else estimate.age, standing)
            out.spent.append(time.thread_time() - t0)
            if standing is not None:
                if standing.text:
                    out.kinds.append(standing.kind)
                said = _said(outlook, now, folded, person, standing)
                if standing.kind == "move" and todo is None and standing.value is not None and said is not None:
                    todo = (t + float(rng.uniform(5, 20)), standing.value, said)
                    if said.until > now:
                        person.leave_out(said.gauge.control, CHARGE + said.until)
                elif standing.kind != "move" and todo is None and said is not None and len(new) > 0:
                    out.silences.append(replace(said, known=_forced(outlook, now, folded, forecast)))
        elif way == "rule of thumb" and new and now > 150 and "first crack" not in person.marks and folded.readings:
            off = folded.readings[-1].celsius - w.profile.curve.value(folded.readings[-1].t)
            planned = [s.value for s in w.profile.steps if s.control == "gas" and s.time <= now]
            if 2 < abs(off) < 20 and planned and t - last_own > 60 and todo is None:
                todo = (t + float(rng.uniform(5, 20)), max(planned[-1] * (1 - 0.03 * off), 0.0), None)
        t += 1.0
    truth = roaster.truth
    if "drop" not in person.marks or truth is None or truth.first_crack is None:
        return None
    goal = w.profile.goals["first crack"]
    crack, drop = person.marks["first crack"] - CHARGE, person.marks["drop"] - CHARGE
    inside = [s for s in roaster.history if s.time >= truth.charge]
    times = np.array([s.time - truth.charge for s in inside])
    probe = np.array([s.state.probe for s in inside]) + weather.offset
    grid = np.arange(crack, drop + 0.5, 1.0)
    v = np.interp(grid, times, probe)
    rates = (v[20:] - v[:-20]) / 20 if len(v) > 40 else np.array([0.1])
    plan = w.profile.curve.slope(w.profile.drop_time - 30.0, 60.0)
    out.crack, out.called = crack - goal.time, crack
    out.drop = float(np.interp(drop, times, probe)) - w.profile.drop_temperature
    out.development = drop - crack - (w.profile.development or 90.0)
    out.stall, out.race = bool(rates.min() < 0.35 * plan), bool(rates.max() > 1.9 * max(plan, 0.05))
    out.stated = [(*s, crack) for s in out.stated]  # type: ignore[misc]
    out.made = _made(folded)
    demo = w.machine.demo_plan
    out.start = Run(
        w.machine, w.beans, weather.batch, inside[0].state.metal, demo.gas, demo.air, demo.drum,
        probe=inside[0].state.probe, ambient=weather.ambient, moisture=weather.moisture,
        gas_supply=weather.supply, probe_offset=weather.offset, crack_shift=weather.shift,
    )  # fmt: skip
    return out


def _said(outlook: Outlook, now: float, folded: Roast, person: Person, advice: Advice) -> Said | None:
    control = advice.control or "gas"
    gauge, ground = Gauge.of(outlook.profile, folded, control), ground_of(outlook.profile, now, folded, control)
    if gauge is None or ground is None:
        return None
    made = _made(folded)
    coming = tuple(PlannedMove(at=at - CHARGE, control=s.control, value=s.value) for at, s in person.coming)
    until = now if ground.base == ground.stands else ground.moment + 15.0
    return Said(now, advice, made, coming, ground.base, until, gauge, "first crack" not in folded.marks)


def _forced(outlook: Outlook, now: float, folded: Roast, forecast: Forecast) -> float | None:
    """The best step of the gas by the forecast, no gain being asked for; None where there is none."""
    aim = aim_of(outlook.profile, folded, forecast)
    if aim is None or aim.what != "crack":
        return None
    look = Look(outlook, now, folded, replace(aim, drop=None), 0.0, 0.0)
    gas = look.lever("gas")
    found = None if not isinstance(gas, Pull) else _best(look, gas, -1 if aim.wants_less else 1)
    return found.value if isinstance(found, Judged) else None


def _made(folded: Roast) -> tuple[PlannedMove, ...]:
    return tuple(PlannedMove(at=max(m.t, 0.0), control=m.control, value=m.value) for m in folded.moves)


# -- the same day over again ---------------------------------------------------------------------------------------


def again(start: Run, moves: Sequence[tuple[PlannedMove, ...]], until: float) -> NDArray[np.float64]:
    """The true onset of crack (roast time, s) of a day for each list of moves; NaN where it does not come by then."""
    runs = [replace(start, moves=m) for m in moves]
    return np.asarray(simulate_many(runs, until).first_crack)


def effect(outcome: Outcome, said: Said, made_at: float) -> tuple[float, float]:
    """The true onset without and with a followed move, the plan being kept after it, s."""
    assert outcome.start is not None
    assert said.advice.value is not None
    control = said.advice.control or "gas"
    move = PlannedMove(at=made_at, control=control, value=said.advice.value)
    kept = tuple(m for m in said.coming if m.control != control or m.at > said.until)
    lists = [(*said.made, *said.coming), (*said.made, move, *kept)]
    without, with_it = again(outcome.start, lists, outcome.called + AFTER)
    return float(without), float(with_it)


def went_on(outcome: Outcome, goal: float, delay: float, *, scatter: bool) -> float:
    """How far off the crack would have been called (s) with all moves as they were made."""
    assert outcome.start is not None
    start = outcome.start if scatter else replace(outcome.start, crack_shift=0.0)
    return abs(float(again(start, [outcome.made], goal + AFTER)[0]) + delay - goal)


def by_forecast(outcome: Outcome, said: Said, goal: float, delay: float) -> tuple[float, float] | None:
    """How far off the crack would have been called (s), the lot's scatter left out, with nothing done from a statement
    on, and with the step that the forecast would have taken then; None where it had none."""
    if outcome.start is None or said.known is None:
        return None
    move = PlannedMove(at=said.t + MADE_IN, control="gas", value=said.known)
    kept = tuple(m for m in said.coming if m.control != "gas" or m.at > said.until)
    lists = [(*said.made, *said.coming), (*said.made, move, *kept)]
    off = np.abs(again(replace(outcome.start, crack_shift=0.0), lists, goal + AFTER) + delay - goal)
    off = np.where(np.isnan(off), AFTER, off)
    return float(off[0]), float(off[1])


def best_left(outcome: Outcome, said: Said, goal: float, delay: float, *, scatter: bool) -> tuple[float, float]:
    """How far off the crack would have been called (s) with nothing done from a statement on, and with the best of all
    single moves then: every step of the gauge within its range and the size of move that may be advised at all.

    Without ``scatter`` the lot's own shift of the crack that day, which nobody can know before, is left out.
    """
    assert outcome.start is not None
    start = outcome.start if scatter else replace(outcome.start, crack_shift=0.0)
    g, at = said.gauge, said.t + MADE_IN
    stands = g.steps(said.base)
    reach = LARGEST * g.top / g.step + 1e-9
    steps = [n for n in range(int(g.low / g.step), int(g.high / g.step) + 1) if abs(n - stands) <= max(reach, 1.0)]
    values = [g.value(n) for n in steps if g.allows(n) and g.value(n) <= outcome.start.machine.burner.full_pressure]
    kept = tuple(m for m in said.coming if m.control != "gas" or m.at > said.until)
    lists = [(*said.made, *said.coming)]
    lists += [(*said.made, PlannedMove(at=at, control="gas", value=v), *kept) for v in values]
    off = np.abs(again(start, lists, goal + AFTER) + delay - goal)
    off = np.where(np.isnan(off), AFTER, off)
    return float(off[0]), float(off.min())
