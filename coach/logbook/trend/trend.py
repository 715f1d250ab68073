"""Trends from one roast to the next: the charted quantities, the few rules, and their signals.  Pure.

Each roast is judged by the roasts before it (those far outside left out), so the limits are wide while there are
few and settle as they grow.  The widths are chosen so that in a process that changes nothing, and whose values are
independent and near normal, at most one roast in fifty is signalled, all charts taken together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final, Literal

import numpy as np

from coach.logbook.index.summary import Summary
from coach.logbook.trend.spc import (
    Capability,
    capability,
    cusum,
    ewma,
    ewma_half_width,
    normal_score,
    value_limit,
)
from coach.roast.entries import Event
from coach.roast.profile import Profile
from coach.roast.units import to_kelvins

ENOUGH: Final = 20
"""Number of roasts below which limits are provisional, and only single roasts far off are signalled."""
FIRST: Final = 5
"""Number of roasts before the first that can be judged."""
FALSE_SIGNALS: Final = 1 / 80
"""Share of stable roasts that may be signalled, all charts together: under 1 in 50, with some to spare for values
that are rounded and not quite normal."""
WEIGHT: Final = 0.2
"""Weight of the newest roast in the EWMA."""
RUNNING_WIDTHS: Final = (2.5499, 2.8083, 2.9490, 3.0448, 3.1169, 3.1746, 3.2225, 3.2634, 3.2991)
"""Widths of the EWMA's limits with 1, 2, ... charts, at which a stable process is signalled once in 2 charts /
``FALSE_SIGNALS`` values."""
RULES: Final = (
    "one roast outside the limits",
    "the weighted mean of the latest roasts outside its limits (from 20 roasts on)",
)
Kind = Literal["time", "temperature", "percent", "number"]


@dataclass(frozen=True)
class Quantity:
    """A charted quantity: its name, the column of the logbook, and its kind of number."""

    name: str
    column: str
    kind: Kind


QUANTITIES: Final = (
    Quantity("charge temperature", "charge_temperature", "temperature"),
    Quantity("turning point", "turning_time", "time"),
    Quantity("yellow", "yellow_time", "time"),
    Quantity("crack time", "crack_time", "time"),
    Quantity("crack temperature", "crack_temperature", "temperature"),
    Quantity("development", "development", "time"),
    Quantity("drop temperature", "drop_temperature", "temperature"),
    Quantity("weight loss", "loss", "percent"),
    Quantity("colour", "colour", "number"),
)
LEAST_SPREAD: Final[dict[Kind, float]] = {"time": 1.0, "temperature": 0.5, "percent": 0.1, "number": 0.3}
"""Least spread of a chart by its kind, since values are typed in steps (s, K, percent points, points of a scale)."""
Why = Literal["", "outside", "drifted"]


@dataclass(frozen=True)
class Point:
    """One roast on one chart: the value, the centre and limits in force for it (None: too few roasts before it), the
    EWMA in the unit of the value, the reason for its signal, and for a drift the roast with which it seems to have
    begun."""

    roast: Summary
    value: float
    centre: float | None = None
    lower: float | None = None
    upper: float | None = None
    ewma: float | None = None
    why: Why = ""
    since: Summary | None = None


@dataclass(frozen=True)
class Chart:
    """One quantity over the roasts.  ``target`` and ``tolerance`` are the profile's, None where it has none."""

    quantity: Quantity
    points: tuple[Point, ...]
    target: float | None = None
    tolerance: float | None = None
    capability: Capability | None = None

    @property
    def provisional(self) -> bool:
        return len(self.points) < ENOUGH

    @property
    def signals(self) -> tuple[Point, ...]:
        return tuple(p for p in self.points if p.why)


@dataclass(frozen=True)
class Trend:
    """All charts of one profile; ``scale`` is the colour scale that the colour chart is of."""

    profile: Profile
    roasts: tuple[Summary, ...]
    charts: tuple[Chart, ...]
    scale: str = ""

    @property
    def provisional(self) -> bool:
        return len(self.roasts) < ENOUGH


def widths(charts: int) -> tuple[float, float]:
    """Limit widths of the two rules, in sigmas, with ``charts`` charts: each rule may signal its half of the share.

    By the union bound the share holds also when the quantities move together.
    """
    share = FALSE_SIGNALS / charts / 2
    return NormalDist().inv_cdf(1 - share / 2), RUNNING_WIDTHS[charts - 1]


