"""Taps as evidence of the crack before it is called."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from coach.forecast.distribution import Distribution
from coach.forecast.pop_likelihood import RISE, WINDOW, log_likelihood, sharpened
from coach.roast.profile import Taps


def normal(mean: float, sd: float) -> Distribution:
    x = mean + sd * np.linspace(-5, 5, 401)
    p = norm.cdf(x, mean, sd)
    return Distribution(x, (p - p[0]) / (p[-1] - p[0]))


@pytest.mark.parametrize("onset", [430.0, 480.0, 500.0, 540.0])
def test_the_likelihood_against_numeric_integration(onset: float) -> None:
    """Sum of log rates at the taps less the integral of the rate (the likelihood of a Poisson process)."""
    settings, now, taps = Taps(), 500.0, [450.0, 470.0, 495.0]

    def rate(t: float) -> float:
        stray, cracking = settings.stray / 60, settings.cracking / 60
        return stray + (cracking - stray) * float(np.exp(min(t - onset, 0.0) / RISE))

    integral = quad(rate, now - WINDOW, now, points=[min(max(onset, now - WINDOW), now)], epsabs=1e-10)[0]
    expected = sum(np.log(rate(t)) for t in taps) - integral
    assert log_likelihood(np.array([onset]), taps, now, settings)[0] == pytest.approx(expected, abs=1e-6)


def test_without_taps_nothing_changes() -> None:
    before = normal(520.0, 10.0)
    assert sharpened(before, [], 500.0, Taps()) is before
    assert sharpened(before, [300.0], 500.0, Taps()) is before


def test_a_burst_brings_it_nearer_and_narrows_it() -> None:
    before = normal(520.0, 10.0)
    after = sharpened(before, [488.0, 492.0, 494.0, 496.0, 497.5, 499.0], 500.0, Taps())
    assert after.median < before.median - 3
    assert after.p[0] == 0.0
    assert after.p[-1] == pytest.approx(1.0)
    assert (np.diff(after.p) >= 0).all()


def test_one_stray_changes_little() -> None:
    before = normal(520.0, 10.0)
    after = sharpened(before, [440.0], 500.0, Taps())
    assert abs(after.median - before.median) < 3.0
