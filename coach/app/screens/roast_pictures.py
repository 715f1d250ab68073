"""The pictures of a roast: distance from plan, temperature, gas and air, ranges of first crack and drop.  Pure."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np
from rich.text import Text

from coach.app.screens.palette import Sketch
from coach.cues.situation import Situation
from coach.forecast.distribution import Distribution
from coach.forecast.forecast_values import Forecast
from coach.logbook.text.picture import Array, Picture
from coach.roast.units import Control, clock, from_celsius, from_kelvins, number

LABELS: Final = 5
"""Width of the scale's labels, left of a picture, cells."""
Z80: Final = 1.2816
"""Half of the central 80 % range of a normal distribution, in standard deviations."""
SCALES: Final = (5.0, 7.5, 10.0, 15.0, 20.0, 30.0)
"""Possible reaches of the off-plan strip to each side, K."""
READING, DOUBTED, NOW = "●", "?", "◆"
SPARKS: Final = "▁▂▃▄▅▆▇█"


def axis_end(s: Situation) -> float:
    """End of the time axis, s: soon after the drop, planned, forecast or made."""
    drop = s.roast.marks.get("drop")
    now = max(s.t or 0.0, 0.0)
    if drop is not None:
        return max(drop, s.profile.curve.end) + 15.0
    ends = [s.profile.curve.end + 20.0, now + 30.0]
    if s.forecast.drop is not None:
        ends.append(min(s.forecast.drop.time.q90, s.profile.curve.end + 180.0) + 15.0)
    return max(ends)


def strip_scale(s: Situation) -> float:
    """Reach of the strip to each side, K: the band and the readings since the turning point, with some room."""
    begin = s.profile.curve.turning_point[0]
    end = s.profile.curve.end
    most = 1.6 * float(s.profile.bands(np.array([begin + 1, (begin + end) / 2, end])).max())
    doubted = s.estimate.doubtful if s.estimate is not None else {}
    for r in s.roast.readings:
        if r.t > begin + 20 and r.line not in doubted:
            most = max(most, 1.1 * abs(r.celsius - s.profile.curve.value(r.t)))
    if s.forecast.deviation is not None and (s.t or 0.0) > begin:
        most = max(most, 1.3 * abs(s.forecast.deviation))
    return next((x for x in SCALES if x >= most), SCALES[-1])


def _scale_labels(high: float, low: float, height: int, steps: tuple[float, ...], sign: bool) -> list[str]:
    out = [" " * LABELS] * height
    for value in steps:
        y = round((high - value) / (high - low) * (height * 4 - 1)) // 4
        if 0 <= y < height:
            text = number(abs(value), 1)
            mark = ("+" if value > 0 else "−" if value < 0 else "") if sign else ""
            out[y] = f"{mark + text:>{LABELS - 1}} "
    return out


def time_axis(end: float, width: int) -> str:
    """Times under a picture of ``width`` cells with its labels."""
    every = next((e for e in (60, 120, 180, 240, 300, 600, 1200) if width / (end / e) >= 11), 1800)
    row = [" "] * (LABELS + width)
    for t in range(0, int(end) + 1, every):
        at = LABELS + round(t / end * (width - 1))
        text = clock(t)
        if at + len(text) <= len(row):
            row[at : at + len(text)] = text
    return "".join(row)


