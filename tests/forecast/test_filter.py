"""The filter and the curve against general-purpose libraries."""

from __future__ import annotations

import numpy as np
import pytest
from filterpy.kalman import KalmanFilter
from scipy.integrate import solve_ivp
from scipy.interpolate import pchip_interpolate

from coach.forecast.bank import GAIN, prior_bank
from coach.forecast.control_inputs import Schedule
from coach.forecast.estimator import Model, advance, start
from coach.forecast.kalman import predict, update
from coach.roast.curve import Curve


def test_against_filterpy() -> None:
    # R. Labbe's filterpy, a general Kalman implementation: constant velocity, 30 s steps
    dt = 30.0
    F = np.array([[1, dt], [0, 1]])
    Q = 1e-5 * np.array([[dt**3 / 3, dt**2 / 2], [dt**2 / 2, dt]])
    other = KalmanFilter(dim_x=2, dim_z=1)
    other.x, other.P, other.F, other.Q = np.array([[150.0], [0.15]]), np.diag([4.0, 0.01]), F, Q
    other.H, other.R = np.array([[1.0, 0.0]]), np.array([[1.0]])
    x, P = np.array([[150.0, 0.15]]), np.diag([4.0, 0.01])[None]
    steps = ((154.0, 154.035486, 0.139194464), (158.0, 158.031715, 0.134827555), (161.5, 161.636092, 0.126609675))
    for z, level, rate in steps:
        other.predict()
        other.update(z)
        x, P = predict(x, P, F[None], Q[None])
        x, P, _, _ = update(x, P, z, np.array([1.0, 0.0]), np.ones(1))
        assert x[0] == pytest.approx(other.x[:, 0], abs=1e-9)
        assert P[0] == pytest.approx(other.P, abs=1e-9)
        assert x[0] == pytest.approx([level, rate], abs=1e-6)


def test_curve_against_scipy() -> None:
    t, v = [0.0, 60.0, 120.0, 300.0, 500.0], [200.0, 90.0, 110.0, 160.0, 197.0]
    grid = np.linspace(0, 500, 251)
    assert Curve(tuple(t), tuple(v)).at(grid) == pytest.approx(pchip_interpolate(t, v, grid))


@pytest.mark.parametrize(("top", "close"), [(-40.0, 1e-6), (200.0, 5e-3)])
def test_step_response_against_integration(top: float, close: float) -> None:
    """The lagged inputs in closed form against scipy's integrator on the same equations: exactly while k stands still
    (a reference far below the end of drying), closely where it changes on the way."""
    model = Model(prior_bank(4), Curve((0.0, 600.0), (top - 80.0, top)), 1.0)
    schedule = Schedule(np.array([0.0, 50.0]), np.array([[0.0, 0, 0], [0.3, 0, 0]]))
    state = start(model)
    for t in range(25, 451, 25):
        state = advance(model, state, schedule, float(t))
    gain = float(GAIN[0])
    for m in range(4):
        w, (t1, t2) = model.share[m, 0], model.tau[m]

        def rate(t: float, y: np.ndarray, m: int = m, w: float = w, t1: float = t1, t2: float = t2) -> list[float]:
            e, f1, f2 = y
            k = float(model.k(t, np.array([t + 0.01]))[m, 0])
            return [-k * e + gain * (w * f1 + (1 - w) * f2), (0.3 - f1) / t1, (0.3 - f2) / t2]

        y = solve_ivp(rate, (50, 450), [0, 0, 0], rtol=1e-9, atol=1e-11).y[:, -1]
        assert state.x[m, 0] == pytest.approx(y[0], rel=close)
