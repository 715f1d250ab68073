"""How far the forecast looks, and what is said of what lies beyond: on roasts that keep to their plan."""

from __future__ import annotations

import numpy as np
import pytest
from helpers import ROOT
from scipy.stats import norm

from coach.forecast.forecast_values import READ_BEFORE, Forecast
from coach.forecast.projection import AT_DROP
from coach.roast.entries import Entry, Header, Mark, Reading
from coach.session.coach import Coach
from coach.session.profile_files import load_profile

PROFILE = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
CRACK = PROFILE.goals["first crack"].time


def followed(until: float, off: float = 0.0, after: float | None = None) -> Forecast:
    """The forecast at roast time ``until`` (s), or ``after``, with readings every 30 s on the reference, or ``off`` K
    beside it."""
    coach = Coach(PROFILE, Header(id="x", started="2026-11-02T08:00:00+00:00"))
    told: list[Entry] = [Mark(at=60.0, event="charge")]
    told += [
        Reading(at=60.0 + t, temperature=round(PROFILE.curve.value(t) + off, 1)) for t in range(30, int(until) + 1, 30)
    ]
    for entry in told:
        coach.advance(entry.at)
        coach.receive(entry)
    coach.advance(60.0 + (until if after is None else after))
    return coach.situation.forecast


@pytest.mark.parametrize("now", [90.0, 150.0, 300.0])
def test_on_plan_crack_is_foreseen_where_the_plan_has_it_however_far_ahead(now: float) -> None:
    """At 1:30 it is more than six minutes away, and still said."""
    said = followed(now)
    assert said.first_crack is not None
    assert said.path is not None
    assert said.path.t[-1] >= now + 900.0
    assert said.first_crack.time.median == pytest.approx(CRACK, abs=25.0)
    assert said.first_crack.time.q10 < CRACK < said.first_crack.time.q90
    p_early, p_late = said.first_crack.p_early, said.first_crack.p_late
    assert p_early is not None
    assert p_late is not None
    assert 0.0 <= p_early <= 0.5
    assert 0.0 <= p_late <= 0.5


def test_the_nearer_the_surer() -> None:
    widths = []
    for now in (120.0, 240.0, 360.0, 450.0):
        crack = followed(now).first_crack
        assert crack is not None
        widths.append(crack.time.q90 - crack.time.q10)
    assert widths == sorted(widths, reverse=True)


def test_hotter_is_sooner_and_cooler_later_by_the_plans_own_slope() -> None:
    """Just before the crack there is no time to come back: 2 K are about 2 K over the plan's rate of rise."""
    now = CRACK - 37.0
    early, on, late = (followed(now, off).first_crack for off in (2.0, 0.0, -2.0))
    assert early is not None
    assert on is not None
    assert late is not None
    rate = PROFILE.curve.slope(CRACK, 60.0)
    for shift in (on.time.median - early.time.median, late.time.median - on.time.median):
        assert 0.6 * 2.0 / rate < shift < 1.3 * 2.0 / rate
    assert early.time.median < on.time.median < late.time.median


def test_when_readings_stop_nothing_is_foreseen_and_the_reason_counts_the_time() -> None:
    every = PROFILE.document.cadence.drying  # yellow is not marked
    assert every == 60.0
    assert followed(240.0, after=240.0 + 3 * every - 5.0).first_crack is not None
    silent = followed(240.0, after=240.0 + 3 * every + 5.0)
    assert silent.first_crack is None
    assert silent.drop is None
    assert silent.reasons == ("no reading for 3:05",)
    assert silent.path is not None
    nothing = Coach(PROFILE, Header(id="x", started="2026-11-02T08:00:00+00:00"))
    nothing.receive(Mark(at=60.0, event="charge"))
    nothing.advance(100.0)
    assert nothing.situation.forecast.reasons == ("no reading yet",)
    assert nothing.situation.forecast.path is None


def test_the_drop_is_a_mixture_of_dropping_by_time_and_by_temperature() -> None:
    """Crack marked on plan, half a minute ago: half is N(what is typed of the way at crack + development, its spread
    and the dial's), half is N(target, 1.5 K), by the normal distribution."""
    coach = Coach(PROFILE, Header(id="x", started="2026-11-02T08:00:00+00:00"))
    told: list[Entry] = [Mark(at=60.0, event="charge"), Mark(at=60.0 + CRACK, event="first crack")]
    told += [Reading(at=60.0 + t, temperature=round(PROFILE.curve.value(t), 1)) for t in range(30, 511, 30)]
    for entry in sorted(told, key=lambda e: e.at):
        coach.advance(entry.at)
        coach.receive(entry)
    coach.advance(60.0 + 515.0)
    said, end = coach.situation.forecast, CRACK + (PROFILE.development or 0.0)
    assert said.drop is not None
    assert said.path is not None
    mean, sd = (float(np.interp(end + READ_BEFORE, said.path.t, x)) for x in (said.path.mean, said.path.sd))
    for x in np.arange(205.0, 213.0, 0.5):
        by_time, by_heat = norm.cdf(x, mean, np.hypot(sd, AT_DROP)), norm.cdf(x, PROFILE.drop_temperature, 1.5)
        assert said.drop.temperature.cdf(float(x)) == pytest.approx(0.5 * (by_time + by_heat), abs=0.01)
    assert said.drop.time.median == pytest.approx(end, abs=6.0)
