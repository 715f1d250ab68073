"""How likely a roast stalls or races before drop: from the readings as typed, also those that the filter kept out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal

import coach.forecast.predictor
from coach.forecast import stall_and_race
from coach.forecast.distribution import Distribution
from coach.forecast.estimator import BankState, start
from coach.forecast.forecast_values import Forecast
from coach.forecast.learning import from_profile
from coach.forecast.predictor import Outlook
from coach.forecast.projection import look_ahead, reach, rise_limits
from coach.roast.entries import Header
from coach.roast.roast import Probe, Roast, Turned
from coach.session.profile_files import load_profile

PROFILE = load_profile("larch-hill")
HEADER = Header(id="x", started="2026-11-02T08:00:00+00:00")
CRACK = 487.0
PLAN = PROFILE.curve.slope(PROFILE.drop_time - 30.0, 60.0)


def roast(*after: tuple[float, float]) -> Roast:
    """On plan to 8:20, then other readings (seconds after the crack, °C off the plan); all planned moves made."""
    told = [(float(t), 0.0) for t in range(40, 501, 20)] + [(CRACK + s, off) for s, off in after]
    readings = tuple(
        Probe(t, float(round(PROFILE.curve.value(t) + off)), i + 2, t, 0.0) for i, (t, off) in enumerate(told)
    )
    moves = tuple(Turned(s.time, s.control, s.value, 900 + i, s.shown) for i, s in enumerate(PROFILE.steps))
    marks = {"charge": 0.0, "first crack": CRACK}
    return Roast(HEADER, 0.0, marks, readings=readings, moves=moves, phase="development")  # type: ignore[arg-type]


def said(made: Roast, t: float) -> tuple[float, float, Forecast]:
    """Stall and race, and the forecast, at ``t`` seconds after the crack."""
    forecast = Outlook(PROFILE, from_profile(PROFILE), 1.0).at(CRACK + t, made, asking=False)[1]
    assert forecast.stall is not None
    assert forecast.racing is not None
    return forecast.stall, forecast.racing, forecast


def test_a_flame_that_went_out_without_a_word_is_seen_by_two_readings_though_the_filter_keeps_them_out() -> None:
    falls = roast((22, -1.5), (50, -7.0))
    outlook = Outlook(PROFILE, from_profile(PROFILE), 1.0)
    estimate, forecast = outlook.at(CRACK + 51, falls, asking=False)
    assert estimate is not None
    assert estimate.doubtful, "the filter takes a reading for mistyped"
    assert (forecast.stall or 0.0) > 0.7 > 0.1 > (forecast.racing or 1.0)


def test_a_rise_that_runs_away_without_a_word() -> None:
    stall, racing, _ = said(roast((33, 4.0), (50, 8.0)), 51.0)
    assert racing > 0.7 > 0.05 > stall


@pytest.mark.parametrize("off", [-20.0, 20.0, -90.0, -185.0])
def test_one_mistyped_reading_is_no_stall_and_no_race(off: float) -> None:
    stall, racing, _ = said(roast((30, 0.0), (50, off)), 51.0)
    assert max(stall, racing) < 0.4
    stall, racing, _ = said(roast((15, 0.0), (33, off), (50, 0.0)), 51.0)
    assert max(stall, racing) < 0.1


@pytest.mark.parametrize(("one", "other"), [(-185.0, -185.0), (-185.0, -22.0), (-22.0, 9.0)])
def test_two_mistyped_readings_are_no_stall_and_no_race(one: float, other: float) -> None:
    for told in ([(15, one), (33, other), (50, 0.0)], [(15, 0.0), (33, one), (50, other)]):
        stall, racing, forecast = said(roast(*told), 51.0)
        assert max(stall, racing) < 0.4
        assert forecast.risen_by is not None
    assert max(said(roast((15, one), (33, other), (50, 0.0), (60, 0.0)), 61.0)[:2]) < 0.1


def test_what_it_rests_on_is_the_newest_reading_that_is_believed() -> None:
    sound = roast((15, 0.0), (33, 0.0), (50, 0.0))
    mistyped = roast((15, 0.0), (33, 0.0), (50, -150.0))
    assert said(sound, 51.0)[2].risen_by == sound.readings[-1].line
    assert said(mistyped, 51.0)[2].risen_by == mistyped.readings[-2].line


def test_on_plan_it_neither_stalls_nor_races_and_is_never_quite_sure_ahead() -> None:
    stall, racing, _ = said(roast((15, 0.0), (33, 0.0), (50, 0.0)), 51.0)
    assert stall < 0.05
    assert racing < 0.05
    early, _, _ = said(roast(), 15.0)
    assert 0.002 < early < 0.2, "what may still be done to the heat is in it"


def test_a_dial_that_stands_still_may_be_stuck() -> None:
    at = PROFILE.curve.value(CRACK + 13.0)
    same = tuple((float(s), at - PROFILE.curve.value(CRACK + s)) for s in (33, 50, 60))
    stands, _, forecast = said(roast(*same), 61.0)
    assert any("stuck" in word for word in forecast.odd)
    assert 0.01 < stands < 0.5
    moves = tuple((s, off - 0.6 * i) for i, (s, off) in enumerate(same, 1))
    stalls, _, _ = said(roast(*moves), 61.0)
    assert stalls > 0.7, "one that falls by a degree or two isn't stuck"


def test_a_dial_that_stands_where_the_gas_was_put_out_and_logged_is_a_stall() -> None:
    at = PROFILE.curve.value(CRACK + 13.0)
    made = roast(*((float(s), at + 0.4 - PROFILE.curve.value(CRACK + s)) for s in (33, 50)))
    out = replace(made, moves=(*made.moves, Turned(CRACK + 3.0, "gas", 0.0, 990, 0.0)))
    assert said(out, 51.0)[0] > 0.7
    assert said(out, 51.0)[0] > said(made, 51.0)[0]


def test_a_change_of_heat_ends_with_the_next_move_that_is_logged() -> None:
    hot = roast((-20, 5.0), (0, 8.0), (15, 9.0))
    planned = [m for m in hot.moves if m.control == "gas" and m.t < CRACK]
    off = replace(hot, moves=(*hot.moves, replace(planned[-1], t=CRACK + 14.0, line=990)))
    assert said(off, 16.0)[1] < said(hot, 16.0)[1]


def test_nothing_is_said_of_a_drop_far_ahead() -> None:
    early = roast().until(200.0)
    forecast = Outlook(PROFILE, from_profile(PROFILE), 1.0).at(200.0, early, asking=False)[1]
    assert forecast.drop is not None
    assert forecast.drop.time.median - 200.0 > coach.forecast.predictor.FURTHEST
    assert (forecast.stall, forecast.racing) == (None, None)


def test_a_reading_every_second_costs_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    counts = []

    def spy(model: object, base: object, schedule: object, readings: tuple[Probe, ...], *rest: object) -> object:
        counts.append(len(readings))
        return stall_and_race.Risen(0.0, 0.0, None)

    monkeypatch.setattr(coach.forecast.predictor, "chances", spy)
    said(roast(*((float(s), 0.0) for s in range(14, 60))), 61.0)
    assert counts == [stall_and_race.MOST]


def test_it_starts_from_the_filter_before_the_readings_that_are_taken_once_more(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    taken = []

    def spy(model: object, base: BankState, schedule: object, readings: tuple[Probe, ...], *rest: object) -> object:
        taken.append((base, readings))
        return stall_and_race.Risen(0.0, 0.0, None)

    monkeypatch.setattr(coach.forecast.predictor, "chances", spy)
    made = roast((15, 0.0), (33, 0.0), (50, 0.0))
    outlook = Outlook(PROFILE, from_profile(PROFILE), 1.0)
    outlook.at(CRACK + 51.0, made, asking=False)
    base, readings = taken[0]
    assert 0 < len(readings) <= stall_and_race.MOST
    assert readings[0].t >= CRACK + 51.0 - stall_and_race.BACK
    assert readings == made.readings[-len(readings) :]
    before = made.readings[-len(readings) - 1]
    assert base.t == before.t
    then = made.until(before.t)
    filtered = Outlook(PROFILE, from_profile(PROFILE), 1.0).state(before.t, then, outlook.plan.schedule(then, before.t))
    assert np.array_equal(base.x, filtered.x)


def test_without_bends_and_slips_it_is_the_conditional_normal(monkeypatch: pytest.MonkeyPatch) -> None:
    """The rise given readings, worked out from the joint density on a grid instead of by conditioning."""
    monkeypatch.setattr(stall_and_race, "HAZARD", 1e-12)
    monkeypatch.setattr(stall_and_race, "SLIP", 1e-12)
    monkeypatch.setattr(stall_and_race, "DROPS", (0.5,))
    outlook = Outlook(PROFILE, from_profile(PROFILE), 1.0)
    made = roast((25, -2.0))
    schedule = outlook.plan.schedule(made, CRACK + 26)
    base = outlook.state(CRACK - 27.0, made, schedule)
    reading = made.readings[-1]
    end = PROFILE.drop_time
    drop = Distribution(np.array([end - 0.01, end + 0.01]), np.array([0.0, 1.0]))
    got = stall_and_race.chances(outlook.model, base, schedule, (reading,), CRACK + 26, PROFILE, drop)
    t = np.array([reading.t, end - 60.0, end])
    mean, cov = stall_and_race.trajectory(outlook.model, base, schedule, t)
    bend = stall_and_race.SWAY * PLAN * stall_and_race.bent(t - base.t)
    cov = cov + np.outer(bend, bend)
    to = np.array([[1.0, 0.0, 0.0], [0.0, -1.0, 1.0]])
    noise = float(base.weights @ outlook.model.noise(reading.t))
    joint = multivariate_normal(to @ mean, to @ cov @ to.T + np.diag([noise, 0.0]))
    grid = np.linspace(-30.0, 30.0, 6001)
    p = joint.pdf(np.stack([np.full(len(grid), reading.celsius - PROFILE.curve.value(reading.t)), grid], axis=1))
    rise = grid + PROFILE.curve.value(end) - PROFILE.curve.value(end - 60.0)
    floor, ceiling = rise_limits(PROFILE)
    assert got.stall == pytest.approx(p[rise < 60 * floor].sum() / p.sum(), abs=0.005)
    assert got.racing == pytest.approx(p[rise > 60 * ceiling].sum() / p.sum(), abs=0.005)


def test_what_readings_are_worth_without_some_is_the_density_of_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    """By blocks of the inverse, against scipy's multivariate normal of the readings that are left."""
    monkeypatch.setattr(stall_and_race, "NEVER", np.inf)
    rng = np.random.default_rng(5)
    n, c = 5, 3
    root = rng.normal(size=(c, n, n))
    cov = root @ root.transpose(0, 2, 1) + np.eye(n)
    y = rng.normal(size=n) * 2.0
    inverse = np.linalg.inv(cov)
    whole = np.array([multivariate_normal(np.zeros(n), m).logpdf(y) for m in cov])
    bend, out, log_w = stall_and_race.slips(whole, inverse, inverse @ y)
    assert len(log_w) == c * (1 + 5 + 10)
    odds = np.log(stall_and_race.SLIP / (1 - stall_and_race.SLIP) / stall_and_race.SLIP_RANGE)
    for b, gone, log in zip(bend, out, log_w, strict=True):
        stay = ~gone
        left = multivariate_normal(np.zeros(stay.sum()), cov[b][np.ix_(stay, stay)])
        assert log == pytest.approx(left.logpdf(y[stay]) + gone.sum() * odds)