def _lines(p: Picture, s: Situation, how: Sketch, other: Forecast | None, base: Array, begin: float = -np.inf) -> None:
    """Draw the fan (8 of 10), today's line from ``begin`` (s) on with its readings, the trajectory of a question
    (``other``), and the present point, each less ``base`` at the picture's times (°C).  The present is the moment of
    the forecast: seconds without one move nothing."""
    doubted = s.estimate.doubtful if s.estimate is not None else {}
    cooling = s.roast.phase == "cooling"

    def less(t: float, celsius: float) -> float:
        return celsius - float(np.interp(t, p.times, base))

    path = s.forecast.path if not cooling else None
    if path is not None:
        middle = p.along(path.t, path.mean) - base
        reach = Z80 * np.interp(p.times, path.t, path.sd)
        p.between(middle - reach, middle + reach, "fan")
        for values, dashes in ((middle - reach, 0), (middle + reach, 0), (middle, 2)):
            p.line(values, "fan", dashes=dashes)
    end = s.roast.marks.get("drop", np.inf) + 5.0
    readings = [r for r in s.roast.readings if begin <= r.t <= end]
    points = [(r.t, r.celsius) for r in s.roast.readings if r.line not in doubted and r.t <= end]
    now = None
    if s.t is not None and s.estimate is not None and s.estimate.reading_t is not None and not cooling:
        now = (s.t, s.estimate.temperature) if path is None else (float(path.t[0]), float(path.mean[0]))
        points += [now] if not points or now[0] > points[-1][0] else []
    if len(points) > 1:
        x, y = np.array(points).T
        today = p.along(x, y) - base
        today[p.times < begin] = np.nan
        p.line(today, "today")
    for r in readings:
        sign, ink = (DOUBTED, "doubt") if r.line in doubted else (READING, "today")
        p.sign(r.t, less(r.t, r.celsius), sign, ink)
    if other is not None and other.path is not None:
        p.line(p.along(other.path.t, other.path.mean) - base, "other")
    if now is not None and now[0] >= begin:
        p.sign(now[0], less(*now), NOW, "now")


def strip(s: Situation, width: int, height: int, how: Sketch, other: Forecast | None = None) -> Text:
    """Distance from plan over the whole roast, in ``width`` x ``height`` cells with labels and time axis.

    The tolerance band is a shaded lane (drawn by its edges where there is no shade), readings and estimate a line, the
    forecast a fan (8 of 10), due moves ticks, first crack and drop windows at the lower edge.
    """
    columns, rows = max(width - LABELS, 12), max(height - 1, 3)
    end, reach = axis_end(s), strip_scale(s)
    p = Picture(columns, rows, (0.0, end), (-reach, reach))
    times = p.times
    half = s.profile.bands(times)
    if how.grounds:
        p.shade(-half, half, "lane")
    else:
        p.line(half, "edge", dashes=2)
        p.line(-half, "edge", dashes=2)
    p.line(np.zeros(len(times)), "plan", dashes=3)
    _moves(p, s)
    _lines(p, s, how, other, s.profile.curve.at(times), s.profile.curve.turning_point[0] - 5.0)
    _windows(p, s, other)
    step = next((x for x in (1.0, 2.0, 2.5, 5.0, 10.0, 20.0) if rows * 4 * x / (2 * reach) >= 10), 50.0)
    unit = s.roast.header.unit
    shown = from_kelvins(reach, unit)
    step = step if unit == "C" else 2 * step
    marks = tuple(float(k * step) for k in range(-int(shown / step), int(shown / step) + 1))
    labels = _scale_labels(shown, -shown, rows, marks, True)
    picture = p.text(how.inks(), plain=how.plain, left=labels)
    return picture.append("\n" + time_axis(end, columns), how.look.soft)


def _moves(p: Picture, s: Situation) -> None:
    """Draw the planned moves of the gas: ticks with the value at the upper edge, those to come bold."""
    now, last = s.t or 0.0, -9
    for step in s.profile.steps:
        if step.control != "gas" or step.time <= 0:
            continue
        x = p.column(step.time) // 2
        to_come = step.time > now
        p.upright(step.time, "tick", every=3)
        if x > last + 8 and p.height >= 5:
            p.put(x, 0, f"▾gas {number(step.shown, 2)}", "window" if to_come else "tick")
            last = x


