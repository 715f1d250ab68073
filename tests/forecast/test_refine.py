"""What several roasts say of the reference: against conditioning of a joint normal, and on an error that is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from coach.forecast.reference_correction import (
    DAY_LEVEL_SD,
    DAY_SD,
    DAY_SPAN,
    FURTHEST,
    SHARED_SD,
    SHARED_SPAN,
    Rest,
    matern,
    refined,
    shared,
)
from coach.roast.curve import Curve


def _day(rng: np.random.Generator, error: Curve | None = None) -> Rest:
    t = np.sort(rng.uniform(60, 600, 18))
    own = DAY_LEVEL_SD * rng.normal() + np.interp(t, [60, 330, 600], DAY_SD * 0.5 * rng.normal(size=3))
    y = own + 0.4 * rng.normal(size=len(t)) + (0.0 if error is None else error.at(t))
    return Rest(t, y, np.zeros(len(t)), np.full(len(t), 0.16))


def test_it_is_the_conditional_mean_of_the_joint_normal() -> None:
    """Mardia, Kent and Bibby, Multivariate Analysis (1979), 3.2.4: E[g | y] = S_gy S_yy^-1 y, here by a partition of
    the precision matrix of (g, y) instead of a solve with S_yy."""
    rng = np.random.default_rng(1)
    rests = [_day(rng), _day(rng)]
    at = np.array([100.0, 300.0, 500.0])
    t = np.concatenate([r.t for r in rests])
    day = np.repeat([0, 1], [len(r.t) for r in rests])
    every = np.concatenate([at, t])
    joint = SHARED_SD**2 * matern(every[:, None] - every, SHARED_SPAN)
    own = (day[:, None] == day) * (DAY_LEVEL_SD**2 + DAY_SD**2 * matern(t[:, None] - t, DAY_SPAN))
    joint[3:, 3:] += own + np.diag(np.concatenate([r.variance for r in rests]))
    precision = np.linalg.inv(joint)
    expected = -np.linalg.solve(precision[:3, :3], precision[:3, 3:] @ np.concatenate([r.rest for r in rests]))
    assert shared(rests, at) == pytest.approx(expected, abs=1e-6)


def test_a_matern_correlation() -> None:
    """Rasmussen and Williams 2006, equation 4.17 at r = l: (1 + sqrt 3) exp(-sqrt 3) = 0.4834."""
    assert matern(np.array([0.0, 50.0]), 50.0) == pytest.approx([1.0, 0.4834], abs=1e-4)


def test_an_error_that_all_roasts_share_is_found_and_a_days_own_is_not() -> None:
    rng = np.random.default_rng(2)
    error = Curve((0.0, 250.0, 330.0, 410.0, 700.0), (0.0, 0.0, 1.0, 0.0, 0.0))
    curve = Curve((0.0, 80.0, 200.0, 400.0, 640.0), (200.0, 90.0, 130.0, 175.0, 212.0))
    rests = [_day(rng, error) for _ in range(16)]
    grid = np.arange(150.0, 600.0, 10.0)
    found = refined(curve, rests).at(grid) - curve.at(grid)
    assert np.sqrt(np.mean((found - error.at(grid)) ** 2)) < 0.6 * np.sqrt(np.mean(error.at(grid) ** 2))
    assert 320.0 <= grid[np.argmax(found)] <= 340.0
    one = refined(curve, [replace(rests[0], off=rests[0].off + 8.0)])
    assert np.abs(one.at(grid) - curve.at(grid)).max() < 1.2  # one day eight kelvins off is mostly that day's own


def test_what_stands_before_the_turning_point_and_without_roasts_stays() -> None:
    curve = Curve((0.0, 80.0, 200.0, 400.0, 640.0), (200.0, 90.0, 130.0, 175.0, 212.0))
    assert refined(curve, []) is curve
    rng = np.random.default_rng(3)
    late = refined(curve, [_day(rng, Curve((0.0, 700.0), (1.0, 1.0))) for _ in range(5)])
    assert late.value(40.0) == pytest.approx(curve.value(40.0), abs=1.0)
    assert late.turning_point[1] == pytest.approx(90.0, abs=1.0)


def test_a_rest_that_is_absurd_counts_no_more_than_a_large_one() -> None:
    rng = np.random.default_rng(4)
    rests = [_day(rng) for _ in range(3)]
    at = np.arange(100.0, 600.0, 50.0)
    absurd, large = rests[0].rest.copy(), rests[0].rest.copy()
    absurd[9], large[9] = 1e6, FURTHEST
    assert shared([replace(rests[0], off=absurd), *rests[1:]], at) == pytest.approx(
        shared([replace(rests[0], off=large), *rests[1:]], at)
    )
