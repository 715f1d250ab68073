"""Many roasts at once: the same state equations as one roast, on arrays over the batch.

Every roast starts at its charge and keeps to its own schedule of moves; all run on one grid of a second, as the
simulated roaster does, so that both give the same curve.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from coach.simulator import physics
from coach.simulator.beans import Beans, dry_basis
from coach.simulator.crack import crack_drive, cracked_share
from coach.simulator.machine import DemoMove, Machine, conditions
from coach.simulator.physics import Conditions, State
from coach.simulator.roaster import STEP, YELLOW, resting_state

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Run:
    """One roast to simulate: machine, beans, the day, and every move from charge on.

    Temperatures °C, times s after charge, gas kPa.  ``metal`` and ``probe`` are temperatures at charge; a probe left
    out is the settled one of an empty drum.  The other names are those of the simulated roaster.
    """

    machine: Machine
    beans: Beans
    batch_kg: float
    metal: float
    gas: float
    air: float
    drum: float
    moves: tuple[DemoMove, ...] = ()
    probe: float | None = None
    ambient: float = 22.0
    moisture: float | None = None
    bean_temperature: float | None = None
    gas_supply: float = 1.0
    probe_offset: float = 0.0
    probe_lag: float = 1.0
    crack_shift: float = 0.0
    second_shift: float = 0.0

    @property
    def green_moisture(self) -> float:
        """Moisture of the green, wet basis [kg/kg]."""
        return self.beans.moisture if self.moisture is None else self.moisture


@dataclass(frozen=True)
class Many:
    """Outcome of n roasts on m grid points.  Times are s after charge; NaN where something has not come."""

    times: Floats
    """Grid, (m,)."""
    probe: Floats
    """Tip of the probe with its offset [°C], (n, m)."""
    bean: Floats
    """Bean temperature [°C], (n, m)."""
    metal: Floats
    """Drum metal [°C], (n, m)."""
    turning_point: Floats
    yellow: Floats
    first_crack: Floats
    """True onset of first crack [s], (n,)."""
    second_crack: Floats
    cracked: Floats
    """Share past first crack at the end, (n,)."""
    moisture: Floats
    """Moisture at the end [kg/kg dry], (n,)."""
    mass_loss: Floats
    """Share of the green mass lost at the end, (n,)."""


def simulate_many(runs: Sequence[Run], duration: float) -> Many:
    """Simulate every run for ``duration`` [s] after its charge.  ValueError if there are none or no time."""
    if not runs or not duration >= STEP:
        raise ValueError("nothing to simulate")
    steps = round(duration / STEP)
    schedules = [_Schedule(run) for run in runs]
    table = np.array([s.conditions for s in schedules], dtype=np.float64)
    now: Conditions[Floats] = Conditions(*table.T)
    start = np.array([s.start for s in schedules], dtype=np.float64)
    state: State[Floats] = State(*start.T)
    watch = _CrackWatch(runs)
    shape = (len(runs), steps + 1)
    probe, bean, metal = np.empty(shape), np.empty(shape), np.empty(shape)
    due = np.array([s.due for s in schedules])
    for k in range(steps + 1):
        probe[:, k], bean[:, k], metal[:, k] = state.probe, state.bean, state.metal
        if k == steps:
            break
        t = k * STEP
        moved = np.flatnonzero(due <= t + 1e-9)
        if len(moved):
            for i in moved:
                table[i] = schedules[i].until(t)
                due[i] = schedules[i].due
            now = Conditions(*table.T)
        after = physics.step(state, now, STEP)
        watch.between(t, state, after)
        state = after
    offset = np.array([r.probe_offset for r in runs])
    green = np.array([dry_basis(r.green_moisture) for r in runs])
    return Many(
        times=np.arange(steps + 1, dtype=np.float64) * STEP,
        probe=probe + offset[:, None],
        bean=bean,
        metal=metal,
        turning_point=watch.turning_point,
        yellow=watch.yellow,
        first_crack=watch.first,
        second_crack=watch.second,
        cracked=cracked_share(drive=watch.peak, onset=watch.first_onset, spread=watch.spread),
        moisture=state.moisture,
        mass_loss=(green - state.moisture + state.lost) / (1.0 + green),
    )


@dataclass
class _Schedule:
    """The moves of one run yet to come, and the conditions that its controls set."""

    run: Run
    due: float = field(init=False)
    """Time of the next move [s]; infinity when there is none."""
    conditions: Conditions[float] = field(init=False)
    start: State[float] = field(init=False)

    def __post_init__(self) -> None:
        run = self.run
        self._left = sorted(run.moves, key=lambda m: m.at)
        self._set = {"gas": run.gas, "air": run.air, "drum": run.drum}
        green = run.ambient if run.bean_temperature is None else run.bean_temperature
        moisture = dry_basis(run.green_moisture)
        start = resting_state(self._amount(batch_kg=0.0), soak=run.metal, bean=green, moisture=moisture)
        self.start = start if run.probe is None else start._replace(probe=run.probe)
        self.until(0.0)

    def until(self, t: float) -> Conditions[float]:
        """Make the moves due by t [s]; return the conditions then."""
        while self._left and self._left[0].at <= t + 1e-9:
            move = self._left.pop(0)
            self._set[move.control] = move.value
        self.due = self._left[0].at if self._left else np.inf
        self.conditions = self._amount(batch_kg=self.run.batch_kg)
        return self.conditions

    def _amount(self, *, batch_kg: float) -> Conditions[float]:
        run = self.run
        return conditions(
            run.machine,
            run.beans,
            batch_kg=batch_kg,
            moisture=run.green_moisture,
            gas=self._set["gas"],
            air=self._set["air"],
            drum=self._set["drum"],
            ambient=run.ambient,
            gas_supply=run.gas_supply,
            probe_lag=run.probe_lag,
        )


class _CrackWatch:
    """Finds the milestones of all roasts as they pass."""

    def __init__(self, runs: Sequence[Run]) -> None:
        n = len(runs)
        self.turning_point, self.yellow = np.full(n, np.nan), np.full(n, np.nan)
        self.first, self.second = np.full(n, np.nan), np.full(n, np.nan)
        self.first_onset = np.array([r.beans.first.onset + r.crack_shift for r in runs])
        self.second_onset = np.array([r.beans.second.onset + r.second_shift for r in runs])
        self.spread = np.array([r.beans.first.spread for r in runs])
        self.peak = np.full(n, -physics.KELVIN)

    def between(self, t: float, a: State[Floats], b: State[Floats]) -> None:
        """Look at one step, from state a at t [s] to state b."""
        turned = np.isnan(self.turning_point) & (b.probe > a.probe)
        self.turning_point[turned] = t
        _cross(self.yellow, a.bean, b.bean, YELLOW, t)
        if (b.bean > 120.0).any():
            hot = np.where(b.bean > 120.0, b.bean, 120.0)
            drive = np.where(b.bean > 120.0, crack_drive(bean=hot, moisture=b.moisture), -physics.KELVIN)
            before, self.peak = self.peak, np.maximum(self.peak, drive)
            _cross(self.first, before, self.peak, self.first_onset, t)
            _cross(self.second, before, self.peak, self.second_onset, t)


def _cross(found: Floats, a: Floats, b: Floats, level: Floats | float, t: float) -> None:
    """Note the time, where not known yet, at which a quantity going from a to b in one step reaches the level."""
    new = np.isnan(found) & (b >= level)
    if new.any():
        share = (np.broadcast_to(level, b.shape)[new] - a[new]) / (b[new] - a[new])
        found[new] = t + STEP * np.clip(share, 0.0, 1.0)