def _windows(p: Picture, s: Situation, other: Forecast | None) -> None:
    """Draw the ranges of first crack and drop (8 of 10), or their marks, at the lower edge."""
    y, spans = p.height - 1, []
    for name, found, mark in (
        ("crack", s.forecast.first_crack, s.roast.marks.get("first crack")),
        ("drop", s.forecast.drop, s.roast.marks.get("drop")),
    ):
        if mark is not None:
            spans.append((name, mark, mark, mark))
        elif found is not None:
            spans.append((name, found.time.q10, found.time.median, found.time.q90))
    taken = 0
    for name, low, middle, high in spans:
        a, m, b = (p.column(t) // 2 for t in (low, middle, high))
        bar = "┃" if a == b else "├" + "─" * (b - a - 1) + "┤"
        start = a - len(name) - 1
        if start >= taken:  # close to its own bar rather than to the one before it
            p.put(start + (start == taken > 0), y, name, "window")
        p.put(a, y, bar, "window")
        if a < m < b:
            p.put(m, y, "┿", "window")
        taken = b + 1
    if other is not None and other.first_crack is not None:
        p.put(p.column(other.first_crack.time.median) // 2, y, "◆", "other")


def curve_picture(s: Situation, width: int, height: int, how: Sketch, other: Forecast | None = None) -> Text:
    """The temperature over the whole roast: plan, today, forecast."""
    columns, rows = max(width - LABELS, 12), max(height - 1, 3)
    end = axis_end(s)
    values = s.profile.curve.values
    unit = s.roast.header.unit
    odd = s.estimate.doubtful if s.estimate is not None else {}
    read = [r.celsius for r in s.roast.readings if r.t > s.profile.curve.turning_point[0] and r.line not in odd]
    low = min([s.profile.curve.turning_point[1], *read]) - 8.0
    high = max([*values[1:], *read, s.profile.drop_temperature]) + 8.0
    p = Picture(columns, rows, (0.0, end), (low, high))
    p.line(s.profile.curve.at(p.times), "plan", dashes=3)
    _lines(p, s, how, other, np.zeros(len(p.times)))
    top, bottom = from_celsius(high, unit), from_celsius(low, unit)
    step = next((x for x in (10, 20, 25, 50, 100, 200) if rows / ((top - bottom) / x) >= 1.9), 400)
    marks = tuple(float(v) for v in range(int(bottom // step + 1) * step, int(top) + 1, step))
    labels = _scale_labels(top, bottom, rows, marks, False)
    return p.text(how.inks(), plain=how.plain, left=labels).append("\n" + time_axis(end, columns), how.look.soft)


def lane(s: Situation, control: Control, width: int, how: Sketch) -> Text:
    """One row: a control's setting over the roast, as made until now and as planned from then on."""
    columns = max(width - LABELS, 12)
    end, now = axis_end(s), s.t or 0.0
    out = Text(f"{control:>{LABELS - 1}} ", style=how.look.soft, no_wrap=True)
    made = sorted((m.t, m.value, m.shown) for m in s.roast.moves if m.control == control)
    steps = sorted((x.time, x.value, x.shown) for x in s.profile.steps if x.control == control)
    past = [m for m in made if m[0] <= now] or [x for x in steps if x[0] <= now]
    known = [*past, *(x for x in steps if x[0] > now)]
    if not known:
        return out
    most = max(v for _, v, _ in known) or 1.0
    times = np.linspace(0.0, end, columns)
    at = np.searchsorted([t for t, _, _ in known], times, side="right").clip(1) - 1
    cells = ["_" if how.plain else SPARKS[round(max(known[i][1], 0.0) / most * 4)] for i in at.tolist()]
    for (t, _, shown), (after, _, _) in pairwise([*known, (end, 0.0, 0.0)]):
        x, text = max(round(t / end * (columns - 1)), 0), f" {number(shown, 2)} "
        if after - t > 0 and x + len(text) + 1 < columns and (after - t) / end * columns > len(text):
            cells[x + 1 : x + 1 + len(text)] = text
    passed = int(np.searchsorted(times, now, side="right"))
    out.append("".join(cells[:passed]), how.look.fan if made else how.look.faint)
    return out.append("".join(cells[passed:]), how.look.faint)


def range_bar(found: Distribution, plan: float, reach: float, width: int, how: Sketch) -> Text:
    """8 of 10 as a bar with the middle as a dot, the plan as an upright tick; ``reach`` (s or K) to each side of it."""
    reach = max(reach, 1.1 * abs(found.q10 - plan), 1.1 * abs(found.q90 - plan))
    places = (np.array([found.q10, found.q90, plan, found.median]) - plan + reach) / (2 * reach) * (width - 1)
    low, high, planned, middle = np.rint(places).astype(int).clip(0, width - 1).tolist()
    cells = ["·"] * width
    cells[low : high + 1] = "━" * (high + 1 - low)
    cells[planned], cells[middle] = "┃", "●"
    out = Text("".join(cells), how.look.faint, no_wrap=True)
    out.stylize(how.look.fan, low, high + 1)
    out.stylize(f"bold {how.look.text}", planned, planned + 1)
    out.stylize(f"bold {how.look.fan}", middle, middle + 1)
    return out
