"""The development that is shown for each time the flame is put out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm
from test_advice import profile, roasted

from coach.advice.flame_off import development, pulses
from coach.forecast.forecast_values import Path
from coach.forecast.knowledge import DropHabit, Knowledge
from coach.forecast.predictor import Outlook
from coach.forecast.projection import look_ahead


def outlook(knowledge: Knowledge, **habit: float) -> Outlook:
    return Outlook(profile(), replace(knowledge, drop=DropHabit(**habit)), 1.0)


def test_dropped_by_the_clock_it_is_the_plans_with_the_persons_scatter_whenever_the_crack_comes() -> None:
    coach = roasted(430.0)
    o = outlook(coach.knowledge, by_temperature=0.0, development_sd=8.0)
    found = development(o, 430.0, coach.roast, coach.situation.forecast)
    assert found is not None
    assert profile().development == 88.0
    for q in (0.1, 0.5, 0.9):
        assert found.quantile(q) == pytest.approx(norm.ppf(q, 88.0, 8.0), abs=1.0)
    crack = coach.situation.forecast.first_crack
    assert crack is not None
    assert crack.time.spread > found.spread, "when the crack comes is no part of it"


def test_dropped_by_temperature_on_a_straight_way_it_is_the_kelvins_left_over_the_rate() -> None:
    """Normal about (target - level) / rate, with the scatter over the rate, where nothing else varies."""
    coach = roasted(500.0)
    crack = coach.roast.marks["first crack"]
    t = np.arange(500.0, 900.0, 2.0)
    rate, sd = 0.1, 1.5
    path = Path(t, 200.0 + rate * (t - crack), np.full_like(t, 1e-6), np.full_like(t, rate))
    forecast = replace(coach.situation.forecast, path=path)
    o = outlook(coach.knowledge, by_temperature=1.0, temperature_sd=sd)
    found = development(o, 500.0, coach.roast, forecast)
    assert found is not None
    for q in (0.25, 0.5, 0.9):
        assert found.quantile(q) == pytest.approx(norm.ppf(q, (208.6 - 200.0) / rate, sd / rate), abs=1.5)


def test_a_longer_pulse_develops_longer_where_the_drop_is_by_temperature_and_not_by_the_clock() -> None:
    for t in (430.0, 500.0):
        coach = roasted(t)
        by_heat = pulses(outlook(coach.knowledge, by_temperature=1.0), t, coach.roast)[:4]
        by_clock = pulses(outlook(coach.knowledge, by_temperature=0.0), t, coach.roast)[:4]
        heat = [p.development.median for p in by_heat if p.development is not None]
        clock = [p.development.median for p in by_clock if p.development is not None]
        assert len(heat) == len(clock) == 4
        assert heat == sorted(heat)
        assert heat[-1] > heat[0] + 1.0
        assert max(clock) - min(clock) < 0.5


def test_what_has_passed_since_the_crack_has_been_developed() -> None:
    coach = roasted(500.0)
    crack = coach.roast.marks["first crack"]
    late = crack + 120.0
    o = outlook(coach.knowledge, by_temperature=0.5)
    _, forecast = o.at(late, coach.roast)
    found = development(o, late, coach.roast, forecast)
    assert found is not None
    assert found.quantile(0.001) >= 119.0


def test_without_a_way_or_a_crack_nothing_is_said() -> None:
    coach = roasted(430.0)
    o, f = outlook(coach.knowledge), coach.situation.forecast
    assert development(o, 430.0, coach.roast, replace(f, path=None)) is None
    assert development(o, 430.0, coach.roast, replace(f, first_crack=None)) is None


def test_before_the_crack_the_way_is_counted_from_the_level_that_goes_by_the_climb() -> None:
    """A level that rises with the climb of the minute and a half before leaves fewer kelvins to the drop; dropped by
    temperature, that many seconds less at the rate of the way (the climb and the rate at the crack differ here)."""
    coach = roasted(430.0)
    crack = coach.situation.forecast.first_crack
    assert crack is not None
    t = np.arange(430.0, 1000.0, 2.0)
    path = Path(t, 190.0 + 0.1 * (t - 430.0), np.full_like(t, 1e-6), np.full_like(t, 0.1))
    plain = outlook(coach.knowledge, by_temperature=1.0, temperature_sd=0.5)
    medians = []
    for level in (197.0, 199.0):
        forecast = replace(coach.situation.forecast, path=path, first_crack=replace(crack, level=level))
        found = development(plain, 430.0, coach.roast, forecast)
        assert found is not None
        medians.append(found.median)
    assert medians[0] - medians[1] == pytest.approx(2.0 / 0.1, abs=1.5)


def test_the_level_of_a_forecast_is_the_learnt_one_at_its_climb() -> None:
    coach = roasted(430.0)
    threshold = replace(coach.knowledge.thresholds["first crack"], slope=40.0)
    o = Outlook(profile(), replace(coach.knowledge, thresholds={"first crack": threshold}), 1.0)
    schedule = o.plan.schedule(coach.roast, 430.0)
    ahead = look_ahead(o.model, o.state(430.0, coach.roast, schedule), schedule)
    _, forecast = o.at(430.0, coach.roast)
    assert forecast.first_crack is not None
    climbed = np.interp(forecast.first_crack.time.median, ahead.t, ahead.climb)
    assert forecast.first_crack.level == pytest.approx(float(threshold.level(np.array([climbed]))[0]), abs=0.02)
