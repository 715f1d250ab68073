"""The stored points against the library that made them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import chi2, norm, qmc

from coach.forecast.bank import normal_points
from coach.forecast.event_threshold import NODES, Threshold
from coach.forecast.sobol import SOBOL


def test_the_stored_points_are_those_of_the_library() -> None:
    try:
        made = qmc.Sobol(9, scramble=True, rng=np.random.default_rng(7)).random(16)
    except TypeError:
        pytest.skip("this version of scipy names the generator otherwise")
    assert np.array_equal(np.array(SOBOL) / 2**30, made)


def test_they_are_spread_evenly() -> None:
    points = np.array(SOBOL) / 2**30
    for count in (4, 16):  # a Sobol sequence: one point in each of the first 2^k intervals of every axis
        cells = np.floor(points[:count] * count).astype(int)
        assert all(len(set(column)) == count for column in cells.T)


@pytest.mark.parametrize("count", [1, 4, 16])
def test_normal_points_go_through_the_quantiles(count: int) -> None:
    points = np.array(SOBOL)[:count] / 2**30
    assert np.allclose(normal_points(count), norm.ppf(np.clip(points, 1e-4, 1 - 1e-4)), rtol=0, atol=1e-12)


def test_there_are_no_more_than_are_stored() -> None:
    with pytest.raises(ValueError):
        normal_points(17)


def test_the_mixture_for_a_student_t_is_by_quantiles_of_chi_square() -> None:
    t = Threshold(centre=197.0, scale=2.0, df=4.0, slope=0.0, rate_0=0.15, count=3)
    assert np.allclose(t.scales(np.array([0.15]))[:, 0], 2.0 / np.sqrt(chi2.ppf(NODES, 4.0) / 4.0), rtol=1e-12)
