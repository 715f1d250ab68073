"""How long the simulator takes: ``python tests/bench/bench_simulator.py``.

Wanted: one 12-minute roast under 50 ms; 1,000 at once under 5 s on two cores.
"""

from __future__ import annotations

import os
import statistics
from collections.abc import Callable
from dataclasses import replace
from time import perf_counter

import numpy as np
from simulated_operator import Habits, roast_once, run_of

from coach.simulator.batch import simulate_many
from coach.simulator.beans import load_beans
from coach.simulator.machine import load_machine, machine_names
from coach.simulator.noise import RoasterSound
from coach.simulator.roaster import SimulatedRoaster

TWELVE = 720.0


def one(name: str) -> None:
    """A 12-minute roast with its planned moves, a glance at the dial each second."""
    machine = load_machine(name)
    roaster = SimulatedRoaster(machine, seed=1)
    roaster.charge()
    moves = list(machine.demo_plan.moves)
    for t in range(1, int(TWELVE) + 1):
        while moves and moves[0].at < t:
            move = moves.pop(0)
            roaster.set(move.control, move.value)
        roaster.advance(float(t))
        roaster.display()


def typed(name: str) -> None:
    """A roast by the simulated person, up to drop."""
    machine = load_machine(name)
    roast_once(machine, SimulatedRoaster(machine, seed=1), Habits(), np.random.default_rng(1))


def thousand() -> None:
    """A thousand different days on four machines."""
    rng = np.random.default_rng(1)
    runs = [run_of(load_machine(n), load_beans("washed-highland")) for n in machine_names()]
    days = [
        replace(runs[i % 4], ambient=float(rng.normal(22, 4)), gas_supply=float(rng.uniform(0.9, 1.1)))
        for i in range(1000)
    ]
    simulate_many(days, TWELVE)


def sound() -> None:
    """A second of the roaster's sound in blocks of 1024."""
    source = RoasterSound(1)
    for n in range(43):
        source(n * 1024 / source.rate, 1024)


def timed(what: str, work: Callable[[], None], times: int, limit: float | None) -> None:
    """Print the median and the worst of several runs, and the ratio to the limit [s]."""
    work()
    spent = []
    for _ in range(times):
        begun = perf_counter()
        work()
        spent.append(perf_counter() - begun)
    middle = statistics.median(spent)
    ratio = "" if limit is None else f"   {middle / limit:6.1%} of {limit:g} s"
    print(f"{what:46} median {1000 * middle:8.1f} ms   worst {1000 * max(spent):8.1f} ms{ratio}")


def main() -> None:
    """Print all figures."""
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; {TWELVE / 60:g}-minute roasts, steps of one second")
    for name in machine_names():
        timed(f"one roast, {name}", lambda name=name: one(name), 15, 0.05)  # type: ignore[misc]
    timed("one roast typed by the simulated person", lambda: typed("brambleforge-1"), 15, 0.05)
    timed("1,000 roasts at once (one process)", thousand, 3, 5.0)
    timed("one second of sound", sound, 9, None)


if __name__ == "__main__":
    main()
