"""Many roasts at once: the same state equations as one roast, on arrays over the batch.

Every roast starts at its charge and keeps to its own schedule of moves; all run on one grid of a second, as the
simulated roaster does, so that both give the same curve.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coach.simulator import physics
from coach.simulator.beans import Beans, dry_basis
from coach.simulator.machine import DemoMove, Machine, conditions
from coach.simulator.physics import Conditions, State
from coach.simulator.roaster import STEP, resting_state

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
    gas_supply: float = 1.0

    @property
    def green_moisture(self) -> float:
        """Moisture of the green, wet basis [kg/kg]."""
        return self.beans.moisture if self.moisture is None else self.moisture

    @property
    def start(self) -> State[float]:
        """The state at charge, the beans as warm as the room."""
        empty = self._conditions(0.0, {"gas": self.gas, "air": self.air, "drum": self.drum})
        state = resting_state(empty, soak=self.metal, bean=self.ambient, moisture=dry_basis(self.green_moisture))
        return state if self.probe is None else state._replace(probe=self.probe)

    def schedule(self) -> list[tuple[float, Conditions[float]]]:
        """Conditions at charge and after each move, with its time [s], in order."""
        settings = {"gas": self.gas, "air": self.air, "drum": self.drum}
        out = [(0.0, self._conditions(self.batch_kg, settings))]
        for move in sorted(self.moves, key=lambda m: m.at):
            settings[move.control] = move.value
            out.append((move.at, self._conditions(self.batch_kg, settings)))
        return out

    def _conditions(self, batch_kg: float, settings: dict[str, float]) -> Conditions[float]:
        return conditions(
            self.machine, self.beans, batch_kg=batch_kg, moisture=self.green_moisture, gas=settings["gas"],
            air=settings["air"], drum=settings["drum"], ambient=self.ambient, gas_supply=self.gas_supply,
        )  # fmt: skip


@dataclass(frozen=True)
class Many:
    """Courses of n roasts on m grid points."""

    times: Floats
    """Grid [s after charge], (m,)."""
    probe: Floats
    """Tip of the probe [°C], (n, m)."""
    bean: Floats
    """Bean temperature [°C], (n, m)."""
    moisture: Floats
    """Moisture of the beans [kg/kg dry], (n, m)."""
    metal: Floats
    """Drum metal [°C], (n, m)."""


def simulate_many(runs: Sequence[Run], duration: float) -> Many:
    """Simulate every run for ``duration`` [s] after its charge.  ValueError if there are none or no time."""
    if not runs or not duration >= STEP:
        raise ValueError("nothing to simulate")
    steps = round(duration / STEP)
    schedules = [run.schedule() for run in runs]
    changes = sorted(((t, i, c) for i, s in enumerate(schedules) for t, c in s), key=lambda x: x[0])[::-1]
    table = np.array([s[0][1] for s in schedules], dtype=np.float64)
    now: Conditions[Floats] = Conditions(*table.T)  # views: a row set in the table is set here
    state: State[Floats] = State(*np.array([run.start for run in runs], dtype=np.float64).T)
    courses = np.empty((len(state), len(runs), steps + 1))
    courses[:, :, 0] = state
    for k in range(steps):
        while changes and changes[-1][0] <= k * STEP + 1e-9:
            _, i, table[i] = changes.pop()
        state = physics.step(state, now, STEP)
        courses[:, :, k + 1] = state
    found = State(*courses)
    return Many(np.arange(steps + 1, dtype=np.float64) * STEP, found.probe, found.bean, found.moisture, found.metal)
