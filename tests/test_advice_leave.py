"""When it is claimed that a crack is best left alone, and how likely that is."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import norm

sys.path.insert(0, str(Path(__file__).parent))

from test_advice import profile, roasted
from test_advice_rules import Linear, normal

from coach.advice.advise import CLAIMED, LARGEST, _claimed, _left, _nothing, advise
from coach.advice.candidates import Ground, Look, Pull
from coach.advice.leave_alone import BETTER, surely_left
from coach.advice.objective import Aim, aim_of
from coach.advice.values import Advice
from coach.forecast.control_inputs import Scale
from coach.forecast.predictor import Outlook
from coach.roast.gauges import Gauge

AIR = Gauge("air", 0.5, 0.0, 10.0, 5.0, None)


def surely(off: float, sd: float, each: float, *, start: float = 4.0, enough: float = 0.0) -> float:
    """The probability for a crack that is normal about ``off`` from the plan, each step moving it by ``each`` s."""
    look = Linear(Aim("crack", normal(480.0 + off, sd), 480.0, 20.0), each, 0.0, sd)
    object.__setattr__(look, "outlook", SimpleNamespace(plan=SimpleNamespace(scale=Scale(1.0, 5.0, 1.0))))
    found = surely_left(look, Pull(AIR, Ground(start, start, 210.0)), LARGEST, enough)  # type: ignore[arg-type]
    assert found is not None
    return found


@pytest.mark.parametrize("each", [6.0, 9.0, 14.0, 25.0])
@pytest.mark.parametrize("sd", [4.0, 8.0, 15.0])
@pytest.mark.parametrize("off", [0.0, 6.0, -12.0])
def test_one_step_decides_where_it_is_no_smaller_than_what_counts(off: float, sd: float, each: float) -> None:
    """A step of e does better by more than b where the crack is further off than (e + b) / 2: in closed form."""
    half = (each + BETTER) / 2
    exact = norm.cdf((half - off) / sd) - norm.cdf((-half - off) / sd)
    assert surely(off, sd, each) == pytest.approx(exact, abs=0.012)


@pytest.mark.parametrize(
    ("off", "sd", "each"), [(0.0, 8.0, 1.5), (20.0, 8.0, 3.5), (-30.0, 12.0, 2.0), (40.0, 5.0, 1.0)]
)
def test_small_steps_against_drawn_futures(off: float, sd: float, each: float) -> None:
    """Every step that may be taken, for each of many drawn cracks."""
    crack = np.random.default_rng(1).normal(off, sd, 40_000)
    best = np.min([np.abs(crack + n * each) for n in (-3, -2, -1, 1, 2, 3)], axis=0)
    assert surely(off, sd, each) == pytest.approx(float(np.mean(np.abs(crack) - best <= BETTER)), abs=0.015)


def test_where_nothing_bites_any_more_it_is_certain_and_at_the_end_of_the_range_one_way_is_left() -> None:
    assert surely(40.0, 8.0, 0.2) == 1.0
    assert surely(20.0, 4.0, 9.0, start=0.0) > 0.99, "no step the other way is left"
    assert surely(-20.0, 4.0, 9.0, start=0.0) < 0.05


def test_what_is_given_back_early_is_too_low_to_claim_and_no_less_than_the_whole() -> None:
    for off, sd, each in ((25.0, 8.0, 4.0), (10.0, 8.0, 9.0)):
        whole, early = surely(off, sd, each), surely(off, sd, each, enough=CLAIMED)
        assert whole <= early < CLAIMED


# -- what is said ------------------------------------------------------------------------------------------------------


def looked(t: float, hotter: float = 0.0) -> Look:
    coach = roasted(t, hotter=hotter)
    outlook = Outlook(profile(), coach.knowledge, 1.0)
    _, forecast = outlook.at(t, coach.roast)
    aim = aim_of(profile(), coach.roast, forecast)
    assert aim is not None
    return Look(outlook, t, coach.roast, aim, 1.5, 1.5)


def test_leaving_it_is_claimed_only_where_it_is_sure_enough() -> None:
    for t in (200.0, 330.0, 380.0, 440.0, 460.0):
        a = roasted(t).situation.advice
        assert a is not None
        assert a.left is not None
        assert (a.kind == "leave") is (a.left >= CLAIMED)
        assert ("leave it" in a.text) is (a.kind == "leave")
    assert roasted(460.0).situation.advice.kind == "leave"  # type: ignore[union-attr]
    assert roasted(200.0).situation.advice.kind == "quiet"  # type: ignore[union-attr]


def test_too_late_is_not_said_while_a_step_could_well_do_better() -> None:
    said = Advice("too late for crack; look after drop", kind="too late")
    early = _claimed(looked(240.0, 6.0), said)
    assert early.kind == "quiet"
    assert "too late" not in early.text
    late = _claimed(looked(450.0, 6.0), said)
    assert (late.kind, late.text) == (said.kind, said.text)
    assert late.left is not None
    assert late.left >= CLAIMED


def test_off_the_band_it_is_said_to_come_back_only_where_the_crack_is_surely_inside() -> None:
    look = looked(440.0)
    forecast = roasted(440.0).situation.forecast
    off = replace(forecast, deviation=9.0)
    narrow = replace(look, aim=replace(look.aim, now=normal(look.aim.plan + 3.0, 5.0)))
    found = _nothing(narrow, off)
    assert found.kind == "recovering"
    assert "coming back by itself, crack 8:10" in found.text
    wide = replace(look, aim=replace(look.aim, now=normal(look.aim.plan + 12.0, 15.0)))
    found = _nothing(wide, off)
    assert found.kind == "quiet"
    assert "coming back" not in found.text


def test_stale_readings_claim_nothing() -> None:
    coach = roasted(460.0)
    outlook = Outlook(profile(), coach.knowledge, 1.0)
    fresh = advise(outlook, 460.0, coach.roast, coach.situation.forecast, 5.0)
    stale = advise(outlook, 460.0, coach.roast, coach.situation.forecast, 95.0)
    assert fresh is not None
    assert stale is not None
    assert fresh.kind == "leave"
    assert (stale.kind, stale.left) == ("quiet", None)


def test_no_claim_is_made_where_the_gas_was_never_told() -> None:
    look = looked(440.0)
    assert _left(replace(look, roast=replace(look.roast, moves=()))) is None
