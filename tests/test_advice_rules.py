"""The rules behind an advised move: what being off costs, the best step, when air is moved, what is planned."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import minimize_scalar
from scipy.stats import foldnorm, norm

sys.path.insert(0, str(Path(__file__).parent))

from test_advice import profile, roasted

import coach.forecast.predictor as module
from coach.advice.advise import LARGEST, _best, advise, sensitivity
from coach.advice.candidates import LEARNT, Ground, Judged, Pull
from coach.advice.objective import KELVIN, Aim, aim_of, missed
from coach.advice.values import Advice
from coach.advice.wording import move_text
from coach.forecast.control_inputs import NEAR, due_of, is_planned
from coach.forecast.distribution import Distribution
from coach.forecast.predictor import Outlook
from coach.roast.entries import Header
from coach.roast.gauges import Gauge
from coach.roast.profile import Step
from coach.roast.roast import Probe, Roast, Turned

HEADER = Header(id="x", started="2026-11-02T08:00:00+00:00")


def normal(mean: float, sd: float) -> Distribution:
    x = mean + sd * np.linspace(-8, 8, 1601)
    return Distribution(x, np.asarray(norm.cdf(x, mean, sd)))


@pytest.mark.parametrize(("off", "sd"), [(0.0, 8.0), (5.0, 8.0), (-20.0, 12.0), (30.0, 4.0)])
def test_the_expected_miss_is_the_mean_of_the_folded_normal(off: float, sd: float) -> None:
    """scipy.stats.foldnorm (Leone, Nelson and Nottingham 1961, Technometrics 3(4):543-550; from memory)."""
    assert missed(normal(480.0 + off, sd), 480.0) == pytest.approx(foldnorm.mean(abs(off) / sd, scale=sd), rel=1e-4)


def test_a_wide_forecast_gains_little_and_the_drop_counts() -> None:
    narrow, wide = (Aim("crack", normal(490.0, sd), 480.0, 20.0) for sd in (3.0, 20.0))
    assert narrow.most > 2.5 * wide.most
    assert narrow.gain(normal(480.0, 3.0)) == pytest.approx(narrow.most, rel=1e-3)
    both = replace(narrow, drop=normal(210.0, 1.0), drop_plan=210.0)
    colder = normal(207.0, 1.0)
    lost = KELVIN * (missed(colder, 210.0) - missed(normal(210.0, 1.0), 210.0))
    assert both.gain(normal(480.0, 3.0), colder) == pytest.approx(narrow.most - lost, rel=1e-3)


# -- the best step -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Linear:
    """A linear-Gaussian aim in the place of a look: each step moves the crack by ``each`` ± ``each_sd`` s."""

    aim: Aim
    each: float
    each_sd: float
    sd: float
    asked: float = 1.0
    least: float = 1.0
    t: float = 200.0

    def judged(self, lever: Pull, value: float, moment: float | None = None) -> Judged:
        n = lever.gauge.steps(value) - lever.gauge.steps(lever.ground.base)
        after = normal(self.aim.now.median + self.each * n, float(np.hypot(self.sd, self.each_sd * n)))
        return Judged(value, after, self.aim.gain(after), 1.0, SimpleNamespace())  # type: ignore[arg-type]


@pytest.mark.parametrize("off", [-60.0, -33.0, -14.0, 9.0, 26.0, 70.0])
@pytest.mark.parametrize("each_sd", [0.0, 1.5, 4.0])
def test_the_step_chosen_is_the_best_that_scipys_solver_finds_in_the_linear_gaussian_case(
    off: float, each_sd: float
) -> None:
    """The exact problem: the mean of a folded normal over the amount, by scipy's bounded minimiser."""
    each, sd = -7.0, 10.0
    look = Linear(Aim("crack", normal(480.0 + off, sd), 480.0, 20.0), each, each_sd, sd)
    gauge = Gauge("gas", 0.1, 0.0, 4.0, 2.0, None)
    most = LARGEST * gauge.top / gauge.step
    found = _best(look, Pull(gauge, Ground(2.0, 2.0, 210.0)), 1 if off > 0 else -1)  # type: ignore[arg-type]

    def miss(n: float) -> float:
        scale = float(np.hypot(sd, each_sd * n))
        return float(foldnorm.mean(abs(off + each * n) / scale, scale=scale))

    bounds = (0.0, most) if off > 0 else (-most, 0.0)
    best = float(minimize_scalar(miss, bounds=bounds, method="bounded").x)
    assert isinstance(found, Judged)
    assert abs((found.value - 2.0) / gauge.step - best) <= 1.0 + 1e-6
    assert miss((found.value - 2.0) / gauge.step) <= miss(best) + 1.0


def test_a_large_move_for_little_is_not_advised() -> None:
    aim = Aim("crack", normal(440.0, 8.0), 480.0, 20.0)
    look = Linear(aim, -0.4, 0.0, 8.0, t=380.0)
    found = _best(look, Pull(Gauge("gas", 0.1, 0.0, 4.0, 2.0, None), Ground(2.0, 2.0, 390.0)), -1)  # type: ignore[arg-type]
    assert isinstance(found, Advice)
    assert found.kind == "too late"


# -- air ---------------------------------------------------------------------------------------------------------------


