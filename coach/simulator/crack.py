"""Cracking of beans: how far a batch has cracked at a given state, and the definition of the onset.

Each bean cracks when its own crack temperature is reached; over a batch those temperatures are normally
distributed.  The *audible* pops of a batch are an inhomogeneous Poisson process in time with expected count
``pops * (share cracked)``: the rate follows the density of the normal distribution times the rate at which the
beans heat, so it rises, falls, and stops when the beans stop getting hotter.  A few strays, beans far from the
rest, pop earlier.

**The true onset** is the moment the share cracked (strays not counted) first reaches :data:`ONSET_SHARE`.

Sources: Wilson (2014), J. Acoust. Soc. Am. 135(6), doi 10.1121/1.4874355: second crack is later, faster, softer and
higher (read); about 100 and 500 pops a minute (from memory).  Munchow et al. (2020), Beverages 6(2):29: steam drives
first crack (read).  The normal spread, the strays and the size of the steam term are our own.
"""

from __future__ import annotations

import math
from typing import Final, Literal, NamedTuple

import numpy as np
from pydantic import Field
from scipy.special import ndtr, ndtri

from coach.roast.profile import Frozen
from coach.simulator.physics import N, saturation_pressure, water_activity

CrackKind = Literal["first", "second"]

ONSET_SHARE: Final = 0.02
"""Share of a batch cracked that defines the onset."""
ONSET_QUANTILE: Final = float(ndtri(ONSET_SHARE))
STEAM_WEIGHT: Final = 4.0
"""Kelvins by which an e-fold of steam pressure brings the crack forward (own)."""
STEAM_USUAL: Final = 500.0
"""Steam pressure in the bean [kPa] at which a crack temperature is quoted (own)."""


class Crack(Frozen):
    """One crack, first or second, of a batch of one lot, in bean temperature."""

    onset: float = Field(ge=150, le=250)
    """Bean temperature at the onset [°C], at the usual steam pressure (common practice puts first crack near 200 °C on
    a probe; no source)."""
    spread: float = Field(gt=0.5, le=15)
    """Standard deviation of crack temperature between beans [K]."""
    pops: float = Field(ge=0, le=5000)
    """Expected number of audible pops of the whole batch."""
    strays: float = Field(default=0.0, ge=0, le=50)
    """Expected number of stray pops besides."""


class BeanPop(NamedTuple):
    """One crack as heard at the drum."""

    time: float
    """Time [s]."""
    kind: CrackKind
    loudness: float
    """Amplitude relative to a usual first-crack pop."""
    pitch: float
    """Frequency of its ring relative to a usual pop of its kind."""


def crack_drive(*, bean: N, moisture: N) -> N:
    """Temperature compared with a crack temperature [°C]: the bean's, a little more when steam is plenty.

    bean [°C], 100..260; moisture [kg/kg dry], > 0.
    """
    pressure = saturation_pressure(temperature=bean) * water_activity(moisture=moisture)  # of steam in the bean, kPa
    if isinstance(pressure, float):
        return bean + STEAM_WEIGHT * math.log(pressure / STEAM_USUAL)
    return bean + STEAM_WEIGHT * np.log(pressure / STEAM_USUAL)


def cracked_share(*, drive: float, onset: float, spread: float) -> float:
    """Share of the batch cracked, 0..1, strays not counted.  drive, onset [°C]; spread [K]."""
    return float(ndtr((drive - onset) / spread + ONSET_QUANTILE))


def expected_pops(crack: Crack, drive: float) -> float:
    """Expected number of pops heard by the time the drive [°C] was first reached, strays included."""
    strays = float(ndtr((drive - crack.onset + 8.0) / 5.0))
    share = cracked_share(drive=drive, onset=crack.onset, spread=crack.spread)
    return crack.pops * share + crack.strays * strays


class PopSource:
    """Draws the pops of one crack of one batch; the draws depend on the seed only, not on how time is cut."""

    def __init__(self, crack: Crack, kind: CrackKind, rng: np.random.Generator) -> None:
        self._crack = crack
        self._kind: CrackKind = kind
        self._rng = rng
        self._expected = 0.0
        self._threshold = float(rng.exponential())

    def between(self, t0: float, t1: float, drive: float) -> list[BeanPop]:
        """The pops from t0 to t1 [s], given the highest drive [°C] reached by t1.  Call once for each step."""
        before, after = self._expected, max(self._expected, expected_pops(self._crack, drive))
        self._expected = after
        found = []
        while self._threshold < after:
            time = t0 + (t1 - t0) * (self._threshold - before) / (after - before)
            loud, pitch = self._rng.lognormal(0.0, 0.35), self._rng.lognormal(0.0, 0.12)
            found.append(BeanPop(time, self._kind, float(loud) * LOUDNESS[self._kind], float(pitch)))
            self._threshold += float(self._rng.exponential())
        return found


LOUDNESS: Final[dict[CrackKind, float]] = {"first": 1.0, "second": 0.6}
"""Usual amplitude by kind; that second crack is softer is read in Wilson (2014), the ratio is our own."""
