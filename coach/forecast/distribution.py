"""A distribution of a time or a temperature, as a cumulative curve on a grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Distribution:
    """``x`` (n,) increasing values; ``p`` (n,) the probability of at most that value, non-decreasing, ending at 1.

    Between the points it is linear.
    """

    x: Array
    p: Array

    def quantile(self, q: float) -> float:
        """The value below which a share ``q`` (0..1) lies."""
        return float(np.interp(q, self.p, self.x))

    def cdf(self, value: float) -> float:
        """The probability of at most ``value``."""
        return float(np.interp(value, self.x, self.p, left=0.0, right=1.0))

    @property
    def median(self) -> float:
        return self.quantile(0.5)

    @property
    def q10(self) -> float:
        return self.quantile(0.1)

    @property
    def q25(self) -> float:
        return self.quantile(0.25)

    @property
    def q75(self) -> float:
        return self.quantile(0.75)

    @property
    def q90(self) -> float:
        return self.quantile(0.9)

    @property
    def spread(self) -> float:
        """Half of the central 80 % interval, in the unit of ``x``."""
        return (self.q90 - self.q10) / 2

    @property
    def sd(self) -> float:
        """A robust standard deviation: the 80 % interval as if it were a normal's (1.2816 sd each side)."""
        return (self.q90 - self.q10) / 2.5631
