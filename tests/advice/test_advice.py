"""Advice: how far to turn the gas, when it takes effect, and when to keep quiet."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from helpers import ROOT, example
from scipy.integrate import solve_ivp
from scipy.stats import norm

from coach.advice.advice_values import Advice
from coach.advice.advise import SETTLE, advise, sensitivity
from coach.forecast.bank import CENTRE, K_LOWEST, SPREAD, Bank, prior_bank
from coach.forecast.control_inputs import Schedule, input_of
from coach.forecast.distribution import Distribution
from coach.forecast.estimator import Model, start
from coach.forecast.gas_answer import FAST, MEMBERS, GasAnswer, by_size, evidence, moved, per_unit
from coach.forecast.predictor import Outlook
from coach.forecast.projection import look_ahead
from coach.roast.curve import Curve
from coach.roast.entries import Header, Move, Reading
from coach.roast.gauges import Gauge
from coach.roast.profile import PlannedMove, Profile
from coach.roast.roast import Probe, Roast
from coach.session.coach import Coach
from coach.session.profile_files import load_profile


def profile() -> Profile:
    return load_profile(str(ROOT / "profiles" / "larch-hill.toml"))


def roasted(until: float, hotter: float = 0.0, after: float = 150.0) -> Coach:
    """The bundled roast up to a roast time, its readings hotter by some degrees from ``after`` on, gently coming in."""
    journal = example()
    coach = Coach(profile(), journal.header)
    charge = next(n.entry.at for n in journal.entries if getattr(n.entry, "event", "") == "charge")
    for n in journal.entries:
        t = n.entry.came - charge
        if t > until:
            break
        entry = n.entry
        if isinstance(entry, Reading) and t > after:
            entry = entry.model_copy(
                update={"temperature": round(entry.temperature + hotter * min((t - after) / 60, 1))}
            )
        coach.advance(entry.came)
        coach.receive(entry, n.line)
    coach.advance(charge + until)
    return coach


def spread(middle: float, sd: float = 12.0) -> Distribution:
    x = middle + sd * np.linspace(-4.0, 4.0, 81)
    return Distribution(x, np.asarray(norm.cdf(x, middle, sd)))


def enter(coach: Coach, entry: Move | Reading) -> Advice | None:
    coach.advance(entry.at)
    coach.receive(entry)
    return coach.situation.advice


# -- checks from outside -----------------------------------------------------------------------------------------------


def test_heat_goes_as_the_root_of_pressure_as_in_the_orifice_table() -> None:
    """BCcampus, Plumbing Apprenticeship (3rd ed.), Appendix 2: natural gas through a no. 70 drill, ft³/h, at
    1, 3, 3.5, 4 and 7 inches of water."""
    table = {1.0: 1.187, 3.0: 2.055, 3.5: 2.220, 4.0: 2.373, 7.0: 3.139}
    for pressure, flow in table.items():
        assert input_of("gas", pressure / 7.0) == pytest.approx(flow / table[7.0], abs=4e-4)


def one_lag() -> tuple[Model, float, float]:
    """A model whose deviation neither fades nor grows, with one lag; its lag (s) and gain."""
    bank = prior_bank(1)
    z = bank.z.copy()
    z[0, 3] = 60.0  # all of the heat on the fast path
    z[0, 8] = np.log(-K_LOWEST / CENTRE[8]) / SPREAD[8]  # k_late = 0
    model = Model(Bank(z, bank.weights), Curve((0.0, 900.0), (240.0, 300.0)), 1.0)
    return model, float(model.tau[0, 0]), 0.3


def test_a_step_of_the_gas_against_the_closed_form_of_lag_and_integrator() -> None:
    """y(t) = K u (t - tau (1 - exp(-t / tau))): step response of a first-order lag before an integrator (Ogata, Modern
    Control Engineering, on step responses; from memory)."""
    model, tau, gain = one_lag()
    state = replace(start(model), t=300.0, x=np.array([[0.0, 0.0, gain, 0.0, 0.0]]))
    schedule = Schedule(np.array([0.0, 300.0]), np.array([[0.0, 0, 0], [-0.2, 0, 0]]))
    ahead = look_ahead(model, state, schedule)
    t = ahead.t - 300.0
    expected = -0.2 * gain * (t - tau * (1 - np.exp(-t / tau)))
    assert ahead.mean[0] - model.curve.at(ahead.t) == pytest.approx(expected, abs=0.02)


def test_what_a_step_does_to_the_probe_against_scipys_integration() -> None:
    """The stated equations, e' = g phi with two lags, by scipy.integrate.solve_ivp, for members far apart."""
    times = np.array([20.0, 60.0, 150.0, 300.0])
    found = per_unit(times)
    for i in (0, len(found) // 2 + 7, len(found) - 1):
        g, share, lag = (float(x[i]) for x in MEMBERS)

        def slope(t: float, y: Any, g: float = g, share: float = share, lag: float = lag) -> Any:
            _, fast, slow = y
            return [g * ((1 - share) * fast + share * slow), (1 - fast) / FAST, (1 - slow) / lag]

        exact = solve_ivp(slope, (0.0, 300.0), [0.0, 0.0, 0.0], t_eval=times, rtol=1e-9, atol=1e-9).y[0]
        assert found[i] == pytest.approx(exact, rel=1e-5, abs=1e-9)


def test_moves_teach_what_the_gas_does_and_narrow_what_is_said() -> None:
    """Readings made by one member of the range: roast by roast its size is found, and the range narrows."""
    curve = Curve((0.0, 60.0, 700.0), (200.0, 80.0, 220.0))
    truth = int(np.argmin(np.abs(MEMBERS.size - 0.5) + np.abs(MEMBERS.lag - 100.0) / 100))
    rng = np.random.default_rng(5)
    done, told, answer = per_unit(np.array([180.0]))[:, 0], [], GasAnswer.prior()
    widths = [np.ptp(answer.quantiles(done, (0.1, 0.9)))]
    for roast in range(8):
        change = 0.15 if roast % 2 else -0.15
        schedule = Schedule(np.array([0.0, 200.0, 400.0]), np.array([[0.0, 0, 0], [change, 0, 0], [0.0, 0, 0]]))
        t = np.arange(100.0, 480.0, 20.0)
        e = by_size(moved(schedule, t))[truth] + rng.normal(0, 0.4, len(t))
        told.append(evidence(curve, schedule, [Probe(x, float(curve.value(x) + d), i + 2, x, 0.0)
                                               for i, (x, d) in enumerate(zip(t, e, strict=True))]))  # fmt: skip
        answer = GasAnswer.prior().after(told)
        low, high = answer.quantiles(done, (0.1, 0.9))
        widths.append(high - low)
    assert answer.moves == 8
    assert low <= done[truth] <= high
    assert widths[3] < 0.5 * widths[0]
    assert widths[8] < 0.3 * widths[0]


def test_a_roast_without_moves_of_ones_own_teaches_nothing_of_the_gas() -> None:
    flat = Schedule(np.array([0.0]), np.zeros((1, 3)))
    probes = [Probe(float(x), 100.0 + x / 10, x, float(x), 0.0) for x in range(100, 300, 20)]
    found = evidence(profile().curve, flat, probes)
    assert (found.moves, GasAnswer.prior().after([found]).moves) == (0, 0)


def test_the_rule_is_two_numbers_whatever_the_bank_has_learnt() -> None:
    """gas = plan x (1 - 0.14 (e + 45 s x e')), on a mark of the gauge, no further than 30 % of the highest planned gas
    (1.2 - 0.48 here); nothing for less than 8 %."""
    coach = roasted(360.0)
    s, outlook = coach.situation, Outlook(profile(), coach.knowledge, 1.0)
    assert s.estimate is not None
    curve, goal = outlook.model.curve, profile().goals["first crack"].time
    assert s.forecast.first_crack is not None
    for e, rate, value in ((2.5, 0.0, 0.8), (4.0, 0.0, 0.7), (0.0, 0.05, 0.8), (-2.0, -0.02, None), (0.25, 0.0, None)):
        estimate = replace(s.estimate, t=360.0, temperature=curve.value(360.0) + e, rate=curve.slope(360.0) + rate,
                           reading_t=358.0)  # fmt: skip
        crack = replace(s.forecast.first_crack, time=spread(goal + (60.0 if e < 0 else -60.0)))
        found = advise(outlook, 360.0, coach.roast, replace(s.forecast, first_crack=crack), estimate)
        assert found is not None
        if value is None and e > -1:
            assert found.control is None, (e, rate)
        elif value is not None:
            assert found.shown == pytest.approx(value), (e, rate)
        else:
            assert found.shown is not None
            assert found.shown > 1.2, "behind the plan: more gas"


# -- what is said ------------------------------------------------------------------------------------------------------


def test_a_hot_roast_is_advised_less_gas_with_deadline_bite_and_effect() -> None:
    coach = roasted(330.0, hotter=6.0)
    a = coach.situation.advice
    assert a is not None
    assert (a.kind, a.control) == ("move", "gas")
    assert a.value is not None
    assert a.value < (coach.roast.setting("gas", 330.0) or 0.0)
    assert a.deadline is not None
    assert a.deadline > 330.0
    assert a.bites is not None
    assert a.crack_before is not None
    assert a.crack_after is not None
    plan = profile().goals["first crack"].time
    assert abs(a.crack_after[1] - plan) < abs(a.crack_before[1] - plan)
    assert a.crack_after[0] < a.crack_after[1] < a.crack_after[2]
    assert a.text.startswith("gas 1.6 to 0.")
    assert "not 1.2" in a.text
    assert "plan 8:0" in a.text


def test_a_cold_roast_is_advised_more_gas_within_the_limits() -> None:
    coach = roasted(330.0, hotter=-6.0)
    a = coach.situation.advice
    assert a is not None
    assert a.value is not None
    limits = profile().document.limits.gas
    assert limits is not None
    assert 1.2 < a.value <= limits[1]  # 1.2 is what the plan sets just then
    assert ", not 1.2," in a.text


def test_inside_tolerance_nothing_is_advised() -> None:
    a = roasted(330.0).situation.advice
    assert a is not None
    assert a.kind == "quiet"
    assert a.control is None
    assert "leave" not in a.text


def test_an_advice_does_not_wander_while_it_stands() -> None:
    coach = roasted(315.0, hotter=3.0)
    first = coach.situation.advice
    assert first is not None
    assert first.deadline is not None
    charge = coach.roast.charge_at or 0.0
    for at in range(316, int(first.deadline), 5):
        coach.advance(charge + at)
        now = coach.situation.advice
        assert now is not None
        assert (now.value, now.deadline) == (first.value, first.deadline)


def test_after_the_move_it_waits_for_the_move_to_act() -> None:
    coach = roasted(330.0, hotter=6.0)
    advised = coach.situation.advice
    assert advised is not None
    assert advised.shown is not None
    charge = coach.roast.charge_at or 0.0
    a = enter(coach, Move(at=charge + 335.0, control="gas", value=advised.shown))
    assert a is not None
    assert a.control is None
    assert a.kind in ("wait", "recovering")
    coach.advance(charge + 335.0 + SETTLE - 10)
    later = coach.situation.advice
    assert later is not None
    assert later.control is None


def test_stale_readings_give_no_move() -> None:
    coach = roasted(330.0, hotter=6.0)
    s = coach.situation
    outlook = Outlook(profile(), coach.knowledge, 1.0)
    assert s.estimate is not None
    found = advise(outlook, 330.0, coach.roast, s.forecast, replace(s.estimate, reading_t=s.estimate.t - 95.0))
    assert found is not None
    assert found.kind == "wait"


def test_without_a_logged_gas_it_asks_for_it() -> None:
    coach = roasted(330.0, hotter=6.0)
    bare: Roast = replace(coach.roast, moves=())
    found = advise(
        Outlook(profile(), coach.knowledge, 1.0), 330.0, bare, coach.situation.forecast, coach.situation.estimate
    )
    assert found is not None
    assert found.kind == "unsure"


def test_an_advice_that_was_not_followed_expires() -> None:
    coach = roasted(330.0, hotter=6.0)
    a = coach.situation.advice
    assert a is not None
    late = replace(a, deadline=300.0)
    found = advise(
        Outlook(profile(), coach.knowledge, 1.0),
        330.0,
        coach.roast,
        coach.situation.forecast,
        coach.situation.estimate,
        late,
    )
    assert found is not None
    assert found.deadline != 300.0


def test_close_to_crack_it_is_too_late() -> None:
    journal = example()
    crack = next(n.entry.at for n in journal.entries if getattr(n.entry, "event", "") == "first crack")
    charge = next(n.entry.at for n in journal.entries if getattr(n.entry, "event", "") == "charge")
    coach = roasted(crack - charge - 75.0, hotter=5.0)
    a = coach.situation.advice
    assert a is not None
    assert a.control is None
    assert a.kind == "too late"
    assert a.text.startswith("Too late to move first crack")


def test_one_step_on_one_line() -> None:
    coach = roasted(330.0)
    outlook = Outlook(profile(), coach.knowledge, 1.0)
    line = sensitivity(outlook, 330.0, coach.roast, coach.situation.forecast)
    assert re.fullmatch(r"0\.1 kPa of gas moves first crack about \d+ s \(\d+-\d+\)", line)


def test_what_if_leaves_no_trace() -> None:
    coach = roasted(330.0)
    before = (coach.situation, coach.roast, coach.entries, coach.cues)
    found = coach.what_if(((340.0, "gas", 0.5),))
    assert found is not None
    assert found.first_crack is not None
    assert coach.situation.forecast.first_crack is not None
    assert found.first_crack.time.median > coach.situation.forecast.first_crack.time.median + 5
    assert before == (coach.situation, coach.roast, coach.entries, coach.cues)


@pytest.mark.parametrize(
    ("planned", "step"),
    [((1.6, 1.2, 0.9), 0.1), ((3.0, 2.0, 1.0), 0.25), ((14.0, 10.0, 7.0), 1.0), ((0.62, 0.5), 0.02)],
)
def test_the_step_of_a_gauge_from_the_planned_values(planned: tuple[float, ...], step: float) -> None:
    document = load_profile(str(ROOT / "profiles" / "larch-hill.toml")).document
    moves = [PlannedMove(control="gas", value=v, at_time=60.0 * i) for i, v in enumerate(planned)]
    limits = document.limits.model_copy(update={"gas": None, "gas_step": None})
    profile = Profile(document.model_copy(update={"moves": moves, "limits": limits}))
    gauge = Gauge.of(profile, Roast(Header(id="x", started="2026-11-02T08:00:00+00:00")), "gas")
    assert gauge is not None
    assert gauge.step == pytest.approx(step)
