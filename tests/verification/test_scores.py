"""Scores against published vectors and a general-purpose library of proper scores."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import properscoring
import pytest
from best_spread import best_normal_crps, crps_normal
from scipy.stats import binomtest, norm

from coach.forecast.distribution import Distribution
from coach.verification.aggregate import crps, share


def normal(mean: float, sd: float) -> Distribution:
    x = mean + sd * np.linspace(-6, 6, 4801)
    p = norm.cdf(x, mean, sd)
    return Distribution(x, (p - p[0]) / (p[-1] - p[0]))


@pytest.mark.parametrize(
    ("y", "mean", "sd", "expected"),
    [
        (-3.0, 0.0, 1.0, 2.43657473),  # test file of the R package scoringRules
        (-2.9, 0.1, 1.0, 2.43657473),
        (-2.7, 0.0, 0.9, 0.9 * 2.43657473),
        (0.0, 0.0, 1.0, 0.23369498),  # closed form, computed
        (0.5, 0.0, 1.0, 0.33140353),
        (1.0, 0.0, 1.0, 0.60244136),
        (2.0, 0.0, 1.0, 1.45279182),
        (495.0, 480.0, 10.0, 9.94424004),
    ],
)
def test_crps_of_a_normal(y: float, mean: float, sd: float, expected: float) -> None:
    assert float(crps_normal(np.array(mean), sd, np.array(y))) == pytest.approx(expected, abs=2e-8)
    assert crps(normal(mean, sd), y) == pytest.approx(expected, abs=2e-5)


def test_crps_against_properscoring() -> None:
    rng = np.random.default_rng(3)
    mean, sd, y = rng.normal(480, 20, 50), rng.uniform(2, 20, 50), rng.normal(480, 25, 50)
    theirs = properscoring.crps_gaussian(y, mean, sd)
    assert crps_normal(mean, sd, y) == pytest.approx(theirs, rel=1e-9)
    assert [crps(normal(m, s), v) for m, s, v in zip(mean, sd, y, strict=True)] == pytest.approx(theirs, rel=1e-4)


def test_crps_of_a_distribution_on_a_grid_against_many_members() -> None:
    """An ensemble's score (properscoring) tends to that of the distribution its members come from."""
    d = Distribution(np.array([400.0, 430.0, 450.0, 520.0]), np.array([0.0, 0.5, 0.8, 1.0]))
    members = np.array([d.quantile((i + 0.5) / 4000) for i in range(4000)])
    for y in (380.0, 410.0, 447.0, 519.0, 600.0):
        assert crps(d, y) == pytest.approx(float(properscoring.crps_ensemble(y, members)), abs=0.02)


def test_the_mean_crps_of_calibrated_normals() -> None:
    y = np.random.default_rng(5).normal(size=200_000)
    assert float(crps_normal(np.zeros_like(y), 1.0, y).mean()) == pytest.approx(1 / sqrt(pi), abs=0.004)


def test_the_best_spread_of_normal_errors_is_theirs() -> None:
    errors = np.random.default_rng(5).normal(0, 7.0, 50_000)
    score, spread = best_normal_crps(errors)
    assert spread == pytest.approx(7.0, rel=0.02)
    assert score == pytest.approx(7.0 / sqrt(pi), rel=0.02)
    for other in (5.0, 9.0):
        assert float(crps_normal(errors, other, np.zeros_like(errors)).mean()) > score


def test_exact_binomial_limits() -> None:
    """Hits that agree with a claimed share at 95 %, two-sided: n 20: 80 % 12-19; n 100: 80 % 72-88 (exact binomial)."""
    for n, low, high in ((20, 12, 19), (100, 72, 88)):
        inside = [k for k in range(n + 1) if (s := share([True] * k + [False] * (n - k))).low <= 0.8 <= s.high]
        assert abs(inside[0] - low) <= 1
        assert abs(inside[-1] - high) <= 1
    assert share([]).n == 0


def test_binomial_limits_are_those_of_scipy_stats() -> None:
    """Clopper and Pearson's interval against scipy.stats.binomtest, an implementation that isn't ours."""
    for n in (1, 7, 20, 100):
        for k in {0, 1, n // 3, n - 1, n}:
            found, known = share([True] * k + [False] * (n - k)), binomtest(k, n).proportion_ci(0.95, method="exact")
            assert (found.low, found.high) == pytest.approx((known.low, known.high), abs=1e-9)
