"""The trend of a profile as one page: a table, then a chart for each quantity."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import numpy as np
from markupsafe import Markup

from coach.logbook.text.html import Table, render
from coach.logbook.text.picture import spread
from coach.logbook.text.svg import ACCENT, DARK, LIGHT, MIDDLE, clock_axis, drawing, svg
from coach.logbook.trend.text import FEW, HEAD, count, flagged, overview_rows, rules_text, settled
from coach.logbook.trend.trend import Chart, Trend
from coach.roast.units import TemperatureUnit, from_celsius

MOST: Final = 150
"""Number of newest roasts that a chart shows; limits and signals are those of all."""


def trend_page(t: Trend) -> str:
    """The page."""
    return render(
        "trend/page.html", title=f"Trend: {t.profile.name}", name=t.profile.name, count=f"{count(t)}.",
        provisional=FEW if t.provisional else "",
        overview=Table("All quantities", HEAD, overview_rows(t), frozenset(range(1, 11))),
        signals=flagged(t)[-20:], rules=rules_text(),
        charts=[
            (chart_svg(c, t.profile.unit, f"chart{i}"), _caption(c, t))
            for i, c in enumerate(t.charts) if len(c.points) > 1
        ],
    )  # fmt: skip


def _caption(c: Chart, t: Trend) -> str:
    sign = {"temperature": f" (°{t.profile.unit})", "percent": " (%)"}.get(c.quantity.kind, "")
    scale = f" ({t.scale})" if c.quantity.column == "colour" and t.scale else ""
    count = f"{'' if len(c.points) <= MOST else f'the last {MOST} of '}{len(c.points)} roasts"
    return f"{c.quantity.name}{sign}{scale}: {count}{' (provisional)' if c.provisional else ''}"


def chart_svg(c: Chart, unit: TemperatureUnit, name: str) -> Markup:
    """One quantity over the roasts, in the range of its values and settled limits: the first, wide limits may leave the
    picture."""
    from matplotlib.ticker import MaxNLocator

    q, points = c.quantity, c.points[-MOST:]
    roasts = np.arange(len(c.points) - len(points), len(c.points)) + 1
    flagged = [bool(p.why) for p in points]
    tolerated = [] if c.target is None or c.tolerance is None else [c.target - c.tolerance, c.target + c.tolerance]

    def scaled(values: Iterable[float | None]) -> Any:
        known: Any = np.array(list(values), dtype=float)
        return from_celsius(known, unit) if q.kind == "temperature" else known

    def each(attribute: str) -> Any:
        return scaled(getattr(p, attribute) for p in points)

    with drawing(3.7, 1.7) as (figure_, ax):
        if tolerated:
            ax.axhspan(*scaled(tolerated), color=LIGHT, linewidth=0, alpha=0.6)
        if c.target is not None:
            ax.axhline(*scaled([c.target]), color=MIDDLE, linestyle=(0, (5, 2)), linewidth=0.8)
        for side in ("lower", "upper"):
            ax.step(roasts, each(side), where="mid", color=DARK, linewidth=0.7)
        ax.plot(roasts, each("ewma"), color="#8a8a8a", linewidth=2.2)
        ax.plot(roasts, each("value"), "o-", color=DARK, markersize=2.4, linewidth=0.4)
        ax.plot(roasts[flagged], each("value")[flagged], "s", markersize=6, color="none", markeredgecolor=ACCENT)
        ax.set_ylim(*spread(scaled([*settled(points), *tolerated])))
        if q.kind == "time":
            clock_axis(ax.yaxis)
        ax.xaxis.set_major_locator(MaxNLocator(7, integer=True))
        ax.set_xlabel("roast", labelpad=0)
        return svg(figure_, name, f"{q.name} from roast to roast")
