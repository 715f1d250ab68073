"""A drum that is left alone: what it can come to, and that the coach speaks of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.roast.entries import Header
from coach.session.coach import Coach
from coach.session.profile_files import load_profile
from coach.simulator.machine import load_machine, machine_names
from coach.simulator.rehearsal.rehearsal import Rehearsal
from coach.simulator.roaster import SimulatedRoaster

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("name", machine_names())
def test_the_limit_switch_bounds_a_preheat_left_alone_at_full_flame(name: str) -> None:
    machine = load_machine(name)
    roaster = SimulatedRoaster(machine, gas=machine.burner.full_pressure, probe_noise=0.0)
    roaster.advance(2400.0)
    top = max(x.state.probe for x in roaster.history)
    assert machine.burner.limit < top < machine.burner.limit + 25.0, "what metal and gas carry on"


@pytest.mark.parametrize("name", machine_names())
def test_a_dropped_drum_at_full_flame_comes_to_what_its_metal_held_and_cools(name: str) -> None:
    machine = load_machine(name)
    roaster = SimulatedRoaster(machine, gas=machine.burner.full_pressure, probe_noise=0.0)
    roaster.charge()
    roaster.advance(500.0)
    metal = roaster.state.metal
    roaster.drop()
    roaster.advance(2400.0)
    assert max(x.state.probe for x in roaster.history) < metal
    assert roaster.probe < machine.burner.limit + 25.0


def test_an_overheated_preheat_that_nobody_reads_is_spoken_of() -> None:
    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    machine = load_machine(machine_names()[0])
    coach = Coach(profile, Header(id="x", started="2026-11-02T08:00:00+00:00", run="rehearsal"))
    rehearsal = Rehearsal(machine, profile=profile)
    rehearsal.roaster.set("gas", machine.burner.full_pressure)
    spoken: list[tuple[str, str]] = []
    for second in range(1, 900):
        spoken += [(c.name, c.text) for c in coach.advance(float(second)) if c.sounds]
        for entry in rehearsal.advance(float(second), coach):
            coach.receive(entry)
            rehearsal.hear(entry, coach)
            spoken += [(c.name, c.text) for c in coach.cues if c.sounds]
    assert "over safety limit" in {name for name, _ in spoken}
    assert rehearsal.roaster.probe < machine.burner.limit + 25.0