def without_room(count: int) -> Advice | None:
    """A cold roast whose gas stands at its highest, ``count`` roasts behind what the air does."""
    coach = roasted(250.0, hotter=-9.0)
    document = profile().document
    planned = max(m.value for m in document.moves if m.control == "gas")
    limits = document.limits.model_copy(update={"gas": (0.0, planned)})
    bounded = type(profile()).from_document(document.model_copy(update={"limits": limits}))
    bank = coach.knowledge.bank
    sure = replace(bank, gain=np.array(bank.gain * [1.0, 2.0, 1.0]), gain_cov=bank.gain_cov * 0.02)
    outlook = Outlook(bounded, replace(coach.knowledge, count=count, bank=sure), 1.0)
    _, forecast = outlook.at(250.0, coach.roast)
    return advise(outlook, 250.0, coach.roast, forecast, 5.0)


def test_air_is_advised_only_where_gas_has_no_room_and_roasts_have_taught_what_it_does() -> None:
    few, learnt = without_room(LEARNT - 1), without_room(LEARNT)
    assert few is not None
    assert learnt is not None
    assert few.control is None
    assert "no room" in few.text
    assert (learnt.kind, learnt.control) == ("move", "air")
    assert learnt.text.startswith(("air ", "keep the air"))
    assert learnt.value is not None
    gauge = Gauge.of(profile(), roasted(250.0).roast, "air")
    assert gauge is not None
    assert gauge.low <= learnt.value <= gauge.high
    gas = roasted(250.0, hotter=-9.0).situation.advice
    assert gas is not None
    assert gas.control == "gas", "with room the gas is moved"


# -- the rest ----------------------------------------------------------------------------------------------------------


def test_before_the_probe_has_turned_nothing_is_advised() -> None:
    coach = roasted(330.0, hotter=6.0)
    outlook = Outlook(profile(), coach.knowledge, 1.0)
    t = profile().curve.turning_point[0] + 20.0
    found = advise(outlook, t, coach.roast.until(t), coach.situation.forecast, 5.0)
    assert found is not None
    assert (found.kind, found.text) == ("quiet", "")


def test_advice_and_sensitivity_ask_the_first_step_once(monkeypatch: pytest.MonkeyPatch) -> None:
    coach = roasted(330.0, hotter=6.0)
    outlook = Outlook(profile(), coach.knowledge, 1.0)
    _, forecast = outlook.at(330.0, coach.roast)
    calls: list[Any] = []
    real = module.project
    monkeypatch.setattr(module, "project", lambda *a, **k: (calls.append(a), real(*a, **k))[1])
    advise(outlook, 330.0, coach.roast, forecast, 5.0)
    asked = len(calls)
    assert asked > 1
    line = sensitivity(outlook, 330.0, coach.roast, forecast)
    assert line
    assert len(calls) == asked


def test_a_what_if_on_an_odd_day_is_as_wide_as_the_forecast_beside_it() -> None:
    coach = roasted(330.0, hotter=6.0)
    usual = Outlook(profile(), coach.knowledge, 1.0)
    odd_roast = replace(coach.roast, header=coach.roast.header.model_copy(update={"batch_kg": 2.0}))
    odd = Outlook(profile(), coach.knowledge, 1.0)
    moves = ((340.0, "gas", 0.9),)
    a = usual.what_if(330.0, coach.roast, moves).forecast.first_crack  # type: ignore[arg-type]
    b = odd.what_if(330.0, odd_roast, moves).forecast.first_crack  # type: ignore[arg-type]
    assert a is not None
    assert b is not None
    assert b.time.spread == pytest.approx(module.ODD_WIDER * a.time.spread, rel=0.05)


@pytest.mark.parametrize(
    ("late", "value", "planned"),
    [(0, 1.2, True), (44, 1.2, True), (-44, 1.2, True), (46, 1.2, False), (0, 1.25, False)],
)
def test_a_planned_move_is_its_setting_about_its_time(late: float, value: float, planned: bool) -> None:
    step = next(s for s in profile().steps if s.control == "gas" and s.value == pytest.approx(1.2))
    move = Turned(step.time + late, "gas", value, 2, value)
    assert is_planned(profile(), Roast(HEADER), move) is planned
    assert abs(late) <= NEAR or not planned


def test_a_move_that_is_due_after_an_event_or_at_a_temperature_is_due_when_that_came() -> None:
    after = Step("gas", 0.8, 0.8, 500.0, event="first crack", after=20.0)
    warm = Step("gas", 0.8, 0.8, 300.0, temperature=150.0)
    readings = tuple(Probe(t, c, 2, t, c) for t, c in ((30.0, 200.0), (330.0, 148.0), (345.0, 151.0)))
    roast = Roast(HEADER, 0.0, {"charge": 0.0, "first crack": 530.0}, readings=readings)
    assert due_of(after, roast) == 550.0
    assert due_of(after, Roast(HEADER)) == 500.0
    assert due_of(warm, roast) == 345.0
    assert due_of(warm, Roast(HEADER)) == 300.0


def test_the_words_of_a_move() -> None:
    aim = Aim("crack", normal(485.0, 8.0), 510.0, 20.0)
    text = move_text(
        profile(), aim, Gauge("gas", 0.1, 0.0, 4.0, 2.0, None), stands=1.3, base=1.3, value=1.1, moment=420.0,
        deadline=430.0, bites=460.0, after=normal(506.0, 7.0),
    )  # fmt: skip
    assert text == "gas 1.3 to 1.1 by 7:10; bites from 7:40; crack 8:05 to 8:26 (8:17-8:35), plan 8:30"


def test_the_aim_is_the_crack_until_it_is_marked_and_then_the_drop() -> None:
    coach = roasted(330.0)
    aim = aim_of(profile(), coach.roast, coach.situation.forecast)
    assert aim is not None
    assert aim.what == "crack"
    marked = replace(coach.roast, marks={**coach.roast.marks, "first crack": 329.0})
    then = aim_of(profile(), marked, coach.situation.forecast)
    assert then is not None
    assert then.what == "drop"
