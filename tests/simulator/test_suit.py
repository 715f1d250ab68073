"""A machine suited to a profile of a roaster that nobody has fitted."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers import ROOT

from coach.app.commands import rehearse
from coach.roast.profile import Profile
from coach.session.profile_files import load_profile
from coach.simulator.beans import load_beans
from coach.simulator.fit import suited
from coach.simulator.machine import load_machine
from coach.simulator.person import Habits, Person, recipe_of_profile
from coach.simulator.rehearsal.inject import roaster_of

BEANS = load_beans("washed-highland")


def profile(name: str, **change: Any) -> Profile:
    document = load_profile(str(ROOT / "profiles" / f"{name}.toml")).document
    return Profile(document.model_copy(update={"machine": "Nobody's", **change}))


@pytest.mark.parametrize("name", ["larch-hill", "moss-lane"])
@pytest.mark.parametrize(("machine", "batch"), [("brambleforge-3", 2.5), ("brambleforge-15", 12.0)])
def test_who_follows_the_plan_comes_to_its_crack(name: str, machine: str, batch: float) -> None:
    """The profiles were made on the 1 kg machine; here larger ones are suited to them."""
    plan = profile(name, batch_kg=batch)
    found = suited(load_machine(machine), BEANS, plan)
    assert found is not None
    own, lot = found
    assert own.name == "Nobody's"
    roaster = roaster_of(own, seed=1, profile=plan, beans=lot)
    assert roaster.batch_kg == batch
    person = Person(Habits(late=0.0, unit=plan.unit), recipe_of_profile(plan), np.random.default_rng(1))
    for t in range(1, 900):
        roaster.advance(float(t))
        person.second(float(t), roaster)
    truth = roaster.truth
    assert truth.first_crack is not None
    assert truth.yellow is not None
    assert 40.0 < truth.charge < 75.0
    assert truth.first_crack - truth.charge == pytest.approx(plan.goals["first crack"].time, abs=12.0)
    assert truth.yellow - truth.charge == pytest.approx(plan.goals["yellow"].time, abs=20.0)
    t = np.arange(90.0, plan.goals["first crack"].time)
    probe = np.interp(truth.charge + t, [s.time for s in roaster.history], [s.state.probe for s in roaster.history])
    assert np.abs(probe - plan.curve.at(t)).max() < 8.0


def test_what_cannot_be_suited() -> None:
    machine = load_machine("brambleforge-1")
    assert suited(machine, BEANS, profile("larch-hill", moves=())) is None
    assert suited(machine, BEANS, profile("larch-hill", batch_kg=9.0)) is None


def test_which_machine_a_rehearsal_takes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    known, lot, word = rehearse.machine_for("", load_profile("larch-hill"))
    assert (known.name, lot, word) == ("Brambleforge 1", None, "")
    made, lot, word = rehearse.machine_for("", profile("larch-hill", batch_kg=5.0))
    assert made.capacity_kg == 6.0
    assert lot is not None
    assert "suited to the plan" in word
    asked, lot, word = rehearse.machine_for("brambleforge-15", profile("larch-hill"))
    assert (asked.name, word) == ("Brambleforge 15", "")
