"""A trend in words and in plots for the terminal.  Pure."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from statistics import fmean, stdev
from typing import Final

import numpy as np

from coach.logbook.text.picture import Picture, framed, spread
from coach.logbook.text.text_table import fitted, signed, signed_clock
from coach.logbook.trend.spc import sigma_of_ranges
from coach.logbook.trend.trend import ENOUGH, FALSE_SIGNALS, RULES, Chart, Point, Quantity, Trend
from coach.roast.errors import printable
from coach.roast.units import TemperatureUnit, clock, from_celsius, from_kelvins, number

HEAD: Final = ("", "roasts", "mean", "spread", "next", "plan", "off", "tolerance", "Cp", "Cpk (95 %)", "flagged")
"""Columns of the overview."""
FEW: Final = f"PROVISIONAL: under {ENOUGH} roasts limits are wide, and only single roasts far off are flagged."
SIGNS: Final = "o a roast, X a flagged one; lines: limits and weighted mean; single dots: the plan."


def show(q: Quantity, value: float, unit: TemperatureUnit, digits: int = 1) -> str:
    """A value of a quantity as a person reads it."""
    if q.kind == "time":
        return clock(value)
    if q.kind == "temperature":
        return f"{number(from_celsius(value, unit), digits)} °{unit}"
    return number(value, digits) + (" %" if q.kind == "percent" else "")


def show_width(q: Quantity, value: float, unit: TemperatureUnit) -> str:
    """A difference or spread of a quantity."""
    if q.kind == "time":
        return f"{number(value)} s"
    if q.kind == "temperature":
        return f"{number(from_kelvins(value, unit), 1)} °{unit}"
    return number(value, 2) + (" points" if q.kind == "percent" else "")


def difference(q: Quantity, value: float, unit: TemperatureUnit) -> str:
    """A difference with its sign."""
    if q.kind == "time":
        return signed_clock(value)
    if q.kind == "temperature":
        return f"{signed(from_kelvins(value, unit))} °{unit}"
    return signed(value) + (" points" if q.kind == "percent" else "")


def signal_text(chart: Chart, p: Point, unit: TemperatureUnit) -> str:
    """The reason why a roast is flagged, in words."""
    q = chart.quantity
    assert p.centre is not None
    assert p.lower is not None
    assert p.upper is not None
    head = f"{p.roast.day} {printable(p.roast.name)}: {q.name} {show(q, p.value, unit)}"
    if p.why == "outside":
        limit, word = (p.upper, "above") if p.value > p.upper else (p.lower, "below")
        return f"{head} lies {word} {show(q, limit, unit)}, the limit set by the roasts before"
    assert p.ewma is not None
    word = "up" if p.ewma > p.centre else "down"
    since = f", it seems since {p.since.day} {printable(p.since.name)}" if p.since is not None else ""
    return f"{head}: the latest roasts together have gone {word} from {show(q, p.centre, unit)}{since}"


def plot(chart: Chart, unit: TemperatureUnit, width: int, height: int, plain: bool = False) -> list[str]:
    """Values (o, flagged X), their limits as lines, the weighted mean as a line of dots."""
    points = chart.points[-(2 * width) :]
    first = len(chart.points) - len(points) + 1
    seen = [*settled(points), *([] if chart.target is None else [chart.target])]
    last = first + len(points) - 1
    picture = Picture(width, height, (first, last), spread(seen))
    for name in ("lower", "upper", "ewma"):
        values = [getattr(p, name) for p in points]
        picture.line(picture.along(range(first, last + 1), [np.nan if v is None else v for v in values]))
    if chart.target is not None:
        picture.level(chart.target)
    for i, p in enumerate(points, first):
        picture.sign(i, p.value, "X" if p.why else "o")
    return framed(picture, lambda v: show(chart.quantity, v, unit, 0), f"roast {first}", str(last), plain)


def settled(points: Sequence[Point]) -> list[float]:
    """Values that a chart must show: all values, and the limits of the newest quarter.  The first limits are wide, from
    few roasts, and would leave the values a line in the middle."""
    newest = points[-max(len(points) // 4, 1) :]
    limits = [v for p in newest for v in (p.lower, p.upper) if v is not None]
    return [*(p.value for p in points), *limits]


def overview_rows(t: Trend) -> list[tuple[str, ...]]:
    """All charts, a row each: count, mean, spread, plan, Cp and Cpk."""
    unit = t.profile.unit
    rows: list[tuple[str, ...]] = []
    for c in t.charts:
        q, values = c.quantity, [p.value for p in c.points]
        fit = c.capability
        mean = fmean(values)
        low, high = fit.interval if fit is not None else (0.0, 0.0)
        rows.append(
            (
                q.name + (f" ({printable(t.scale)})" if q.column == "colour" and t.scale else ""),
                str(len(values)) + (" prov." if c.provisional else ""),
                show(q, mean, unit),
                show_width(q, stdev(values), unit) if len(values) > 1 else "–",
                show_width(q, sigma_of_ranges(values), unit) if len(values) > 1 else "–",
                "–" if c.target is None else show(q, c.target, unit),
                "–" if c.target is None else difference(q, mean - c.target, unit),
                "–" if c.tolerance is None else f"± {show_width(q, c.tolerance, unit)}",
                "–" if fit is None else f"{fit.cp:.2f}",
                "–" if fit is None else f"{fit.cpk:.2f} ({low:.1f} to {high:.1f})".replace("-", "−"),
                str(len(c.signals)) if c.signals else "",
            )
        )
    return rows


def overview(t: Trend, width: int) -> list[str]:
    """All charts as a table; where there is no room, columns go to a second line."""
    return fitted(
        HEAD,
        overview_rows(t),
        {*HEAD} - {"", "Cpk (95 %)"},
        width,
        ("next", "tolerance", "plan", "Cp", "flagged", "Cpk (95 %)"),
    )


def text(t: Trend, width: int = 80, plain: bool = False, only: str = "") -> list[str]:
    """The whole trend for a terminal of ``width`` columns; ``only`` draws the charts with this in their name."""
    wide = max(width, 30)
    out = [f"{printable(t.profile.name)}: {count(t)}"]
    if not t.charts:
        return [*out, "Nothing to chart yet."]
    if t.provisional:
        out += textwrap.wrap(FEW, wide)
    out += ["", *overview(t, width), ""]
    for line in flagged(t)[-12:] or ["No roast is flagged."]:
        out += textwrap.wrap(line, wide, subsequent_indent="  ")
    out += ["", *(w for line in (*rules_text(), SIGNS) for w in textwrap.wrap(line, wide))]
    for c in t.charts:
        if only in c.quantity.name and len(c.points) > 1:
            out += ["", c.quantity.name + (" (provisional)" if c.provisional else "")]
            out += plot(c, t.profile.unit, max(width - 12, 20), 8, plain)
    return out


def count(t: Trend) -> str:
    """The number of the roasts and their days, in words."""
    span = f", {t.roasts[0].day} to {t.roasts[-1].day}" if t.roasts else ""
    return f"{len(t.roasts)} roast{'s' if len(t.roasts) != 1 else ''}{span}"


def flagged(t: Trend) -> list[str]:
    """The reason for each flag, oldest first."""
    return [
        s for _, s in sorted((p.roast.moment, signal_text(c, p, t.profile.unit)) for c in t.charts for p in c.signals)
    ]


def rules_text() -> list[str]:
    """The rules with their false alarms, and the meaning of the columns."""
    share = round(1 / FALSE_SIGNALS)
    return [
        "Flagged: " + "; ".join(RULES) + ".",
        f"Where nothing changes about 1 roast in {share} is flagged by chance, all charts together.",
        "spread: standard deviation of all roasts; next: that from one roast to the next (mean moving range / 1.128), "
        "where it is much smaller, it drifts; off: the mean against the plan; Cpk: at 1 or more it stays within the "
        "profile's tolerance.",
    ]
