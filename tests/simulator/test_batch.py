"""Many roasts at once against one roast, and against another integrator."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from simulated_operator import run_of

from coach.session.profile_files import names_in
from coach.simulator import physics
from coach.simulator.batch import Run, simulate_many
from coach.simulator.beans import LOTS, load_beans
from coach.simulator.machine import DemoMove, conditions, load_machine, machine_names
from coach.simulator.physics import State
from coach.simulator.roaster import SimulatedRoaster, resting_state

MACHINES = machine_names()


def some_runs() -> list[Run]:
    rng = np.random.default_rng(5)
    runs = []
    for name in MACHINES:
        for lot in names_in(LOTS):
            run = run_of(load_machine(name), load_beans(lot))
            moves = tuple(
                DemoMove(at=m.at + float(rng.uniform(0, 9)), control=m.control, value=m.value) for m in run.moves
            )
            runs.append(
                replace(
                    run,
                    moves=moves,
                    metal=run.metal + float(rng.normal(0, 6)),
                    ambient=float(rng.normal(22, 3)),
                    gas_supply=float(rng.uniform(0.9, 1.1)),
                    moisture=float(rng.uniform(0.1, 0.12)),
                )
            )
    return runs


def alone(run: Run, duration: float) -> SimulatedRoaster:
    roaster = SimulatedRoaster(
        run.machine,
        run.beans,
        batch_kg=run.batch_kg,
        drum_soak=run.metal,
        ambient=run.ambient,
        gas_supply=run.gas_supply,
        moisture=run.moisture,
    )
    roaster.charge()
    for move in run.moves:
        roaster.advance(move.at)
        roaster.set(move.control, move.value)
    roaster.advance(duration)
    return roaster


def test_many_are_the_same_as_one_by_one() -> None:
    runs = some_runs()
    many = simulate_many(runs, 800.0)
    assert many.times.shape == (801,)
    assert many.probe.shape == (len(runs), 801)
    for i, run in enumerate(runs):
        roaster = alone(run, 800.0)
        states = [s.state for s in roaster.history[1:]]
        np.testing.assert_allclose(many.probe[i], [s.probe for s in states], atol=1e-8)
        np.testing.assert_allclose(many.bean[i], [s.bean for s in states], atol=1e-8)
        np.testing.assert_allclose(many.metal[i], [s.metal for s in states], atol=1e-8)
        np.testing.assert_allclose(many.moisture[i], [s.moisture for s in states], atol=1e-9)


@pytest.mark.parametrize("name", MACHINES)
def test_two_integrators_agree(name: str) -> None:
    """Our fixed steps against SciPy's DOP853 with its own step control, piece by piece between the moves."""
    machine = load_machine(name)
    plan, beans = machine.demo_plan, load_beans(machine.demo_plan.beans)
    many = simulate_many([run_of(machine, beans)], 640.0)
    setting = {"gas": plan.gas, "air": plan.air, "drum": plan.drum}

    def amount(batch: float) -> physics.Conditions[float]:
        return conditions(machine, beans, batch_kg=batch, moisture=beans.moisture, ambient=22.0, **setting)

    y = list(resting_state(amount(0.0), soak=plan.soak, bean=22.0, moisture=beans.moisture / (1 - beans.moisture)))
    edges = [0.0, *[m.at for m in plan.moves], 640.0]
    checked = 0
    for (a, b), move in zip(pairwise(edges), [*plan.moves, None], strict=True):
        now = amount(plan.batch_kg)

        def rate(t: float, y: np.ndarray, now: physics.Conditions[float] = now) -> list[float]:
            return list(physics.rates(State(*map(float, y)), now))

        grid = np.arange(a, b + 0.5)
        found = solve_ivp(rate, (a, b), y, method="DOP853", rtol=1e-9, atol=1e-10, t_eval=grid)
        span = slice(int(a), int(b) + 1)
        assert np.abs(found.y[0] - many.bean[0, span]).max() < 0.01
        assert np.abs(found.y[5] - many.probe[0, span]).max() < 0.01
        assert np.abs(found.y[4] - many.metal[0, span]).max() < 0.01
        checked += len(grid)
        y = list(found.y[:, -1])
        if move is not None:
            setting[move.control] = move.value
    assert checked == 641 + len(plan.moves)


def test_nothing_to_simulate() -> None:
    with pytest.raises(ValueError, match="nothing"):
        simulate_many([], 100.0)
    with pytest.raises(ValueError, match="nothing"):
        simulate_many(some_runs(), 0.0)
