"""A long day: python tests/bench/bench_long_run.py [ROASTS]

Simulated roasts end to end in one process, each on disk through the program's own writer, at high speed.  Prints memory
after the tenth and after the last, journals that are whole, and what a tick costs early and late in the day.
"""

from __future__ import annotations

import gc
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from simulated_operator import roast_once

from coach.app.live import LiveRoast
from coach.session.journal import read_journal
from coach.session.profile_files import load_profile
from coach.simulator.machine import load_machine
from coach.simulator.person import Habits
from coach.simulator.roaster import SimulatedRoaster

WARM = 10
"""Roasts before the first measurement: what is loaded and cached once is there then."""


@dataclass
class DayLog:
    """Figures by roast: memory held (MB), median cost of a second (ms), journals short of an entry, clocks that drifted
    (s), simulated hours."""

    memory: list[float] = field(default_factory=list)
    tick: list[float] = field(default_factory=list)
    short: int = 0
    drift: float = 0.0
    hours: float = 0.0


def held() -> float:
    """Memory of this process now, MB."""
    gc.collect()
    with open("/proc/self/statm", encoding="ascii") as file:
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def reading(now: list[float]) -> Callable[[], float]:
    """A clock that shows what ``now`` holds, s."""
    return lambda: now[0]


def run(roasts: int, folder: Path) -> DayLog:
    """The day."""
    machine, profile, log = load_machine("brambleforge-1"), load_profile("larch-hill"), DayLog()
    for n in range(roasts):
        entries = roast_once(machine, SimulatedRoaster(machine, seed=n), Habits(), np.random.default_rng(n))
        now = [0.0]
        roast = LiveRoast.open(profile, folder, reading(now), started=datetime.now(UTC), run="live")
        costs = []
        for entry in entries:
            while now[0] < entry.came:
                now[0] = min(now[0] + 1.0, entry.came)
                began = time.thread_time()
                roast.coach.advance(roast.now())
                costs.append(1000 * (time.thread_time() - began))
            roast.enter(entry)
            log.drift = max(log.drift, abs(roast.coach.at - entry.came))
        roast.close()
        log.short += [e.entry for e in read_journal(roast.path).entries] != entries
        log.hours += now[0] / 3600
        log.tick.append(median(costs))
        del roast
        log.memory.append(held())
    return log


def main(argv: list[str]) -> int:
    """Measure and print."""
    roasts, folder = int(argv[0]) if argv else 136, Path(tempfile.mkdtemp(prefix="day-"))
    try:
        log = run(roasts, folder)
    finally:
        shutil.rmtree(folder)
    first, last = log.memory[min(WARM, roasts) - 1], log.memory[-1]
    early, late = median(log.tick[: max(roasts // 5, 1)]), median(log.tick[-max(roasts // 5, 1) :])
    print(
        f"{roasts} roasts, {log.hours:.1f} h of roasting: {log.short} journals not whole, clock off by {log.drift:.1f} s"  # noqa: E501
    )
    print(
        f"  memory after {min(WARM, roasts)}: {first:.1f} MB, after {roasts}: {last:.1f} MB ({100 * (last / first - 1):+.1f} %)"  # noqa: E501
    )
    print(f"  a second costs {early:.2f} ms in the first fifth, {late:.2f} ms in the last ({late / early:.2f})")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
