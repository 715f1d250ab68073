"""The way ahead and what it meets, against the filter itself, simulation and plain arithmetic."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from coach.forecast.control_inputs import Schedule
from coach.forecast.estimator import BankState, Model, advance, observe, start
from coach.forecast.event_threshold import Threshold
from coach.forecast.forecast_values import EventForecast, Forecast
from coach.forecast.learning import from_profile
from coach.forecast.predictor import Outlook
from coach.forecast.projection import HORIZON, Ahead, event, look_ahead, rise_limits
from coach.roast.entries import Event, Header
from coach.roast.profile import Profile
from coach.roast.roast import Probe, Roast, Turned
from coach.session.profile_files import load_profile

PROFILE = load_profile("larch-hill")
CRACK = PROFILE.goals["first crack"].time
"""Crack due at 487 s, drop 88 s after it, turning point about 70 s."""
NO_MOVES = Schedule(np.zeros(0), np.zeros((0, 3)))


def roast(until: float, off: float = 0.0, every: float = 20.0, marks: dict[Event, float] | None = None) -> Roast:
    """Readings on the reference, ``off`` K beside it, with the planned moves made."""
    readings = [
        Probe(float(t), PROFILE.curve.value(t) + off, i + 3, float(t), 0.1)
        for i, t in enumerate(np.arange(40.0, until + 1e-6, every))
    ]
    moves = [Turned(s.time, s.control, s.value, 1, s.shown) for s in PROFILE.steps if s.time <= until]
    called: dict[Event, float] = {"charge": 0.0, **(marks or {})}
    phase = "cooling" if "drop" in called else "development" if "first crack" in called else "browning"
    header = Header(id="x", started="2026-11-02T08:00:00+00:00")
    return Roast(header, 0.0, called, readings=tuple(readings), moves=tuple(moves), phase=phase)  # type: ignore[arg-type]


def forecast(t: float, made: Roast, profile: Profile = PROFILE) -> Forecast:
    """The forecast at ``t``, nothing learnt."""
    return Outlook(profile, from_profile(profile), 0.1).at(t, made)[1]


def dropping(by: str, **target: float) -> Profile:
    """The profile with another rule for drop."""
    rule = PROFILE.document.drop.model_copy(update={"by": by, **target})
    return Profile(PROFILE.document.model_copy(update={"drop": rule}))


# -- the way ahead -----------------------------------------------------------------------------------------------------


def tracked(until: float) -> tuple[Model, BankState]:
    """The filter after readings that run away from the reference."""
    model = Model(from_profile(PROFILE).bank, PROFILE.curve, 0.1)
    state = start(model)
    for i, t in enumerate(np.arange(40.0, until + 1e-6, 20.0)):
        reading = Probe(float(t), PROFILE.curve.value(t) + 0.01 * (t - 40.0), i, float(t), 0.1)
        state = observe(model, advance(model, state, NO_MOVES, float(t)), reading)
    return model, state


@pytest.mark.parametrize("moved", [(0.0, 0.0, 0.0), (0.3, 0.0, 0.0), (-0.4, 0.2, 0.1)])
def test_the_way_ahead_is_where_the_filter_would_go(moved: tuple[float, float, float]) -> None:
    """Two ways of working out the same: all times at once, and the filter's own steps (5 s, no readings)."""
    model, state = tracked(300.0)
    schedule = Schedule(np.array([0.0, 100.0, 342.0]), np.array([[0.0, 0.0, 0.0], [0.1, 0.0, 0.0], moved]))
    ahead = look_ahead(model, state, schedule)
    for seconds in (0.0, 40.0, 80.0, 120.0):
        then = state
        for t in np.arange(state.t + 5.0, state.t + seconds + 1e-6, 5.0):
            then = advance(model, then, schedule, float(t))
        i = int(np.searchsorted(HORIZON, seconds))
        assert ahead.t[i] == then.t
        assert ahead.mean[:, i] - model.curve.value(then.t) == pytest.approx(then.x[:, 0], abs=0.1, rel=0.05)
        # the noise that comes in is exact to first order only: over four minutes it is a fifth too small
        spread = ahead.weights @ np.sqrt(ahead.var[:, i])
        assert spread == pytest.approx(then.weights @ np.sqrt(then.P[:, 0, 0]), rel=1 / 6)
    path = ahead.path
    assert path.mean == pytest.approx(ahead.weights @ ahead.mean)
    assert path.rate[5] == pytest.approx((path.mean[6] - path.mean[4]) / 8.0)


def test_the_spread_of_the_way_ahead_holds_that_of_the_members() -> None:
    """Law of total variance, by drawing members."""
    rng = np.random.default_rng(0)
    ahead = Ahead(np.array([0.0, 1.0]), np.array([[10.0, 10.0], [14.0, 20.0]]), np.array([[1.0, 1.0], [4.0, 4.0]]),
                  np.array([0.25, 0.75]), np.zeros(2))  # fmt: skip
    member = (rng.random(300_000) < 0.75).astype(int)
    drawn = ahead.mean[member] + np.sqrt(ahead.var[member]) * rng.normal(size=(300_000, 1))
    assert ahead.path.sd == pytest.approx(drawn.std(axis=0), rel=0.01)


