"""Simulated people tapping what they hear of a simulated crack."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from coach.simulator.beans import load_beans
from coach.simulator.machine import load_machine
from coach.simulator.roaster import SimulatedRoaster

BEANS = ("washed-highland", "natural-valley")


@dataclass(frozen=True)
class Hand:
    """How a person taps: the softest pop heard (a usual one is 1) and the sd of its logarithm from pop to pop, the
    share missed besides, reaction time and its sd (s), taps without a pop a minute, and the shortest time between two
    taps (s).  No source gives figures for these; they are our own."""

    softest: float = 0.65
    softest_sd: float = 0.1
    missed: float = 0.02
    reaction: float = 0.45
    reaction_sd: float = 0.15
    false: float = 0.2
    shortest: float = 0.2

    def tap(self, cracking: Cracking, rng: np.random.Generator) -> list[float]:
        """The taps of one roast, in order, to a tenth of a second."""
        end, taps = cracking.end, []
        for time, loudness in cracking.pops:
            heard = loudness >= self.softest * float(np.exp(rng.normal(0, self.softest_sd)))
            tap = time + max(0.15, float(rng.normal(self.reaction, self.reaction_sd)))
            if heard and rng.random() >= self.missed and tap < end:
                taps.append(tap)
        taps += rng.uniform(0.0, end, rng.poisson(self.false * end / 60)).tolist()
        out: list[float] = []
        for t in sorted(taps):
            if not out or t - out[-1] >= self.shortest:
                out.append(t)
        return [round(t, 1) for t in out]


@dataclass(frozen=True)
class Cracking:
    """One simulated roast: its pops (time, loudness) and the true onset of first crack, and when the taps end; s after
    charge."""

    pops: list[tuple[float, float]]
    onset: float
    end: float


CAREFUL = Hand(softest=0.0, missed=0.0)
"""Hears everything; still slow, unsteady, and now and then wrong."""
USUAL = Hand()
DISTRACTED = Hand(softest=0.7, missed=0.1, reaction=0.7, reaction_sd=0.3, false=0.5)


def crackings(count: int, seed: int, beans: Sequence[str] = BEANS, after: float = 90.0) -> Iterator[Cracking]:
    """Roasts on the 1 kg machine that differ in beans, gas and soak; taps end ``after`` s past the onset."""
    machine = load_machine("brambleforge-1")
    for k in range(count):
        rng = np.random.default_rng([seed, k])
        lot = load_beans(beans[k % len(beans)])
        plan = machine.demo_plan
        roaster = SimulatedRoaster(
            machine, seed=int(rng.integers(1 << 30)), beans=lot, drum_soak=plan.soak + float(rng.normal(0, 5)),
            gas_supply=float(np.exp(rng.normal(0, 0.04))), crack_shift=float(rng.normal(0, 0.7)),
        )  # fmt: skip
        roaster.advance(30.0)
        roaster.charge()
        todo = [(30.0 + m.at, m.control, m.value) for m in plan.moves]
        while roaster.time < 1000:
            roaster.advance(roaster.time + 5.0)
            while todo and todo[0][0] <= roaster.time:
                _, control, value = todo.pop(0)
                roaster.set(control, value)
            truth = roaster.truth
            if truth.first_crack is not None and roaster.time > truth.first_crack + after:
                end = truth.first_crack + after - 30.0
                pops = [(p.time - 30.0, p.loudness) for p in roaster.pops if p.kind == "first"]
                yield Cracking(pops, truth.first_crack - 30.0, end)
                break
