"""The trend of a profile as one page: a table, then a chart for each quantity."""

from __future__ import annotations

from typing import Any, Final

from markupsafe import Markup

from coach.logbook.text.html import Table, render
from coach.logbook.text.svg import ACCENT, DARK, LIGHT, MIDDLE, drawing, svg
from coach.logbook.trend.text import FEW, HEAD, count, flagged, overview_rows, rules_text, settled
from coach.logbook.trend.trend import Chart, Point, Quantity, Trend
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
    name = c.quantity.name + _sign(c.quantity, t.profile.unit)
    name += f" ({t.scale})" if c.quantity.column == "colour" and t.scale else ""
    count = f"{'' if len(c.points) <= MOST else f'the last {MOST} of '}{len(c.points)} roasts"
    return f"{name}: {count}{' (provisional)' if c.provisional else ''}"


def _scaled(q: Quantity, value: float | None, unit: TemperatureUnit) -> float | None:
    if value is None:
        return None
    return from_celsius(value, unit) if q.kind == "temperature" else value


def _sign(q: Quantity, unit: TemperatureUnit) -> str:
    return f" (°{unit})" if q.kind == "temperature" else " (%)" if q.kind == "percent" else ""


def _shown(c: Chart) -> list[tuple[int, Point]]:
    """The newest points with their numbers."""
    return list(enumerate(c.points, 1))[-MOST:]


def _values(c: Chart, name: str, unit: TemperatureUnit) -> tuple[list[int], list[float]]:
    """Numbers of the roasts, and values of one attribute of their points."""
    known = [(i, _scaled(c.quantity, getattr(p, name), unit)) for i, p in _shown(c)]
    return [i for i, v in known if v is not None], [v for _, v in known if v is not None]


def chart_svg(c: Chart, unit: TemperatureUnit, name: str) -> Markup:
    """One quantity over the roasts."""
    from matplotlib.ticker import MaxNLocator

    q = c.quantity
    with drawing(3.7, 1.7) as (figure_, ax):
        if c.target is not None and c.tolerance is not None:
            low, high = (_scaled(q, c.target + sign * c.tolerance, unit) for sign in (-1, 1))
            ax.axhspan(low, high, color=LIGHT, linewidth=0, alpha=0.6)
        if c.target is not None:
            ax.axhline(_scaled(q, c.target, unit), color=MIDDLE, linestyle=(0, (5, 2)), linewidth=0.8)
        for side in ("lower", "upper"):
            ax.step(*_values(c, side, unit), where="mid", color=DARK, linewidth=0.7)
        ax.plot(*_values(c, "ewma", unit), color="#8a8a8a", linewidth=2.2)
        ax.plot(*_values(c, "value", unit), "o-", color=DARK, markersize=2.4, linewidth=0.4)
        out = [(i, p) for i, p in _shown(c) if p.why]
        if out:
            shown = [_scaled(q, p.value, unit) for _, p in out]
            ax.plot([i for i, _ in out], shown, "s", markersize=6, color="none", markeredgecolor=ACCENT)
        _focus(ax, c, unit)
        _axis(ax.yaxis, q)
        ax.xaxis.set_major_locator(MaxNLocator(7, integer=True))
        ax.set_xlabel("roast", labelpad=0)
        return svg(figure_, name, f"{q.name} from roast to roast")


def _focus(ax: Any, c: Chart, unit: TemperatureUnit) -> None:
    """Set the range to that of values and settled limits: the first, wide limits may leave the picture."""
    shown = settled([p for _, p in _shown(c)])
    if c.target is not None and c.tolerance is not None:
        shown += [c.target - c.tolerance, c.target + c.tolerance]
    low, high = (_scaled(c.quantity, v, unit) or 0.0 for v in (min(shown), max(shown)))
    room = 0.06 * (high - low) or 1.0
    ax.set_ylim(low - room, high + room)


def _axis(axis: Any, q: Quantity) -> None:
    if q.kind == "time":
        from matplotlib.ticker import FuncFormatter, MaxNLocator

        axis.set_major_locator(MaxNLocator(5, steps=[1, 1.5, 2, 3, 6, 10]))
        axis.set_major_formatter(FuncFormatter(lambda s, _: f"{int(max(s, 0)) // 60}:{int(max(s, 0)) % 60:02d}"))