# -- meeting a level ---------------------------------------------------------------------------------------------------

LEVEL = Threshold(centre=197.0, scale=0.7, df=60.0, slope=0.0, rate_0=0.1, count=1)
NOW = 400.0


def met(
    start_at: float, rate: float, sd: float = 0.5, window: tuple[float, float] | None = None, growth: float = 0.0
) -> EventForecast | str:
    """A straight way from ``start_at`` °C at 400 s, met with a level of 197 °C, 0.7 K wide."""
    t = NOW + HORIZON
    mean = start_at + rate * HORIZON
    ahead = Ahead(t, mean[None], (sd + growth * HORIZON[None]) ** 2, np.ones(1), np.full(len(t), rate))
    return event(ahead, ahead.path, LEVEL, NOW, window)


@pytest.mark.parametrize(("start_at", "rate", "growth"), [(185.0, 0.12, 0.0), (180.0, 0.2, 0.01), (195.8, 0.1, 0.0)])
def test_when_a_level_is_met_against_simulation(start_at: float, rate: float, growth: float) -> None:
    """Ways drawn beside the mean by one normal each, levels drawn too; those that were met over 4 s ago are left out,
    for they would have been marked."""
    said = met(start_at, rate, growth=growth)
    assert isinstance(said, EventForecast)
    rng, n = np.random.default_rng(3), 400_000
    z, level = rng.normal(size=n), 197.0 + 0.7 * rng.standard_t(60.0, n)
    ahead = np.arange(-20.0, 300.0, 0.5)
    met_at = np.full(n, np.inf)
    for s in reversed(ahead):
        met_at[start_at + rate * s + z * (0.5 + growth * max(s, 0.0)) >= level] = s
    kept = met_at[met_at > -4.0]
    for q in (0.1, 0.5, 0.9):
        assert said.time.quantile(q) == pytest.approx(NOW + np.quantile(kept, q), abs=1.6)
    assert said.temperature == pytest.approx(start_at + rate * (said.time.median - NOW), abs=0.3)


def test_the_chances_of_early_and_late_lie_outside_the_window() -> None:
    """Met after 100 s, give or take 0.86 K at 0.12 K/s: the normal's own shares outside."""
    at, spread = NOW + 100.0, np.hypot(0.5, 0.7) / 0.12
    said = met(185.0, 0.12, window=(at - 5.0, at + 12.0))
    assert isinstance(said, EventForecast)
    assert said.p_early == pytest.approx(norm.cdf(-5.0 / spread), abs=0.02)
    assert said.p_late == pytest.approx(norm.sf(12.0 / spread), abs=0.02)
    unknown = met(185.0, 0.12)
    assert isinstance(unknown, EventForecast)
    assert (unknown.p_early, unknown.p_late) == (None, None)


def test_what_can_not_be_said_is_said() -> None:
    assert "hotter than any before" in str(met(200.0, 0.1))
    assert isinstance(met(198.0, 0.1), EventForecast), "a little over the level is no wonder"
    assert "not within 15 minutes" in str(met(150.0, 0.02))
    assert "not within 15 minutes" in str(met(190.0, -0.05))


# -- the roast as a whole ----------------------------------------------------------------------------------------------


def test_ahead_of_and_behind_the_reference() -> None:
    hot, cold = forecast(300.0, roast(300.0, 5.0)), forecast(300.0, roast(300.0, -5.0))
    assert hot.deviation == pytest.approx(5.0, abs=0.7)
    assert cold.deviation == pytest.approx(-5.0, abs=0.7)
    slope = PROFILE.curve.slope(300.0)
    assert hot.lag == pytest.approx(-5.0 / slope, rel=0.25), "hotter: that many seconds ahead"
    assert cold.lag == pytest.approx(5.0 / slope, rel=0.25)
    early, late = hot.first_crack, cold.first_crack
    assert early is not None
    assert late is not None
    assert early.time.median < CRACK - 8.0
    assert late.time.median > CRACK + 8.0
    assert (early.p_early or 0.0) > (early.p_late or 0.0)
    assert (late.p_late or 0.0) > (late.p_early or 0.0)


def test_no_lag_until_the_probe_has_turned() -> None:
    turn = PROFILE.curve.turning_point[0]
    before, after = forecast(turn + 15.0, roast(turn + 15.0)), forecast(turn + 25.0, roast(turn + 25.0))
    assert before.lag is None
    assert after.lag == pytest.approx(0.0, abs=15.0)


def test_old_readings_give_no_forecast_and_the_reason() -> None:
    """Browning asks for one every 30 s; nothing is withheld within two and a half minutes."""
    made = roast(300.0)
    assert forecast(449.0, made).first_crack is not None
    late = forecast(451.0, made)
    assert (late.first_crack, late.drop) == (None, None)
    assert late.reasons == ("no reading for 2:31",)
    assert late.path is not None
    drying = replace(made, phase="drying")
    assert forecast(479.0, drying).first_crack is not None, "three intervals of 60 s"
    assert forecast(481.0, drying).first_crack is None
    none = forecast(60.0, replace(made, readings=()))
    assert none.reasons == ("no reading yet",)
    assert none.path is None