def judge(values: Sequence[tuple[Summary, float]], charts: int, least: float = 0.0) -> tuple[Point, ...]:
    """Judge the points of a chart that is one of ``charts``; its spread counts as ``least`` or more.

    From ``ENOUGH`` on a roast outside the limits does not count into later limits (before, a few that happen to be
    alike would set narrow limits for ever); after a drift was signalled the EWMA starts again.
    """
    single, running = widths(charts)
    good: list[float] = []
    points: list[Point] = []
    z = 0.0
    scores: list[tuple[Summary, float]] = []
    for roast, value in values:
        spread = max(float(np.std(good, ddof=1)), least) if len(good) >= FIRST else 0.0
        if spread <= 0:
            points.append(Point(roast, value))
            good.append(value)
            continue
        centre = float(np.mean(good))
        score = normal_score(value, centre, spread, len(good))
        half = value_limit(single, spread, len(good))
        # a value enters the EWMA cut to the limit of a single roast
        scores.append((roast, min(max(score, -single), single)))
        z = ewma([scores[-1][1]], target=z, weight=WEIGHT)[0]
        wide = ewma_half_width(sigma=1.0, weight=WEIGHT, width=running)
        why: Why = ""
        if abs(score) > single:
            why = "outside"
        elif len(good) >= ENOUGH - 1 and abs(z) > wide:
            why = "drifted"
        points.append(
            Point(
                roast, value, centre, centre - half, centre + half, centre + z * spread, why,
                begun(scores, z > 0) if why == "drifted" else None,
            )
        )  # fmt: skip
        if why == "drifted":
            z = 0.0
            scores.clear()
        if why != "outside" or len(good) < ENOUGH - 1:
            good.append(value)
    return tuple(points)


def begun(scores: Sequence[tuple[Summary, float]], up: bool) -> Summary | None:
    """The roast with which a drift seems to have begun: the CUSUM of the scores last left zero there (Montgomery)."""
    sums = cusum([s if up else -s for _, s in scores], target=0.0, slack=0.5)
    begin = max((i + 1 for i, s in enumerate(sums) if s == 0), default=0)
    return scores[begin][0] if begin < len(scores) else None


def trend(profile: Profile, roasts: Sequence[Summary]) -> Trend:
    """The charts of a profile's roasts, oldest first."""
    scales = Counter(r.colour_scale for r in roasts if r.colour is not None)
    scale = scales.most_common(1)[0][0] if scales else ""
    series: list[tuple[Quantity, list[tuple[Summary, float]]]] = []
    for q in QUANTITIES:
        rows = [(r, getattr(r, q.column)) for r in roasts]
        values = [(r, v) for r, v in rows if v is not None and (q.column != "colour" or r.colour_scale == scale)]
        if values:
            series.append((q, values))
    charts = []
    for q, values in series:
        target, tolerance = tolerance_of(profile, q)
        fit = None
        if target is not None and tolerance is not None:
            fit = capability([v for _, v in values], target - tolerance, target + tolerance)
        charts.append(Chart(q, judge(values, len(series), LEAST_SPREAD[q.kind]), target, tolerance, fit))
    return Trend(profile, tuple(roasts), tuple(charts), scale)


def tolerance_of(profile: Profile, quantity: Quantity) -> tuple[float | None, float | None]:
    """The profile's target and tolerance (half width) of a quantity, in °C, K or s."""
    d, unit, goals = profile.document, profile.unit, profile.goals
    known: dict[str, tuple[float | None, float | None]] = {
        "charge_temperature": (profile.charge_temperature, to_kelvins(d.charge_tolerance, unit)),
        "drop_temperature": (profile.drop_temperature, to_kelvins(d.drop.temperature_tolerance, unit)),
    }
    if profile.development is not None:
        known["development"] = profile.development, d.drop.time_tolerance
    times: dict[str, Event] = {"turning_time": "turning point", "yellow_time": "yellow", "crack_time": "first crack"}
    known |= {name: (goals[e].time, goals[e].time_tolerance) for name, e in times.items() if e in goals}
    if crack := goals.get("first crack"):
        known["crack_temperature"] = crack.temperature, crack.temperature_tolerance
    return known.get(quantity.column, (None, None))
