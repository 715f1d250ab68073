"""The stored points against the library that made them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import chi2, norm, qmc

from coach.forecast.bank import SOBOL, prior_bank
from coach.forecast.event_threshold import NODES, Threshold


def test_the_stored_points_are_those_of_the_library() -> None:
    try:
        made = qmc.Sobol(9, scramble=True, rng=np.random.default_rng(7)).random(16)
    except TypeError:
        pytest.skip("this version of scipy names the generator otherwise")
    assert np.array_equal(SOBOL, made)


def test_they_are_spread_evenly() -> None:
    for count in (4, 16):  # a Sobol sequence: one point in each of the first 2^k intervals of every axis
        cells = np.floor(SOBOL[:count] * count).astype(int)
        assert all(len(set(column)) == count for column in cells.T)


def test_the_bank_goes_through_the_quantiles() -> None:
    assert np.allclose(prior_bank().z[1:], 0.9 * norm.ppf(SOBOL[:15]), rtol=0, atol=1e-12)
    assert not prior_bank().z[0].any()


def test_the_mixture_for_a_student_t_is_by_quantiles_of_chi_square() -> None:
    t = Threshold(centre=197.0, scale=2.0, df=4.0, slope=0.0, rate_0=0.15, count=3)
    assert np.allclose(t.scales(np.array([0.15]))[:, 0], 2.0 / np.sqrt(chi2.ppf(NODES, 4.0) / 4.0), rtol=1e-12)
