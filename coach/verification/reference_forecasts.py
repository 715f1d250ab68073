"""Reference forecasts, which a person could make without the coach: the plan, the mean of past roasts, the reference
shifted by today's lag, and a straight line through the last two readings.  Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.forecast.forecast_values import READ_BEFORE
from coach.roast.curve import Curve
from coach.roast.profile import Profile
from coach.roast.roast import Probe, Roast

Array = NDArray[np.float64]
FAR: Final = 30.0
"""Distance from the reference beyond which a reading of a finished roast is taken for a mistype, K."""


def trajectory(roast: Roast, curve: Curve) -> tuple[Array, Array]:
    """Trajectory of the probe (roast time s, °C) by the roast's readings, up to its drop, without mistyped ones."""
    readings = roast.readings
    planned = curve.at(np.array([r.t for r in readings])) if readings else ()
    points = {r.t: r.celsius for r, p in zip(readings, planned, strict=True) if abs(r.celsius - p) <= FAR}
    t, v = np.array(list(points)), np.array(list(points.values()))
    if len(t) < 2:
        return np.zeros(1), np.full(1, np.nan)
    end = max(roast.marks.get("drop", t[-1]) + READ_BEFORE, float(t[-1]))
    if end > t[-1]:
        slope = float(np.polyfit(t[-4:], v[-4:], 1)[0])
        t, v = np.append(t, end), np.append(v, v[-1] + slope * (end - t[-1]))
    grid = np.arange(t[0], end + 0.5, 1.0)
    return grid, np.interp(grid, t, v)


@dataclass(frozen=True)
class RoastOutcome:
    """Outcome of one past roast: roast times of its marks, s, and the temperature at its drop, °C."""

    crack: float | None
    drop: float | None
    temperature: float | None

    @classmethod
    def of(cls, roast: Roast, curve: Curve) -> RoastOutcome:
        """The marks of a roast; the temperature where the drop came after a crack and there are readings."""
        crack, drop = roast.marks.get("first crack"), roast.marks.get("drop")
        temperature = None
        if drop is not None and crack is not None and roast.readings:
            temperature = float(np.interp(drop, *trajectory(roast, curve)))
        return cls(crack, drop, temperature)


def crack_others(profile: Profile, readings: Sequence[Probe], now: float) -> dict[str, float]:
    """Reference forecasts of the crack (roast time, s) at ``now`` (s), by name; all but the past roasts' mean."""
    goal = profile.goals["first crack"]
    then = profile.curve.when(readings[-1].celsius)
    last = readings[-1].t
    t, v, slope = _line(readings)
    lagging = goal.time if then is None else goal.time + last - then
    return {
        "plan": goal.time,
        "lag": max(lagging, now),
        "straight line": max(t + (goal.temperature - v) / slope, now),
    }


def drop_others(
    profile: Profile, readings: Sequence[Probe], now: float, crack: float | None
) -> tuple[dict[str, float], dict[str, float]]:
    """Reference forecasts of drop time (roast time, s) and drop temperature (°C) at ``now`` (s), by name; all but the
    past roasts' mean.  All but the plan use the marked ``crack`` (s) and the planned development."""
    curve = profile.curve
    then = curve.when(readings[-1].celsius)
    last = readings[-1].t
    lag = 0.0 if then is None else last - then
    planned, development = profile.drop_time, profile.development or 90.0
    level = profile.goals["first crack"].temperature if "first crack" in profile.goals else profile.drop_temperature
    t, v, slope = _line(readings)
    ends = {
        "plan": planned,
        "lag": planned + lag,
        "straight line": t + (level - v) / slope + development,
    }
    times = {k: max(crack + development if crack is not None and k != "plan" else e, now) for k, e in ends.items()}
    dev = readings[-1].celsius - curve.value(last)
    temperatures = {
        "plan": profile.drop_temperature,
        "lag": curve.value(times["lag"]) + dev,
        "straight line": v + slope * (times["straight line"] - t),
    }
    return times, temperatures


def past_mean(
    what: str, others: Mapping[str, float], past: Sequence[RoastOutcome], now: float, crack: float | None = None
) -> float:
    """Mean of past roasts and the plan (``others``): of a crack or drop time (s; not before ``now``), or of a drop
    temperature (°C).  A drop's time goes by the ``crack`` (s), where that was marked."""
    plan = others["plan"]
    if what == "first crack":
        return _mean([x.crack for x in past], plan)
    if what == "drop temperature":
        return _mean([x.temperature for x in past], plan)
    if crack is not None:
        return others["lag"]
    return max(_mean([x.drop for x in past if x.crack is not None], plan), now)


def _mean(found: Sequence[float | None], plan: float) -> float:
    return float(np.mean([*(x for x in found if x is not None), plan]))


def _line(readings: Sequence[Probe]) -> tuple[float, float, float]:
    """Time, temperature and slope (K/s, at least 0.01) of the line through the last two readings."""
    a, b = readings[-2], readings[-1]
    return b.t, b.celsius, max((b.celsius - a.celsius) / max(b.t - a.t, 1.0), 0.01)