def test_what_was_marked_is_not_forecast() -> None:
    assert forecast(220.0, roast(220.0)).yellow is not None
    assert forecast(220.0, roast(220.0, marks={"yellow": 218.0})).yellow is None
    cracked = forecast(500.0, roast(500.0, marks={"first crack": 490.0}))
    assert (cracked.yellow, cracked.first_crack) == (None, None)
    assert cracked.drop is not None
    dropped = forecast(600.0, roast(580.0, marks={"first crack": 490.0, "drop": 580.0}))
    assert dropped.drop is None


def test_drop_by_ratio_is_due_where_development_has_its_share() -> None:
    """First crack at 480 s and a fifth of the whole roast: 480 / 0.8 = 600 s."""
    profile = dropping("ratio", ratio=0.2)
    knowledge = from_profile(profile)
    alone = replace(knowledge, drop=replace(knowledge.drop, by_temperature=0.0))
    made = roast(500.0, marks={"first crack": 480.0})
    said = Outlook(profile, alone, 0.1).at(500.0, made)[1].drop
    assert said is not None
    assert said.time.median == pytest.approx(600.0, abs=2.5)


@pytest.mark.parametrize("development", [60.0, 120.0])
def test_drop_by_development_is_due_so_long_after_crack(development: float) -> None:
    profile = dropping("development", development=development)
    knowledge = from_profile(profile)
    alone = replace(knowledge, drop=replace(knowledge.drop, by_temperature=0.0))
    marked = Outlook(profile, alone, 0.1).at(500.0, roast(500.0, marks={"first crack": 480.0}))[1].drop
    assert marked is not None
    assert marked.time.median == pytest.approx(480.0 + development, abs=2.5)
    expected = PROFILE.curve.value(480.0 + development)
    assert marked.temperature.median == pytest.approx(expected, abs=1.5)
    coming = Outlook(profile, alone, 0.1).at(400.0, roast(400.0))[1]
    assert coming.drop is not None
    assert coming.first_crack is not None
    assert coming.drop.time.median == pytest.approx(coming.first_crack.time.median + development, abs=5.0)


def test_drop_by_temperature_is_due_where_the_way_meets_it() -> None:
    knowledge = from_profile(PROFILE)
    alone = replace(knowledge, drop=replace(knowledge.drop, by_temperature=1.0, temperature=205.0))
    said = Outlook(PROFILE, alone, 0.1).at(500.0, roast(500.0, marks={"first crack": 487.0}))[1].drop
    assert said is not None
    assert said.time.median == pytest.approx(PROFILE.curve.when(205.0), abs=6.0)
    assert said.temperature.median == pytest.approx(205.0, abs=0.1)
    assert said.temperature.spread == pytest.approx(1.2816 * alone.drop.temperature_sd, rel=0.05)


def test_drop_is_not_foretold_for_what_has_passed() -> None:
    made = roast(640.0, marks={"first crack": 480.0})
    said = forecast(640.0, made).drop
    assert said is not None
    assert said.time.q10 >= 640.0


def test_a_rise_that_dies_or_runs_away_before_drop() -> None:
    """A third of the plan's rise is the floor, about one and a half of it the ceiling."""
    floor, ceiling = rise_limits(PROFILE)
    plan = PROFILE.curve.slope(PROFILE.drop_time - 30.0, 60.0)
    assert floor == pytest.approx(plan / 3, rel=0.08)
    assert ceiling >= max(1.5 * plan, plan + 0.05)

    def from_crack(rate: float, gas: float) -> Forecast:
        made = roast(480.0)
        level = PROFILE.curve.value(480.0)
        more = [Probe(480.0 + s, level + rate * s, 100 + i, 480.0 + s, 0.1) for i, s in enumerate((10, 20, 30, 40, 50))]
        moves = (*made.moves, Turned(485.0, "gas", gas, 90, gas))
        told = replace(made, readings=(*made.readings, *more), moves=moves, phase="development")
        return forecast(530.0, replace(told, marks={"charge": 0.0, "first crack": 485.0}))

    planned = next(s.value for s in reversed(PROFILE.steps) if s.control == "gas")
    dying, steady, racing = from_crack(0.5 * plan, 0.0), from_crack(plan, planned), from_crack(ceiling, 2.4)
    assert (dying.stall or 0.0) > 0.5 > 0.1 > (dying.racing or 0.0)
    assert (steady.stall or 0.0) < 0.1
    assert (steady.racing or 0.0) < 0.1
    assert (racing.racing or 0.0) > 0.5 > 0.1 > (racing.stall or 0.0)
    assert forecast(400.0, roast(400.0)).stall is not None, "before crack, too: from the drop that is foreseen"
