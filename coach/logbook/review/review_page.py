"""The review of a roast as one page that prints on one sheet, with its picture: curve, band, readings, marks, moves and
cues; and the differences below."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from markupsafe import Markup

from coach.logbook.index.one_roast import about, facts
from coach.logbook.review.review import Array, Review, plan_events
from coach.logbook.review.review_text import (
    PROPOSED,
    advised_lines,
    cue_lines,
    cues_head,
    forecast_lines,
    milestone_table,
    phase_table,
)
from coach.logbook.text.html import render
from coach.logbook.text.svg import ACCENT, DARK, LIGHT, MIDDLE, clock_axis, drawing, svg
from coach.logbook.text.text_table import cut, noted
from coach.roast.profile import Profile
from coach.roast.units import TemperatureUnit, from_celsius, from_kelvins, from_kpa, number

MOST_CUES: Final = 10
MOST_NOTES: Final = 3
MOST_ADVISED: Final = 3
LINE_CELLS: Final = 100
TAUGHT_CELLS: Final = 160
"""Limits of texts on the one sheet; the journal has all of them, and the page counts those left out."""


def review_page(r: Review) -> str:
    """The page."""
    h, result, notes = r.roast.header, r.roast.result, r.roast.notes
    cues = [line for line in cue_lines(r)[:-1] if not line.startswith(" ")]  # none before charge, and not their number
    name = r.summary.name or h.id
    return render(
        "review/page.html", title=f"Roast {name}: {r.profile.name}", name=cut(r.profile.name, 60),
        about=" · ".join([cut(name, 40), *about(r.summary)]), invented=r.profile.document.invented,
        drawing=roast_svg(r, MOST_CUES), milestones=milestone_table(r), phases=phase_table(r),
        facts=facts(r.summary, result),
        cup=cut(f"Cup: {result.cup_notes}", 160) if result is not None and result.cup_notes else "",
        differences=r.differences, basis=r.basis, forecasts=forecast_lines(r), proposal=r.proposal,
        proposed=PROPOSED, taught=cut(r.taught, TAUGHT_CELLS), cues_head=cues_head(r),
        notes=_some([f"{noted(t, r.summary.drop_time)} {text}" for t, text in notes], MOST_NOTES),
        cues=_some(cues, MOST_CUES), advised=_some(advised_lines(r), MOST_ADVISED),
    )  # fmt: skip


def _some(lines: list[str], most: int) -> list[str]:
    """The first lines, and the number of those left out."""
    left = [f"{len(lines) - most} more in the journal."] if len(lines) > most else []
    return [*(cut(line, LINE_CELLS) for line in lines[:most]), *left]


def roast_svg(r: Review, most_cues: int) -> Markup:
    """Two panels: temperatures over time, and the difference from the reference by the clock and by events."""
    unit = r.roast.header.unit
    end = max(r.profile.curve.end, float(r.t[-1]) if len(r.t) else 0.0, r.roast.marks.get("drop", 0.0)) + 20
    with drawing(7.6, 3.6, 3, 1, sharex=True, height_ratios=(4.6, 1.0, 1.5)) as (figure, axes):
        top, controls, off = axes
        _curves(top, r, unit)
        _marks(top, r, unit)
        _cues(top, r, most_cues)
        _pops(top, r)
        _controls(controls, r, end)
        _differences(off, r, unit, end)
        clock_axis(off.xaxis, end)
        off.set_xlim(-20, end)
        off.set_xlabel("time since charge (m:ss)", labelpad=1)
        return svg(figure, "roast", "Today's readings against the reference with its band, moves, marks and cues")


def draw_plan(ax: Any, profile: Profile, unit: TemperatureUnit) -> Array:
    """Draw the line to follow with its band; return the line, °C."""
    grid = np.arange(0.0, profile.curve.end + 1, 2.0)
    line: Any = profile.curve.at(grid)
    half = profile.bands(grid)
    low, high = from_celsius(line - half, unit), from_celsius(line + half, unit)
    ax.fill_between(grid, low, high, color=LIGHT, linewidth=0, label="band")
    ax.plot(grid, from_celsius(line, unit), color=MIDDLE, linestyle=(0, (5, 2)), label="reference")
    ax.set_ylabel(f"probe (°{unit})")
    return np.asarray(line)


def _curves(ax: Any, r: Review, unit: TemperatureUnit) -> None:
    reference = draw_plan(ax, r.profile, unit)

    def show(x: Any) -> Any:
        return from_celsius(x, unit)

    ax.plot(r.t, show(r.celsius), color=DARK, linewidth=0.8)
    ax.plot(r.t, show(r.celsius), "o", color=DARK, markersize=2.6, label="readings")
    low, high = float(min(reference.min(), *r.celsius)), float(max(reference[-1], *r.celsius[len(r.t) // 3 :]))
    ax.set_ylim(show(low - 12), show(max(high, r.profile.charge_temperature) + 14))
    yellow = [t for m in r.milestones if m.event == "yellow" for t in (m.planned, m.actual) if t is not None]
    left = max(yellow, default=r.profile.curve.end / 2) + 20
    ax.legend(loc="lower left", bbox_to_anchor=(left, ax.get_ylim()[0]), bbox_transform=ax.transData, handlelength=2.4)


def _marks(ax: Any, r: Review, unit: TemperatureUnit) -> None:
    """Each event: a full line where it came, a dotted one where it was planned; its name on the side that the dotted
    line leaves free, that of the turning point above the curve."""
    planned = plan_events(r.profile)
    low, high = ax.get_ylim()
    for m in r.milestones:
        if m.event == "charge":
            continue
        if m.event in planned:
            ax.axvline(planned[m.event], color=MIDDLE, linestyle=":", linewidth=0.9)
        if m.actual is not None:
            ax.axvline(m.actual, color=DARK, linewidth=0.7)
            side, align = (3, "left") if m.late is not None and m.late > 0 else (-3, "right")
            height = 0.45 if m.event == "turning point" else 0.03
            place = (m.actual + side, low + height * (high - low))
            ax.text(*place, m.event, rotation=90, ha=align, va="bottom", fontsize=7)


def _pops(ax: Any, r: Review) -> None:
    """Each tapped pop as a tick at the bottom."""
    low, high = ax.get_ylim()
    pops = [t for t in r.roast.pops if t >= 0]
    ax.plot(pops, [low + 0.015 * (high - low)] * len(pops), "|", color=DARK, markersize=4, markeredgewidth=0.6)


def _cues(ax: Any, r: Review, most: int) -> None:
    """Cues that were heard: numbered triangles at the top; the numbers are those of the table."""
    low, high = ax.get_ylim()
    heard = [c for c in r.cues if c.counts and c.when >= 0]
    for i, c in enumerate(heard[:most], 1):
        y = high - (0.03 + 0.07 * (i % 2)) * (high - low)
        filled = c.family == "alarm"
        ax.plot(
            [c.when], [y], "v", color=DARK if filled else "white", markeredgecolor=DARK, markersize=5, clip_on=False
        )
        ax.text(c.when + 5, y, str(i), fontsize=6.5, va="center")


def _controls(ax: Any, r: Review, end: float) -> None:
    """Gas as made (full) and as planned (dashed); air as numbers."""
    unit = r.profile.document.pressure_unit

    def steps(moves: list[tuple[float, float]]) -> tuple[list[float], list[float]]:
        xs = [max(t, -20.0) for t, _ in moves] + [end]
        return xs, [v for _, v in moves] + [moves[-1][1]]

    made = [(m.t, from_kpa(m.value, unit)) for m in r.roast.moves if m.control == "gas"]
    plan = [(s.time, s.shown) for s in r.profile.steps if s.control == "gas"]
    if plan:
        ax.step(*steps(plan), where="post", color=MIDDLE, linestyle=(0, (5, 2)))
    if made:
        ax.step(*steps(made), where="post", color=DARK)
    ax.set_ylabel(f"gas ({unit})")
    top = max([v for _, v in [*made, *plan]], default=1.0)
    ax.set_ylim(0, top * 1.75)
    air = [m for m in r.roast.moves if m.control == "air" and m.t <= end]
    for m in air:
        ax.text(max(m.t, -18), top * 1.42, f"air {number(m.shown, 2)}", fontsize=6.5)


def _differences(ax: Any, r: Review, unit: TemperatureUnit, end: float) -> None:
    past = r.t > r.profile.curve.turning_point[0] + 10
    t = r.t[past]
    grid = np.arange(0.0, end, 5.0)
    half = from_kelvins(1.0, unit) * r.profile.bands(grid)
    ax.fill_between(grid, -half, half, color=LIGHT, linewidth=0)
    ax.axhline(0, color=MIDDLE, linewidth=0.7)
    ax.plot(
        t,
        from_kelvins(1.0, unit) * r.off_by_clock[past],
        "o-",
        color=DARK,
        markersize=2,
        linewidth=0.9,
        label="by the clock",
    )
    ax.plot(t, from_kelvins(1.0, unit) * r.off_by_events[past], color=ACCENT, linestyle=(0, (2, 1)), label="by events")
    ax.set_ylabel(f"off (°{unit})")
    ax.legend(loc="lower left", ncols=2, handlelength=2.6, borderaxespad=0.1)
