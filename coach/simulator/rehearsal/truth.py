"""The truth of a rehearsal: known to the simulator, shown after it, needed for the score."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coach.simulator.rehearsal.inject import Happened
from coach.simulator.roaster import SimulatedRoaster


@dataclass(frozen=True)
class Truth:
    """Times are s since the roaster's start, which is the ``at`` of the journal; None where something did not come."""

    charge: float | None
    yellow: float | None
    first_crack: float | None
    drop: float | None
    times: NDArray[np.float64]
    """Grid of the probe's course, (n,)."""
    probe: NDArray[np.float64]
    """Temperature on a faultless probe [°C], (n,)."""
    mass_loss: float | None
    happened: tuple[Happened, ...] = ()

    def probe_at(self, t: float) -> float:
        """Temperature on a faultless probe at t [°C]."""
        return float(np.interp(t, self.times, self.probe))


def truth_of(roaster: SimulatedRoaster, happened: tuple[Happened, ...] = ()) -> Truth:
    """The truth of the roaster's last batch."""
    found = roaster.truth
    times = np.array([s.time for s in roaster.history])
    probe = np.array([s.state.probe for s in roaster.history])
    return Truth(
        charge=found.charge if found else None,
        yellow=found.yellow if found else None,
        first_crack=found.first_crack if found else None,
        drop=found.drop if found else None,
        times=times,
        probe=probe,
        mass_loss=roaster.mass_loss if found else None,
        happened=happened,
    )
