"""The brief in plain lines, its curve drawn in characters, and as one page."""

from __future__ import annotations

import textwrap

from markupsafe import Markup

from coach.logbook.brief.brief import Brief
from coach.logbook.brief.handover import Section
from coach.logbook.review.review_page import draw_plan
from coach.logbook.review.review_plots import LETTERS, PAD, on_plan, placed
from coach.logbook.text.html import render
from coach.logbook.text.svg import DARK, MIDDLE, clock_axis, drawing, svg
from coach.logbook.text.text_table import fitted
from coach.roast.errors import printable
from coach.roast.units import from_celsius, number

RIGHT = frozenset(range(2, 20))


def text(b: Brief, width: int = 80, plain: bool = False) -> list[str]:
    """The whole page for a terminal of ``width`` columns, with the line to follow above its recipe."""
    out = [printable(b.title), *textwrap.wrap(printable(b.newer), width)]
    for s in b.sections:
        if s.title == "Recipe":
            out += ["", "THE LINE TO FOLLOW, WITH ITS BAND", *drawn(b, width, plain)]
        out += ["", s.title.upper()]
        if s.rows:
            out += [f"  {line}" for line in _fitted(s, width - 2)]
        for i, line in enumerate(s.lines, 1):
            several = len(s.lines) > 1 and not s.check
            mark = f"{i}. " if s.ordered else "[ ] " if s.check and i > 1 else "- " if several else ""
            wrapped = textwrap.wrap(printable(mark + line), max(width - 2, 30), subsequent_indent=" " * len(mark))
            out += [f"  {w}" for w in wrapped]
    out += ["", "CONFIRM (the incoming person says it back)"]
    for f in b.facts:
        line = f"[ ] {printable(f.question)} {printable(f.answer)}"
        out += [f"  {w}" for w in textwrap.wrap(line, max(width - 2, 30), subsequent_indent="    ")]
    return out


def _fitted(s: Section, width: int) -> list[str]:
    """A section's table; its spare columns go below their rows where there is no room."""
    return fitted(s.head, s.rows, {name for i, name in enumerate(s.head) if i in RIGHT}, width, s.spare)


def drawn(b: Brief, width: int, plain: bool = False) -> list[str]:
    """The curve, events as letters below, moves as planned; in mid-roast today's readings (o) on it."""
    cells = max(width - PAD - 2, 20)
    readings = [(r.t, r.celsius) for r in b.readings]
    end = max([b.profile.curve.end, *(t for t, _ in readings)])
    letters = [(goal.time, LETTERS[event].lower()) for event, goal in b.profile.goals.items() if event in LETTERS]
    out = on_plan(b.profile, b.profile.unit, readings, letters, cells, end, plain)
    for control in ("gas", "air", "drum"):
        moves = [(max(s.time, 0.0), number(s.shown, 3)) for s in b.profile.steps if s.control == control]
        out += placed(control, moves, cells, end) if moves else []
    return out


def brief_page(b: Brief) -> str:
    """The page, with the curve to follow and, in mid-roast, today's readings on it."""
    dots = " Dots: today's readings." if b.readings else ""
    return render(
        "brief/page.html", title=b.title, newer=b.newer, named={s.title: s for s in b.sections}, facts=b.facts,
        numbers=RIGHT, invented=b.profile.document.invented, drawing=curve_svg(b),
        caption=f"Dashed: the line to follow, with its band. Labels: events and moves.{dots}",
    )  # fmt: skip


def curve_svg(b: Brief) -> Markup:
    """The line to follow with its band, events and moves; today's readings where there are any."""
    profile, unit = b.profile, b.profile.unit

    def show(celsius: float) -> float:
        return from_celsius(celsius, unit)

    with drawing(3.8, 2.9) as (figure_, ax):
        line = draw_plan(ax, profile, unit)
        for event, goal in profile.goals.items():
            ax.plot([goal.time], [show(goal.temperature)], "D", color="white", markeredgecolor=DARK, markersize=4)
            low = event == "turning point"  # the curve leaves room below it alone
            place = (goal.time, show(goal.temperature - 14)) if low else (goal.time - 8, show(goal.temperature) + 7)
            ax.text(*place, event, fontsize=6.5, ha="center" if low else "right")
        for i, s in enumerate(x for x in profile.steps if x.time > 1):
            ax.axvline(s.time, color=MIDDLE, linewidth=0.6, linestyle=":")
            place = (s.time + 4, show(float(line.min())) + (i % 2) * 9)
            ax.text(*place, f"{s.control} {number(s.shown, 2)}", fontsize=6.5)
        ax.plot([r.t for r in b.readings], [show(r.celsius) for r in b.readings], "o", color=DARK, markersize=2.4)
        ax.margins(y=0.12)
        clock_axis(ax.xaxis, 2000.0)
        ax.set_xlabel("time since charge (m:ss)", labelpad=1)
        return svg(figure_, "recipe", "The temperature curve to follow, with events and moves")
