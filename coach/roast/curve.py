"""A curve through points: monotone-preserving interpolation, slope, and the moment a level is crossed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from scipy.interpolate import PchipInterpolator

Array = NDArray[np.float64]

MANY: Final = 5000
"""Most single values cached of one curve."""


def crossing(times: Array, values: Array, level: float) -> float | None:
    """The first time at which a piecewise-linear curve rises through ``level``; None when it never does.

    ``times`` and ``values`` are (n,), times strictly increasing; the answer has the unit of ``times``.
    """
    above = values >= level
    if not above.any():
        return None
    i = int(np.argmax(above))
    if i == 0:
        return float(times[0])
    low, high = float(values[i - 1]), float(values[i])
    share = (level - low) / (high - low)
    return float(times[i - 1] + share * (times[i] - times[i - 1]))


@dataclass(frozen=True)
class Curve:
    """A temperature curve over roast time.

    ``times`` (n,) s, strictly increasing; ``values`` (n,) °C.  Between the points it follows a piecewise cubic
    Hermite interpolant that overshoots nowhere (Fritsch and Butland 1984, as in ``scipy.interpolate``); beyond the
    last point it goes on in a straight line with the slope of the last 45 s; before the first it is constant.
    """

    times: tuple[float, ...]
    values: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.times) != len(self.values) or len(self.times) < 2:
            raise ValueError("a curve needs at least two points")

    @cached_property
    def _spline(self) -> PchipInterpolator:
        from scipy.interpolate import PchipInterpolator  # a third of a second, which the first paint does not need

        return PchipInterpolator(self.times, self.values, extrapolate=False)

    @property
    def end(self) -> float:
        """The time of the last point, s."""
        return self.times[-1]

    @cached_property
    def _end_slope(self) -> float:
        back = max(self.times[0], self.end - 45.0)
        return (self.values[-1] - float(self._spline(back))) / (self.end - back)

    def at(self, t: Array) -> Array:
        """Values at times ``t`` (any shape), °C."""
        t = np.asarray(t, dtype=float)
        inside = self._spline(np.clip(t, self.times[0], self.end))
        return np.asarray(inside + np.maximum(t - self.end, 0.0) * self._end_slope, dtype=float)

    @cached_property
    def value(self) -> Callable[[float], float]:
        """The value (°C) at one time (s), cached: those of readings and moves are used again and again."""
        return lru_cache(MANY)(lambda t: float(self.at(np.array(t))))

    def slope(self, t: float, span: float = 10.0) -> float:
        """Mean slope over ``span`` seconds around ``t``, K/s."""
        return (self.value(t + span / 2) - self.value(t - span / 2)) / span

    @cached_property
    def turning_point(self) -> tuple[float, float]:
        """Time (s) and value (°C) of the lowest point."""
        grid = np.arange(self.times[0], min(self.end, self.times[0] + 300.0) + 0.5, 1.0)
        values = self.at(grid)
        i = int(np.argmin(values))
        return float(grid[i]), float(values[i])

    def when(self, level: float) -> float | None:
        """The first time (s) after the turning point at which the curve rises through ``level`` (°C); None if never."""
        grid = np.arange(self.turning_point[0], self.end + 301.0, 1.0)
        return crossing(grid, self.at(grid), level)
