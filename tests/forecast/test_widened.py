"""A forecast made wider: about its median, never before now, and the odds of an early and a late crack with it."""

from __future__ import annotations

import pytest
from cues.situations import PROFILE, crack, drop
from scipy import stats

from coach.forecast.forecast_values import Forecast
from coach.forecast.predictor import widened


@pytest.mark.parametrize("factor", [1.0, 1.5, 2.0])
@pytest.mark.parametrize("mean", [455.0, 487.0, 520.0])
def test_a_wider_crack_is_early_and_late_as_often_as_the_wider_normal(mean: float, factor: float) -> None:
    """Crack due at 487 s, 20 s allowed either way; odds by scipy's normal distribution."""
    found = widened(Forecast(first_crack=crack(mean, 10.0)), factor, PROFILE).first_crack
    assert found is not None
    assert found.time.median == pytest.approx(mean, abs=0.1)
    assert found.time.quantile(0.9) - mean == pytest.approx(factor * 10.0 * stats.norm.ppf(0.9), abs=0.2)
    assert found.p_early == pytest.approx(stats.norm.cdf(467.0, mean, factor * 10.0), abs=0.005)
    assert found.p_late == pytest.approx(stats.norm.sf(507.0, mean, factor * 10.0), abs=0.005)


def test_a_wider_drop_is_as_hot_in_the_median() -> None:
    before, found = drop(), widened(Forecast(drop=drop()), 2.0, PROFILE).drop
    assert found is not None
    assert found.temperature.median == pytest.approx(before.temperature.median)
    assert found.temperature.sd == pytest.approx(2.0 * before.temperature.sd, rel=0.01)
