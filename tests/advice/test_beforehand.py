"""The charge temperature proposed before charge."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from helpers import ROOT, example
from numpy.linalg import lstsq

from coach.advice.charge_temperature import OWN_SD, PRIOR, PRIOR_SD, SCATTER, Today, days, inputs, lines, propose
from coach.app.cli import main
from coach.roast.profile import Profile
from coach.roast.roast import Roast, effective, fold
from coach.session.profile_files import load_profile


def profile() -> Profile:
    return load_profile(str(ROOT / "profiles" / "larch-hill.toml"))


def roast(number: int, hotter: float, batch: float) -> Roast:
    journal = example()
    header = journal.header.model_copy(
        update={"batch_kg": batch, "started": f"2026-11-{number + 1:02d}T08:00:00+00:00", "id": f"r{number}"}
    )
    whole = fold(header, effective(journal.entries))
    return replace(whole, readings=tuple(replace(r, celsius=r.celsius + hotter) for r in whole.readings))


def test_a_usual_day_is_left_alone() -> None:
    found = propose(profile(), Today(0.8, None, None))
    assert found.change == 0.0
    assert "as the profile says" in lines(profile(), found)[0]


def in_a_row(hotter: float) -> list[Roast]:
    """Six roasts, two a morning, the second of each 15 minutes after the first was dropped and so much hotter."""
    out = []
    for n in range(3):
        first, second = roast(n, 0.3 * n, 0.8), roast(n, hotter + 0.3 * n, 0.8)
        assert first.charge_at is not None
        begun = datetime.fromisoformat(first.header.started)
        later = begun + timedelta(seconds=first.charge_at + first.marks["drop"] + 200.0)
        out += [first, replace(second, header=second.header.model_copy(update={"started": later.isoformat()}))]
    return out


def test_a_heavy_batch_asks_for_more_and_what_the_batch_before_does_is_not_sure_until_it_is_learnt() -> None:
    after = propose(profile(), Today(since_drop=60.0))
    heavy = propose(profile(), Today(batch_kg=0.9))
    assert after.change == 0.0
    assert "not surely enough" in lines(profile(), after)[0]
    assert heavy.change > 1
    assert "the batch before" in " ".join(lines(profile(), after))
    assert propose(profile(), Today(since_drop=300.0), in_a_row(6.0)).change < -3
    assert propose(profile(), Today(since_drop=300.0), in_a_row(-6.0)).change > 3
    assert propose(profile(), Today(), in_a_row(6.0)).change == 0.0
    assert "the weight" in " ".join(lines(profile(), heavy))
    assert abs(propose(profile(), Today(batch_kg=1.5)).change) <= 10.0


def test_roasts_that_ran_colder_when_heavier_teach_the_slope() -> None:
    rng = np.random.default_rng(4)
    weights = rng.uniform(0.7, 0.9, 40)
    slope = -80.0  # K for a batch twice as heavy
    past = [roast(i % 28, float(slope * (w / 0.8 - 1) + rng.normal(0, 0.5)), float(w)) for i, w in enumerate(weights)]
    before, after = (propose(profile(), Today(batch_kg=0.88), p).off for p in ([], past))
    truth = slope * 0.1
    assert abs(after - truth) < abs(before - truth)
    assert after == pytest.approx(truth, abs=1.5)


def test_the_regression_against_ordinary_least_squares_on_extended_data() -> None:
    """A normal prior is five more observations (Gelman et al. 2013, 14.8): numpy's least squares on stacked data."""
    rng = np.random.default_rng(2)
    past = [roast(i, float(rng.normal(0, 2)), float(w)) for i, w in enumerate(rng.uniform(0.7, 0.9, 12))]
    known = days(profile(), past)
    X, y = np.array([x for x, _ in known]), np.array([v for _, v in known])
    stacked = np.vstack([np.column_stack([X, np.ones(len(X))]) / SCATTER, np.diag(1 / np.append(PRIOR_SD, OWN_SD))])
    weights = lstsq(stacked, np.concatenate([y / SCATTER, PRIOR / PRIOR_SD, [0.0]]), rcond=None)[0][:4]
    today = Today(0.85, 30.0, 600.0)
    assert propose(profile(), today, past).off == pytest.approx(float(weights @ inputs(profile(), today)), rel=1e-6)


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["charge", "larch-hill", "--since", "2", "--logbook", str(tmp_path)]) == 0
    assert "Charge as the profile says, 222 °C" in capsys.readouterr().out
    assert main(["charge", "larch-hill", "--batch", "0.9", "--logbook", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "instead of 1.6" in said
    assert "Charge as the profile says, 222 °C" in said
    assert "no roasts of yours" in said
    assert main(["charge", "larch-hill", "--batch", "80"]) == 2
    assert "Give the weight in kg" in capsys.readouterr().err
