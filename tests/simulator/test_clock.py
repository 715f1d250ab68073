"""The clock of a rehearsal."""

from __future__ import annotations

from coach.simulator.rehearsal.clock import RehearsalClock


def test_runs_at_its_speed_and_only_when_it_may() -> None:
    real = [100.0]
    clock = RehearsalClock(lambda: real[0], 5.0)
    real[0] = 107.0
    assert clock() == 0.0
    assert clock.paused
    clock.begin()
    real[0] = 109.0
    assert clock() == 10.0
    clock.stop()
    clock.stop()
    real[0] = 200.0
    assert clock() == 10.0
    clock.begin()
    clock.begin()
    real[0] = 201.0
    assert clock() == 15.0


def test_forward_whether_it_runs_or_not() -> None:
    real = [0.0]
    clock = RehearsalClock(lambda: real[0])
    clock.forward(30.0)
    clock.begin()
    real[0] = 1.0
    clock.forward(100.0)
    assert clock() == 131.0
