"""When a rising path first meets a level: against the law of Brownian motion with drift."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from coach.forecast.event_threshold import crossed


def _first_passage(distance: float, rise: float, jitter: float, t: np.ndarray) -> np.ndarray:
    """P(first passage of ``distance`` K by t): inverse Gaussian of mean a / v and shape (a / s)^2.  Chhikara and Folks,
    The Inverse Gaussian Distribution (1989), chapter 3; scipy's invgauss(mu, scale) has mean mu scale, shape scale."""
    shape = (distance / jitter) ** 2
    return np.asarray(stats.invgauss(distance / rise / shape, scale=shape).cdf(t))


@pytest.mark.parametrize("distance", [2.0, 8.0, 20.0])
@pytest.mark.parametrize(("rise", "jitter"), [(0.08, 0.016), (0.12, 0.03), (0.2, 0.05)])
def test_against_the_inverse_gaussian(distance: float, rise: float, jitter: float) -> None:
    """With a level that is known, for the rises and the jitter of a roast; the rule misses most where it is near."""
    t = np.linspace(1.0, 3 * distance / rise, 400)
    said = crossed((rise * t)[None], (jitter**2 * t)[None], np.ones(1), np.full(400, distance), np.zeros(1))
    assert np.abs(said - _first_passage(distance, rise, jitter, t)).max() < (0.02 if distance < 5 else 0.012)


def test_where_the_path_hardly_rises_it_is_met_sooner_than_said() -> None:
    """The limit of the rule, stated: at a rise of a thousandth of a kelvin a second jitter alone carries it over."""
    t = np.linspace(1.0, 900.0, 400)
    said = crossed((0.001 * t)[None], (0.03**2 * t)[None], np.ones(1), np.full(400, 1.0), np.zeros(1))
    assert (_first_passage(1.0, 0.001, 0.03, t) - said).max() > 0.1


def test_against_paths_drawn_at_random() -> None:
    """A level of normal scatter: 20,000 random walks in steps of a second."""
    rng = np.random.default_rng(7)
    rise, jitter, scatter, count, end = 0.12, 0.02, 0.7, 20_000, 180
    walks = np.cumsum(rise + jitter * rng.normal(size=(count, end)), axis=1)
    levels = 10.0 + scatter * rng.normal(size=(count, 1))
    passed = np.maximum.accumulate(walks, axis=1) >= levels
    t = np.arange(1.0, end + 1)
    said = crossed((rise * t)[None], (jitter**2 * t)[None], np.ones(1), np.full(end, 10.0), np.array([scatter]))
    assert np.abs(said - passed.mean(axis=0)).max() < 0.015
