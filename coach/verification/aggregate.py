"""Forecasts against what happened, reduced to numbers that can be stored, and aggregated to scores: proper rules,
coverage, and the exact odds of a count.  Pure.

CRPS: the integral of (F(x) - 1{x >= y})^2, in the unit of the forecast; it generalises the absolute error and rewards
honest distributions (Gneiting and Raftery 2007, J. Am. Stat. Assoc. 102:359).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from pydantic import ConfigDict
from scipy.special import betaincinv

from coach.forecast.distribution import Distribution

Array = NDArray[np.float64]
What = Literal["first crack", "drop time", "drop temperature"]
BASELINES: Final = ("plan", "past roasts", "lag", "straight line")
FEW: Final = 10
"""Number of roasts below which a share says next to nothing."""


def crps(forecast: Distribution, happened: float) -> float:
    """CRPS of a piecewise-linear distribution, exactly; beyond its ends it is 0 and 1."""
    x, p = forecast.x, forecast.p
    y = float(happened)
    below = _square(x, p, -np.inf, y) + max(y - float(x[-1]), 0.0)
    above = _square(x, 1.0 - p, y, np.inf) + max(float(x[0]) - y, 0.0)
    return below + above


def _square(x: Array, f: Array, low: float, high: float) -> float:
    """The integral of f(x)^2 from ``low`` to ``high`` within the grid, f linear between its points."""
    a, b = max(low, float(x[0])), min(high, float(x[-1]))
    if b <= a:
        return 0.0
    grid = np.concatenate([[a], x[(x > a) & (x < b)], [b]])
    g = np.interp(grid, x, f)
    return float(np.sum(np.diff(grid) * (g[:-1] ** 2 + g[:-1] * g[1:] + g[1:] ** 2) / 3.0))


class Share(NamedTuple):
    """``hits`` of ``n``, and the exact (Clopper and Pearson) 95 % interval of the share."""

    hits: int
    n: int
    low: float
    high: float

    @property
    def value(self) -> float:
        return self.hits / self.n if self.n else float("nan")


def share(hits: Sequence[bool] | Array) -> Share:
    """Share of hits with its exact binomial interval: the ends are quantiles of the beta distribution (Clopper and
    Pearson 1934, Biometrika 26:404)."""
    n, k = len(hits), int(np.count_nonzero(hits))
    if n == 0:
        return Share(0, 0, 0.0, 1.0)
    low = 0.0 if k == 0 else float(betaincinv(k, n - k + 1, 0.025))
    high = 1.0 if k == n else float(betaincinv(k + 1, n - k, 0.975))
    return Share(k, n, low, high)


@dataclass(frozen=True)
class IssuedQuantiles:
    """An issued forecast as its quantiles (s of roast time or °C), and its CRPS against what happened (s or K)."""

    __pydantic_config__ = ConfigDict(allow_inf_nan=False)

    q10: float
    q25: float
    median: float
    q75: float
    q90: float
    crps: float


@dataclass(frozen=True)
class ScoredForecast:
    """One forecast issued ``lead`` s before its event (``said`` None: none was issued; ``why``: the reason), what
    happened, and the reference forecasts and the floor (``others``).  In s of roast time or °C."""

    __pydantic_config__ = ConfigDict(allow_inf_nan=False)

    what: What
    lead: int
    said: IssuedQuantiles | None
    happened: float
    others: Mapping[str, float]
    why: str = ""

    @classmethod
    def of(cls, what: What, lead: int, d: Distribution | None, happened: float, others: Mapping[str, float],
           why: str = "") -> ScoredForecast:  # fmt: skip
        """Reduce a forecast to the numbers that scores need."""
        if d is None:
            return cls(what, lead, None, happened, others, why)
        said = IssuedQuantiles(d.q10, d.q25, d.median, d.q75, d.q90, crps(d, happened))
        return cls(what, lead, said, happened, others)

    @property
    def event(self) -> str:
        """The event that it was about."""
        return "first crack" if self.what == "first crack" else "drop"

    @property
    def error(self) -> float | None:
        """Observed minus median, s or K: positive where it came later or hotter than forecast; None without one."""
        return None if self.said is None else self.happened - self.said.median

    @property
    def inside(self) -> bool | None:
        """True if it came inside the central 80 %; None without a forecast."""
        return None if self.said is None else self.said.q10 <= self.happened <= self.said.q90


@dataclass(frozen=True)
class ForecastScore:
    """Scores of all rows of one kind and lead (s): errors in s or K.  ``silent`` counts rows without a forecast."""

    what: What
    lead: int
    n: int
    silent: int
    mae: float
    bias: float
    crps: float
    in_80: Share
    in_50: Share
    width_80: float
    others: Mapping[str, float]
    """MAE (s or K) of each reference forecast, and of the floor where it is known."""


def tally(found: Sequence[ScoredForecast]) -> list[ForecastScore]:
    """Aggregate all rows to scores, by kind and lead."""
    kinds = sorted({(r.what, -r.lead) for r in found})
    return [_score(w, -lead, [r for r in found if r.what == w and r.lead == -lead]) for w, lead in kinds]


def _score(what: What, lead: int, found: Sequence[ScoredForecast]) -> ForecastScore:
    told = [(r, r.said) for r in found if r.said is not None]
    y = np.array([r.happened for r, _ in told])
    errors = np.array([s.median for _, s in told]) - y
    off = {k: np.array([r.others[k] - r.happened for r, _ in told if k in r.others]) for k in (*BASELINES, "floor")}
    off = {k: e for k, e in off.items() if e.size}
    return ForecastScore(
        what=what,
        lead=lead,
        n=len(told),
        silent=len(found) - len(told),
        mae=_mean(np.abs(errors)),
        bias=_mean(errors),
        crps=_mean(np.array([s.crps for _, s in told])),
        in_80=share([bool(r.inside) for r, _ in told]),
        in_50=share([s.q25 <= r.happened <= s.q75 for r, s in told]),
        width_80=_mean(np.array([s.q90 - s.q10 for _, s in told])),
        others={k: _mean(np.abs(e)) for k, e in off.items()},
    )


def _mean(values: Array) -> float:
    return float(values.mean()) if values.size else float("nan")


def sentences(found: Sequence[ForecastScore], lead: int = 90) -> list[str]:
    """Sentences for a person on the forecasts of first crack issued ``lead`` s before."""
    mine = [s for s in found if s.what == "first crack" and s.lead == lead]
    if not mine or mine[0].n == 0:
        return ["No first crack to judge by yet."]
    s = mine[0]
    sure = (
        f"Too few roasts to judge: wait for {FEW}."
        if s.n < FEW
        else f"From so many roasts the true share is {100 * s.in_80.low:.0f} to {100 * s.in_80.high:.0f} %."
    )
    return [
        f"{s.in_80.hits} of your last {s.n} first cracks fell in the range given {lead} s ahead (goal 8 of 10). {sure}",
        f"Typical error {s.mae:.0f} s; with a straight line {s.others['straight line']:.0f} s; "
        f"with the plan alone {s.others['plan']:.0f} s.",
    ]