def test_its_way_is_that_of_the_forecast() -> None:
    """Mean and variance of the way, from charge on, as the fan on the chart has them."""
    outlook = Outlook(PROFILE, from_profile(PROFILE), 1.0)
    state, schedule = start(outlook.model), outlook.plan.schedule(roast(), 0.0)
    ahead = look_ahead(outlook.model, state, schedule)
    e, row, doubt, noise = reach(outlook.model, state, schedule, ahead.t)
    assert np.allclose(ahead.mean - outlook.model.curve.at(ahead.t), e)
    assert np.allclose(ahead.var, np.einsum("mhi,mij,mhj->mh", row, state.P, row) + noise + doubt)
    t = np.array([30.0, 90.0])
    mean, cov = stall_and_race.trajectory(outlook.model, state, schedule, t)
    assert np.interp(t, ahead.t, ahead.path.mean - outlook.model.curve.at(ahead.t)) == pytest.approx(mean, abs=0.2)
    assert np.sqrt(np.diag(cov)) == pytest.approx(np.interp(t, ahead.t, ahead.path.sd), rel=0.1)
    assert cov[0, 1] == pytest.approx(cov[1, 0])


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("seed", range(40))
def test_whatever_is_typed_the_odds_are_odds(seed: int) -> None:
    """Readings of one moment, slips, none at all, moves left out, a drop that is overdue."""
    rng = np.random.default_rng(seed)
    t = float(rng.uniform(300.0, 640.0))
    made = roast()
    readings = [r for r in made.readings if r.t < t - rng.choice([0.0, 60.0])]
    at = t - 20.0
    for i in range(int(rng.integers(0, 12))):
        at = min(at + float(rng.choice([0.0, 0.1, 1.0, 5.0])), t)
        near = PROFILE.curve.value(at) + float(rng.normal(0.0, 3.0))
        readings.append(Probe(at, float(rng.choice([near, rng.uniform(-40.0, 400.0)])), 500 + i, at, 0.0))
    moves = tuple(m for m in made.moves if m.t < t and rng.random() < 0.7)
    marks = {k: v for k, v in made.marks.items() if k == "charge" or v < t}
    seen = replace(made, marks=marks, moves=moves, readings=tuple(sorted(readings, key=lambda r: r.t)))
    forecast = Outlook(PROFILE, from_profile(PROFILE), 1.0).at(t, seen, asking=False)[1]
    for p in (forecast.stall, forecast.racing):
        assert p is None or 0.0 <= p <= 1.0
