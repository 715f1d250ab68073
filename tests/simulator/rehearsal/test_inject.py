"""What a drill injects, and when."""

from __future__ import annotations

from typing import Any

import pytest

from coach.simulator.machine import load_machine
from coach.simulator.rehearsal.inject import Injector, roaster_of
from coach.simulator.rehearsal.model import Drill
from coach.simulator.roaster import SimulatedRoaster

MACHINE = load_machine("brambleforge-1")


def drill(*inject: dict[str, Any], day: dict[str, Any] | None = None) -> Drill:
    return Drill.model_validate(
        {"format": 1, "invented": True, "title": "T", "kind": "fault", "brief": "b", "hint": "h", "reveal": "r",
         "inject": list(inject), "day": day or {}}
    )  # fmt: skip


def go(d: Drill, seconds: int, seed: int = 1, charge: int = 60) -> tuple[Injector, SimulatedRoaster]:
    roaster = roaster_of(MACHINE, d, seed=seed)
    injector = Injector(d.inject, seed)
    for t in range(1, seconds + 1):
        roaster.advance(float(t))
        if t == charge:
            roaster.charge()
        injector.second(float(t), roaster)
    return injector, roaster


def test_at_a_time_after_charge() -> None:
    injector, roaster = go(drill({"what": "gas supply", "value": 0.5, "at": 100}), 300, charge=80)
    assert injector.happened == [180.0]
    assert roaster.conditions.burner_set == pytest.approx(9.0 * (1.6 * 0.5 / 3.0) ** 0.5)


def test_at_a_temperature_past_the_turning_point() -> None:
    injector, roaster = go(drill({"what": "probe stuck", "at_temperature": 150}), 400)
    probe = {s.time: s.state.probe for s in roaster.history}
    assert probe[injector.happened[0]] == pytest.approx(150.0, abs=0.6)
    assert roaster.indicated == pytest.approx(150.0, abs=1.0)


def test_at_random_by_the_seed() -> None:
    d = drill({"what": "gas", "value": 1.3, "between": ["2:00", "6:00"]})
    times = [go(d, 430, seed)[0].happened[0] - 60 for seed in (1, 1, 2, 3)]
    assert times[0] == times[1]
    assert len(set(times)) == 3
    assert all(120 <= t <= 361 for t in times)


def test_at_the_true_crack() -> None:
    injector, roaster = go(drill({"what": "fan stalled", "at_crack": 10}), 700)
    assert roaster.truth.first_crack is not None
    assert 10.0 <= injector.happened[0] - roaster.truth.first_crack < 11.0


def test_what_lasts_ends() -> None:
    d = drill(
        {"what": "probe stuck", "at": 100, "lasts": 50}, {"what": "gas supply", "value": 0.5, "at": 100, "lasts": 9}
    )
    _, during = go(d, 165)
    _, after = go(d, 230)
    assert during.conditions.burner_set < 6.0
    assert abs(after.indicated - after.probe) < 1.0
    assert after.conditions.burner_set == pytest.approx(9.0 * (1.6 / 3.0) ** 0.5)


def test_somebody_moves_a_control_by_a_factor() -> None:
    _, roaster = go(drill({"what": "gas", "value": 1.25, "at": 30}), 200)
    assert roaster.setting("gas") == pytest.approx(2.0)


def test_nothing_before_the_charge() -> None:
    injector, _ = go(drill({"what": "gas", "value": 1.25, "at": 0}), 59, charge=60)
    assert injector.happened == []


def test_an_alarm_in_the_room() -> None:
    _, roaster = go(drill({"what": "smoke alarm", "at": 30, "lasts": 20}), 95)
    assert roaster.setting("smoke alarm")
    _, roaster = go(drill({"what": "smoke alarm", "at": 30, "lasts": 20}), 130)
    assert not roaster.setting("smoke alarm")


def test_the_day_is_not_the_plans() -> None:
    day = {"soak": 10.0, "moisture": 0.13, "crack_shift": -4.0, "ambient": -5.0}
    plain, other = roaster_of(MACHINE, None, seed=1), roaster_of(MACHINE, drill(day=day), seed=1)
    assert other.state.metal == plain.state.metal + 10.0
    assert other.green_moisture == 0.13
    assert other.ambient == 17.0
