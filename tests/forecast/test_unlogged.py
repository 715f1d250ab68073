"""The signature of a move that nobody logged, against two filters run side by side."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from coach.forecast.bank import prior_bank
from coach.forecast.control_inputs import Schedule
from coach.forecast.estimator import BankState, Model, advance, observe, start
from coach.forecast.kalman import innovation
from coach.forecast.unlogged_moves import CANDIDATES, STEP_SD, Steps
from coach.roast.curve import Curve
from coach.roast.roast import Probe

H = np.array([1.0, 0.0, 0.0, 0.0, 0.0])
CURVE = Curve((0.0, 80.0, 200.0, 400.0, 640.0), (200.0, 90.0, 130.0, 175.0, 212.0))
STEP = 0.02
SINCE = 210.0


def _model() -> Model:
    """One member."""
    return Model(prior_bank(1), CURVE, 1.0)


def _start(model: Model, *sds: float, suspicious: bool = False) -> BankState:
    """At charge, with gains that are known for sure."""
    state = start(model, *sds, suspicious=suspicious)
    P = state.P.copy()
    P[:, 2:, 2:] *= 1e-12
    return replace(state, P=P)


def _flat(step: float = 0.0, logged: tuple[float, ...] = (), end: float = np.inf) -> Schedule:
    if not step:
        return Schedule(np.array([0.0, *logged]), np.zeros((1 + len(logged), 3)), gas=logged)
    values = np.array([[0.0, 0, 0], [step, 0, 0], [0.0, 0, 0]])
    return Schedule(np.array([0.0, SINCE, end if np.isfinite(end) else 1e6]), values)


def _readings(schedule: Schedule) -> list[Probe]:
    """What an exact probe would show, every half a minute."""
    model = _model()
    state, out = _start(model, 0.0, 0.0), []
    for i, t in enumerate(np.arange(90.0, 400.0, 30.0)):
        state = advance(model, replace(state, P=np.zeros_like(state.P)), schedule, float(t))
        value = CURVE.value(float(t)) + float(state.x[0, 0])
        out.append(Probe(float(t), value, i + 2, float(t), value))
    return out


def _run(readings: list[Probe], schedule: Schedule) -> tuple[BankState, list[tuple[float, float]]]:
    """The last state, and each reading's innovation and its variance."""
    model = _model()
    state, said = _start(model, suspicious=True), []
    for reading in readings:
        state = advance(model, state, schedule, reading.t)
        e = reading.celsius - CURVE.value(reading.t)
        y, S = innovation(state.x, state.P, e, H, model.noise(reading.t))
        said.append((float(y[0]), float(S[0])))
        state = observe(model, state, reading)
    return state, said


def _sums(readings: list[Probe], logged: tuple[float, ...] = (), end: float = np.inf) -> tuple[float, float]:
    """Pull and weight for a step from SINCE on by running the filter over readings with a small step in them and
    without: innovations are linear in what came in."""
    _, with_step = _run(_readings(_flat(STEP, end=end)), _flat(logged=logged))
    _, without = _run(_readings(_flat()), _flat(logged=logged))
    _, came = _run(readings, _flat(logged=logged))
    pull = weight = 0.0
    for (a, _), (b, _), (y, S) in zip(with_step[5:], without[5:], came[5:], strict=True):
        signature = (a - b) / STEP
        pull, weight = pull + signature * y / S, weight + signature**2 / S
    return pull, weight


@pytest.mark.parametrize(("logged", "end"), [((), np.inf), ((330.0,), 330.0)])
def test_the_signature_is_that_of_two_filters(logged: tuple[float, ...], end: float) -> None:
    """The recursion of Willsky and Jones 1976 against brute force, also where a logged move ends the step."""
    rng = np.random.default_rng(1)
    readings = [replace(r, celsius=r.celsius + 0.3 * rng.normal()) for r in _readings(_flat(0.03, end=end))]
    state, _ = _run(readings, _flat(logged=logged))
    assert state.steps is not None
    i = int(np.argmin(np.abs(state.steps.since - SINCE)))
    assert state.steps.since[i] == SINCE
    pull, weight = _sums(readings, logged, end)
    assert state.steps.weight[i, 0] == pytest.approx(weight, rel=1e-4)
    assert state.steps.pull[i, 0] == pytest.approx(pull, rel=1e-4)


def test_the_step_is_found_where_it_was_and_as_large_as_it_was() -> None:
    large, _ = _run(_readings(_flat(0.3)), _flat())
    assert large.steps is not None
    odds, _ = large.steps.odds(large.weights)
    assert abs(large.steps.since[int(np.argmax(odds))] - SINCE) <= 30.0
    assert odds.max() > 3.0
    state, _ = _run(_readings(_flat(0.05)), _flat())
    assert state.steps is not None
    _, step = state.steps.odds(state.weights)
    i = int(np.argmin(np.abs(state.steps.since - SINCE)))
    shrunk = state.steps.weight[i, 0] / (state.steps.weight[i, 0] + 1 / STEP_SD**2)
    assert step[i] == pytest.approx(0.05 * shrunk, rel=0.02)
    calm, _ = _run(_readings(_flat()), _flat())
    assert calm.steps is not None
    assert calm.steps.odds(calm.weights)[0].max() <= 0.0


def test_the_odds_are_the_ratio_of_two_marginal_likelihoods() -> None:
    """A normal step of known spread, integrated out on a grid instead of in closed form."""
    rng = np.random.default_rng(2)
    signature, y, S = rng.normal(size=6), rng.normal(size=6), rng.uniform(0.5, 2.0, size=6)
    steps = Steps(np.zeros(1), np.zeros((1, 1, 2)), np.zeros((1, 1, 5)), np.array([[float(signature @ (y / S))]]),
                  np.array([[float(signature @ (signature / S))]]), np.full(1, 6.0))  # fmt: skip
    grid = np.linspace(-1.5, 1.5, 6001)
    prior = np.exp(-0.5 * (grid / STEP_SD) ** 2)
    fit = np.exp(-0.5 * (((y[:, None] - signature[:, None] * grid) ** 2 - y[:, None] ** 2) / S[:, None]).sum(axis=0))
    expected = np.log((fit * prior).sum() / prior.sum())
    odds, step = steps.odds(np.ones(1))
    assert odds[0] == pytest.approx(expected, abs=1e-6)
    assert step[0] == pytest.approx((grid * fit * prior).sum() / (fit * prior).sum(), abs=1e-6)


def test_only_the_last_moments_are_kept_and_nobody_pays_who_does_not_ask() -> None:
    state, _ = _run(_readings(_flat()), _flat())
    assert state.steps is not None
    assert len(state.steps.since) == CANDIDATES
    assert list(state.steps.since) == sorted(state.steps.since)
    model = _model()
    quiet = observe(model, advance(model, start(model), _flat(), 90.0), _readings(_flat())[0])
    assert quiet.steps is None
