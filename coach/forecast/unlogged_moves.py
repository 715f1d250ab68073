"""A move that nobody logged: the effect of a step of gas at each of the last readings, compared with what came.

The generalised likelihood ratio of a jump in a linear system's input (Willsky and Jones, IEEE Trans. Automatic Control
21 (1976) 108-112): a step of the input by one, from some moment on, shifts the filter's innovations by a signature that
follows the filter's own recursion; regressing the innovations that came on it gives the step and how likely it is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

CANDIDATES: Final = 7
"""Number of the last readings whose moments are tried."""
STEP_SD: Final = 0.15
"""Standard deviation of a step of the input, which is the root of the share of the highest planned gas."""


@dataclass(frozen=True)
class Steps:
    """A step of the gas input by one, from each of c moments on, by m members: ``since`` (c,) s; its lagged
    input ``f`` (c, m, 2); how far it moves the filter's state, ``shift`` (c, m, n); the sums of signature times
    innovation over its variance, ``pull`` (c, m), and of squared signatures over it, ``weight`` (c, m); how many
    readings have come since, ``count`` (c,)."""

    since: Array
    f: Array
    shift: Array
    pull: Array
    weight: Array
    count: Array

    @classmethod
    def none(cls, members: int, size: int) -> Steps:
        """Steps without a moment tried yet."""
        return cls(np.zeros(0), np.zeros((0, members, 2)), np.zeros((0, members, size)), np.zeros((0, members)),
                   np.zeros((0, members)), np.zeros(0))  # fmt: skip

    def begun(self, t: float) -> Steps:
        """Add the moment ``t`` (s), and forget the oldest."""
        return Steps(*(
            np.concatenate([old, np.full((1, *old.shape[1:]), t if i == 0 else 0.0)])[-CANDIDATES:]
            for i, old in enumerate((self.since, self.f, self.shift, self.pull, self.weight, self.count))
        ))  # fmt: skip

    def advanced(
        self, F: Array, tau: Array, steady: Array, fading: Array, gain: Array, dt: float, logged: float
    ) -> Steps:
        """Advance by ``dt`` s: F (m, n, n) the filter's transition, tau (m, 2) the lags, steady (m,) and fading (m, 2)
        the responses to a constant input and to a lagged one's gap, gain (m,) of gas.  ``logged``: time of the last
        logged move of gas (s); it ended any step begun before."""
        if not len(self.since):
            return self
        u = (self.since >= logged).astype(float)[:, None]
        gap = self.f - u[:, :, None]
        shift = (F @ self.shift[..., None])[..., 0]
        shift[:, :, 0] += gain * (u * steady + (gap * fading).sum(axis=2))
        return replace(self, f=u[:, :, None] + gap * np.exp(-dt / tau), shift=shift)

    def compared(self, y: Array, S: Array, K: Array) -> Steps:
        """Add a reading's innovation y (m,), its variance S (m,) and the gain K (m, n) it was taken in with."""
        if not len(self.since):
            return self
        signature = self.shift[:, :, 0]
        return replace(
            self,
            pull=self.pull + signature * y / S,
            weight=self.weight + signature**2 / S,
            shift=self.shift - K * signature[..., None],
            count=self.count + 1,
        )

    def odds(self, weights: Array) -> tuple[Array, Array]:
        """For each moment (c,): the log likelihood ratio of the readings with a step there and without, and the
        step's estimate."""
        spread = self.weight + 1.0 / STEP_SD**2
        log = 0.5 * self.pull**2 / spread - 0.5 * np.log(1.0 + STEP_SD**2 * self.weight)
        together = np.log(np.maximum((weights * np.exp(np.clip(log, None, 200.0))).sum(axis=1), 1e-300))
        return together, (weights * self.pull / spread).sum(axis=1)
