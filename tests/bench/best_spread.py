"""CRPS of point forecasts, each with one normal spread that is fitted afterwards: what they could reach at best."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar
from scipy.special import ndtr

from coach.verification.aggregate import BASELINES, ForecastScore, ScoredForecast

Array = NDArray[np.float64]


def crps_normal(mean: Array, sd: Array | float, happened: Array) -> Array:
    """CRPS of N(mean, sd): sd (z (2 Phi(z) - 1) + 2 phi(z) - 1/sqrt(pi)) (Gneiting and Raftery 2007, eq. 21)."""
    z = (happened - mean) / sd
    phi = np.exp(-0.5 * z**2) / sqrt(2 * pi)
    return np.asarray(sd * (z * (2 * ndtr(z) - 1) + 2 * phi - 1 / sqrt(pi)))


def best_normal_crps(errors: Array) -> tuple[float, float]:
    """The lowest mean CRPS that a point forecast reaches with one normal spread, fitted afterwards; and that spread.

    ``errors`` (n,): forecast minus observed; CRPS and spread are in the same unit.
    """
    errors = np.asarray(errors, dtype=float)
    if not errors.size:
        return float("nan"), float("nan")
    zero = np.zeros_like(errors)
    top = max(2.0 * float(np.abs(errors).max()), 1e-3)
    found = minimize_scalar(lambda s: float(crps_normal(errors, s, zero).mean()), bounds=(1e-4, top), method="bounded")
    return float(found.fun), float(found.x)


def best_baseline_crps(score: ForecastScore, found: Sequence[ScoredForecast]) -> float:
    """The lowest mean CRPS (s or K) of the reference forecasts beside those of a score."""
    rows = [r for r in found if (r.what, r.lead) == (score.what, score.lead) and r.said is not None]
    return min(best_normal_crps(np.array([r.others[b] - r.happened for r in rows]))[0] for b in BASELINES)
