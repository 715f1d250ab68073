"""The level at which an event happens, against numerical integration, least squares and simulation."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate, stats
from scipy.special import ndtr

from coach.forecast.event_threshold import REFERENCE, SCATTER, SCATTER_DF, SLOPE_SD, crossed, learn


def test_the_learnt_level_against_integration_over_the_scatter() -> None:
    """Normal marks, the first of half the others' variance, with an unknown mean (flat) and variance (scaled inverse
    chi-squared, 3 roasts' worth of 0.68 K): the next mark's
    distribution by adaptive quadrature (model: Gelman et al., Bayesian Data Analysis, section 3.3)."""
    levels, s0 = np.array([197.0, 198.2, 196.4]), SCATTER["first crack"]
    learnt = learn("first crack", levels.tolist(), [0.12] * 3)
    shares = np.array([1 / REFERENCE, 1.0, 1.0])

    def prior(v: float) -> float:
        return float(v ** (-SCATTER_DF / 2 - 1) * np.exp(-SCATTER_DF * s0**2 / (2 * v)))

    def over_means(v: float, x: float) -> float:
        def seen(m: float) -> float:
            likelihood = np.exp(-0.5 * np.sum((levels - m) ** 2 / (v * shares))) / v**1.5
            return float(likelihood * ndtr((x - m) / v**0.5))

        return float(integrate.quad(seen, 197.2 - 12 * v**0.5, 197.2 + 12 * v**0.5, points=[197.2])[0])

    def integral(x: float) -> float:
        return float(integrate.quad(lambda v: prior(v) * over_means(v, x), 1e-3, 60.0, limit=200, points=[0.5, 2.0])[0])

    whole = integral(1e6)
    for x in (195.0, 197.0):
        below = integral(x)
        assert stats.t.cdf((x - learnt.centre) / learnt.scale, learnt.df) == pytest.approx(below / whole, abs=1e-4)


def test_the_slope_against_least_squares_with_the_prior_as_one_more_row() -> None:
    """Ridge regression is least squares with a row for the prior (numpy's own solver)."""
    rates = np.array([0.10, 0.12, 0.13, 0.16, 0.09, 0.11])
    levels = 197.0 - 30.0 * (rates - rates[0]) + np.array([0.2, -0.3, 0.1, 0.0, -0.1, 0.1])
    s0 = SCATTER["first crack"]
    rows = np.concatenate([(rates - rates.mean()) / s0, [1 / SLOPE_SD]])
    right = np.concatenate([(levels - levels.mean()) / s0, [0.0]])
    expected = np.linalg.lstsq(rows[:, None], right, rcond=None)[0][0]
    assert learn("first crack", levels.tolist(), rates.tolist()).slope == pytest.approx(expected)
    learnt = learn("first crack", levels.tolist(), rates.tolist())
    assert learnt.slope_sd == pytest.approx(np.linalg.inv(rows[:, None].T @ rows[:, None])[0, 0] ** 0.5)
    alike = learn("first crack", levels.tolist(), [0.12] * len(levels))
    assert (alike.slope, alike.slope_sd) == (0.0, pytest.approx(SLOPE_SD)), "marks at one rate show no slope"


def test_far_from_the_rates_of_the_marks_the_level_is_less_sure() -> None:
    """The variance of a regression line's prediction: that at its middle and the slope's by the distance from there
    (Montgomery, Peck and Vining, Introduction to Linear Regression Analysis, on prediction; from memory)."""
    learnt = learn("first crack", [197.0, 197.2, 196.8, 197.1], [0.10, 0.12, 0.11, 0.15])
    spread = learnt.spread(np.array([0.12, 0.17, 0.07]))
    assert spread[0] == pytest.approx(learnt.scale)
    assert spread[1:] == pytest.approx(np.hypot(learnt.scale, 0.05 * learnt.slope_sd))


def test_many_marks_show_the_slope_whatever_the_prior() -> None:
    rng = np.random.default_rng(1)
    rates = rng.uniform(0.02, 0.4, 400)
    for true in (-35.0, 5.0):
        levels = 197.0 + true * (rates - rates[0]) + rng.normal(0, 0.5, 400)
        learnt = learn("first crack", levels.tolist(), rates.tolist())
        assert learnt.slope == pytest.approx(true, abs=1.0)
        assert learnt.centre == pytest.approx(197.0, abs=0.2), "the level at the reference's own rate"


@pytest.mark.parametrize("off", [-40.0, 40.0])
def test_one_mistaken_mark_hardly_moves_the_level(off: float) -> None:
    """Nine good marks and one 40 K off, either way: three scatters of it count, a tenth each."""
    levels = [197.0, 196.6, 197.4, 197.2, 196.8, 197.0, 197.1, 196.9, 197.0]
    good, bad = (learn("first crack", x, [0.12] * len(x)) for x in (levels, [*levels, 197.0 + off]))
    assert 0.1 < (bad.centre - good.centre) * np.sign(off) < 0.3
    assert good.scale < bad.scale < 1.5


def test_the_level_goes_with_the_rate_within_three_kelvin() -> None:
    learnt = replace(learn("first crack", [197.0], [0.12]), slope=-12.0)
    level = learnt.level(np.array([0.12, 0.17, 0.07, 0.9, -0.9]))
    assert level == pytest.approx([197.0, 196.4, 197.6, 194.0, 200.0])


def test_the_five_normals_stand_for_the_student_t() -> None:
    learnt = learn("first crack", [197.0, 197.5], [0.12, 0.12])
    for x in np.linspace(-4, 4, 17):
        mixture = float(np.mean(stats.norm.cdf(x / learnt.scales(np.array([0.12]))[:, 0])))
        assert mixture == pytest.approx(stats.t.cdf(x / learnt.scale, learnt.df), abs=0.012)


def test_crossed_against_simulation() -> None:
    """Two members of unequal weight, a rising level: the share of drawn ways that lie above a drawn threshold."""
    rng, n = np.random.default_rng(2), 400_000
    mean = np.array([[190.0, 194.0, 198.0, 202.0], [188.0, 191.0, 194.0, 197.0]])
    variance = np.array([[1.0, 2.0, 4.0, 9.0], [0.5, 0.5, 1.0, 2.0]])
    weights, level, scales = np.array([0.7, 0.3]), np.array([196.0, 196.5, 197.0, 197.0]), np.array([0.5, 1.0, 2.5])
    p = crossed(mean, variance, weights, level, scales)
    member = (rng.random(n) > 0.7).astype(int)
    drawn = level + rng.choice(scales, n)[:, None] * rng.normal(size=(n, 1))
    above = mean[member] + np.sqrt(variance[member]) * rng.normal(size=(n, 1)) > drawn
    assert p == pytest.approx(above.mean(axis=0), abs=0.003)


def test_what_was_passed_stays_passed() -> None:
    falling = crossed(np.array([[198.0, 196.0, 190.0]]), np.ones((1, 3)), np.ones(1), np.full(3, 197.0), np.ones(1))
    assert falling[0] > 0.5
    assert falling.tolist() == [falling[0]] * 3
