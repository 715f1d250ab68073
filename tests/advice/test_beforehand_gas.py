"""The first gas setting proposed for another weight."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from helpers import ROOT, example

from coach.advice.charge_temperature import Today
from coach.advice.first_gas import FIRST, OWN_SD, PRIOR, PRIOR_SD, SCATTER, before_charge, days, first_gas, words
from coach.roast.roast import Roast, effective, fold
from coach.session.profile_files import load_profile

PROFILE = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
ROAST = fold(example().header, effective(example().entries))
USUAL = PROFILE.document.batch_kg
CRACK = PROFILE.goals["first crack"].time
PLANNED = next(s for s in PROFILE.steps if s.control == "gas")


def roasts(weights: list[float], gas: list[float], a: float, c: float) -> list[Roast]:
    """Roasts whose time to the crack goes with weight and root of the first gas just as the model says."""
    out = []
    for w, g in zip(weights, gas, strict=True):
        time = CRACK * float(np.exp(a * (w - 1) - c * (np.sqrt(g) - 1)))
        moves = tuple(replace(m, value=PLANNED.value * g) if m.control == "gas" and m.t <= FIRST else m
                      for m in ROAST.moves)  # fmt: skip
        header = ROAST.header.model_copy(update={"batch_kg": w * USUAL})
        out.append(replace(ROAST, header=header, moves=moves, marks={**ROAST.marks, "first crack": time}))
    return out


def test_the_usual_weight_asks_for_nothing_and_far_ones_are_anothers() -> None:
    assert first_gas(PROFILE, USUAL) is None
    assert first_gas(PROFILE, None) is None
    assert first_gas(PROFILE, 0.5 * USUAL) is None


@pytest.mark.parametrize("share", [0.8, 0.85, 1.15, 1.2])
def test_more_weight_asks_for_more_gas_by_the_orifice_law(share: float) -> None:
    """Heat goes as the root of the pressure: undoing ``share`` takes a root changed by a/c of it, shrunk by c's doubt,
    or the end of the gauge's range."""
    found = first_gas(PROFILE, share * USUAL)
    assert found is not None
    assert (found.value > PLANNED.value) == (share > 1)
    assert (found.later > 0) == (share > 1)
    a, c, sd = PRIOR[0], PRIOR[1], PRIOR_SD[1]
    root = 1 + (share - 1) * a * c / (c**2 + sd**2)
    if not found.at_limit:
        assert found.value == pytest.approx(PLANNED.value * root**2, abs=0.051)


def test_own_roasts_teach_what_weight_and_gas_do() -> None:
    """Against ridge regression written out as least squares with rows for the priors (numpy's solver)."""
    weights, gas = [0.8, 0.9, 1.0, 1.1, 1.2, 1.0, 0.9, 1.1], [1.0, 0.9, 1.0, 1.1, 1.0, 0.9, 1.0, 1.0]
    past = roasts(weights, gas, a=0.9, c=0.8)
    known = days(PROFILE, past)
    assert len(known) == 8
    rows = [[x / SCATTER, g / SCATTER, 1 / SCATTER] for (x, g), _ in known]
    rows += [[1 / PRIOR_SD[0], 0, 0], [0, 1 / PRIOR_SD[1], 0], [0, 0, 1 / OWN_SD]]
    right = [y / SCATTER for _, y in known] + [PRIOR[0] / PRIOR_SD[0], PRIOR[1] / PRIOR_SD[1], 0]
    a = float(np.linalg.lstsq(np.array(rows), np.array(right), rcond=None)[0][0])
    before, after = first_gas(PROFILE, 0.85 * USUAL), first_gas(PROFILE, 0.85 * USUAL, past)
    assert before is not None
    assert after is not None
    assert after.later == pytest.approx(CRACK * a * -0.15, rel=1e-6)
    assert after.later < before.later < 0
    assert after.count == 8


def test_what_is_said() -> None:
    said = before_charge(PROFILE, Today(batch_kg=0.85 * USUAL))
    found = first_gas(PROFILE, 0.85 * USUAL)
    assert found is not None
    assert said[0] == words(PROFILE, found)
    assert "our first guess, no roasts of yours" in said[0]
    assert "first gas stays as planned" not in " ".join(said)
    assert not found.at_limit
    assert "the weight" not in said[1], "the charge temperature leaves to the gas what the gas takes"
    assert before_charge(PROFILE, Today())[0].startswith("Charge as the profile says")
