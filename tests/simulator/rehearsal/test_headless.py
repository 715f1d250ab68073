"""A scripted expert against a scripted novice in every drill; the benchmark does it with more seeds."""

from __future__ import annotations

import pytest
from headless_drill import run_drill
from helpers import ROOT

from coach.roast.entries import Mark, Move, Reading
from coach.session.profile_files import load_profile
from coach.simulator.machine import load_machine
from coach.simulator.rehearsal.inject import COLLEAGUE
from coach.simulator.rehearsal.model import bundled_drills, load_drill

PROFILE = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
FAHRENHEIT = load_profile(str(ROOT / "profiles" / "moss-lane.toml"))
MACHINE = load_machine("brambleforge-1")
DRILLS = sorted(p.stem for p in bundled_drills().glob("*.toml"))


@pytest.mark.parametrize("name", DRILLS)
def test_expert_beats_novice(name: str) -> None:
    drill = load_drill(name)
    for seed in range(100, 104):
        expert, novice = (run_drill(drill, PROFILE, MACHINE, who, seed) for who in ("expert", "novice"))
        assert expert.score.points > novice.score.points, seed
        assert expert.score.points > 60.0, seed
        if drill.inject:
            assert expert.truth.happened, seed


def test_in_fahrenheit_too() -> None:
    done = run_drill(load_drill("wet-lot"), FAHRENHEIT, MACHINE, "expert", 3)
    assert done.score.points > 75.0
    assert max(r.shown for r in done.roast.readings) > 380.0


@pytest.mark.parametrize("name", ["late-handover", "missed-move"])
def test_a_handover(name: str) -> None:
    drill = load_drill(name)
    done = run_drill(drill, PROFILE, MACHINE, "expert", 5)
    assert drill.handover is not None
    theirs = [n.entry for n in done.entries if getattr(n.entry, "by", "") == COLLEAGUE]
    mine = [n.entry for n in done.entries if n.entry not in theirs]
    assert done.roast.charge_at is not None
    change = done.roast.charge_at + drill.handover.at
    assert max(e.at for e in theirs) <= change <= min(e.at for e in mine)
    assert {e.event for e in theirs if isinstance(e, Mark)} == {"charge", "yellow"}
    assert {e.event for e in mine if isinstance(e, Mark)} == {"first crack", "drop"}
    assert any(isinstance(e, Reading) for e in mine)
    if drill.handover.left_out:
        assert not [e for e in theirs if isinstance(e, Move) and e.control == "gas" and e.value == 1.2]


def test_nobody_else() -> None:
    with pytest.raises(ValueError, match="nobody"):
        run_drill(load_drill("wet-lot"), PROFILE, MACHINE, "ghost", 1)
