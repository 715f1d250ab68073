"""Plots of a review in characters: curve, moves, cues, and the distance from the plan.  Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from coach.logbook.review.review import Review, degrees
from coach.logbook.text.picture import Picture, framed, spread
from coach.logbook.text.text_table import signed
from coach.roast.profile import Profile
from coach.roast.units import TemperatureUnit, clock, from_kelvins, from_kpa, number

SIGNS: Final = "123456789abcdefghijklmnopqrstuvwxyz"
"""Numbers of the cues, one character each."""
LETTERS: Final = {"yellow": "Y", "first crack": "F", "drop": "D"}
PAD: Final = 8
"""Width of the labels at the left, cells, so that all plots share one axis of time."""
AFTER: Final = 10.0
"""Time after the drop at which the axis ends, s."""
LEFT_OPEN: Final = 180.0
"""Gap before a reading beyond which the readings after it belong to a roast that was left open, s."""
SCALE: Final = 3.0
"""Reach of a bar to either side, in tolerances."""


def plots(r: Review, width: int, plain: bool = False) -> list[str]:
    """Distance of the readings (o) from the plan, then the readings on the plan, the moves and the cues under it."""
    if len(r.t) < 2:
        return []
    end = axis_end(r)
    cells = max(width - PAD - 2, 20)
    return [*off(r, cells, end, plain), "", *curve(r, cells, end, plain), *under(r, cells, end)]


def axis_end(r: Review) -> float:
    """End of the axis of time, s: soon after the drop, else after the last reading that belongs to the roast (the next
    came ``LEFT_OPEN`` or more after it)."""
    drop = r.roast.marks.get("drop")
    if drop is not None:
        return max(r.profile.curve.end, drop) + AFTER
    last = float(r.t[0])
    for t in r.t:
        if t - last > LEFT_OPEN:
            break
        last = float(t)
    return max(r.profile.curve.end, last) + AFTER


def curve(r: Review, cells: int, end: float, plain: bool = False) -> list[str]:
    """The readings on the plan; events at the bottom (small: planned)."""
    letters = [(m.planned, LETTERS[m.event].lower()) for m in r.milestones if m.event in LETTERS]
    letters += [(m.actual, LETTERS[m.event]) for m in r.milestones if m.event in LETTERS]
    readings = [(float(t), float(v)) for t, v in zip(r.t, r.celsius, strict=True) if t <= end]
    return on_plan(r.profile, r.roast.header.unit, readings, letters, cells, end, plain)


def on_plan(
    profile: Profile, unit: TemperatureUnit, readings: Sequence[tuple[float, float]],
    letters: Sequence[tuple[float | None, str]], cells: int, end: float, plain: bool = False,
) -> list[str]:  # fmt: skip
    """The plan's line with ``readings`` (s, °C) as o on it, and ``letters`` at their times (s) at the bottom."""
    curve = profile.curve
    p = Picture(cells, 12, (0.0, end), spread([*curve.values, *(v for _, v in readings)], 0.03))
    p.line(np.where(p.times < curve.end, curve.at(p.times), np.nan))
    for t, v in readings:
        p.sign(t, v, "o")
    for when, letter in letters:
        if when is not None:
            p.sign(when, p.ys[0], letter)
    return framed(p, lambda v: degrees(v, unit), "0:00", clock(end), plain, PAD)


def under(r: Review, cells: int, end: float) -> list[str]:
    """Moves as made and cues as heard, under the curve at their times."""
    unit = r.profile.document.pressure_unit
    out: list[str] = []
    for control in ("gas", "air", "drum"):
        moves = [m for m in r.roast.moves if m.control == control and m.t <= end]
        if moves:
            said = [(max(m.t, 0.0), number(from_kpa(m.value, unit) if control == "gas" else m.value, 3)) for m in moves]
            out += placed(control, said, cells, end)
    heard = heard_cues(r)
    if heard:
        out += placed("cues", [(when, sign) for sign, when in heard], cells, end)
    return out


def heard_cues(r: Review) -> list[tuple[str, float]]:
    """The sign and the time (s) of each cue that asked for attention after charge."""
    when = [c.when for c in r.cues if c.counts and c.when >= 0]
    return list(zip(SIGNS, when, strict=False))


def placed(name: str, said: Sequence[tuple[float, str]], cells: int, end: float) -> list[str]:
    """Short texts at their times in as few lines as they need."""
    rows: list[str] = []
    for t, text in said:
        at = min(round(t / end * (cells - 1)), cells - len(text))
        for i, row in enumerate(rows):
            if len(row) <= max(at - 1, 0):
                rows[i] = row.ljust(at) + text
                break
        else:
            rows.append(" " * at + text)
    return [f"{name if i == 0 else '':>{PAD}}  {row}".rstrip() for i, row in enumerate(rows)]


def off(r: Review, cells: int, end: float, plain: bool = False) -> list[str]:
    """Distance of the readings (o) from the reference at the same time, between the edges of the band."""
    unit = r.roast.header.unit
    past = (r.t > r.profile.curve.turning_point[0] + 10) & (r.t <= end)
    t, off = r.t[past], from_kelvins(1.0, unit) * r.off_by_clock[past]
    if len(t) < 2:
        return []
    grid = np.linspace(0.0, end, 2 * cells)
    half = from_kelvins(1.0, unit) * r.profile.bands(grid)
    most = 1.1 * max(*np.abs(off), *half)
    p = Picture(cells, 10, (0.0, end), (-most, most))
    p.level(0.0)
    for edge in (half, -half):
        p.line(edge, dashes=1)
    p.line(p.along(t, off))
    for x, y in zip(t, off, strict=True):
        p.sign(float(x), float(y), "o")
    head = f"OFF PLAN (°{unit}), between the edges of the tolerance band"
    return [head, *framed(p, signed, "0:00", clock(end), plain, PAD)]


def bar(value: float | None, tolerance: float | None, cells: int = 25, dot: str = "·") -> str:
    """A difference on a scale of tolerances: | as planned, [ ] the tolerance, X today (> and < beyond the scale).

    >>> bar(0.0, 10.0, 13), bar(10.0, 10.0, 13), bar(-90.0, 10.0, 13)
    ('····[·X·]····', '····[·|·X····', '<···[·|·]····')
    """
    if value is None or not tolerance:
        return " " * cells
    middle = cells // 2

    def place(x: float) -> int:
        return middle + round(x / SCALE * middle)

    row = [dot] * cells
    row[middle], row[place(-1)], row[place(1)] = "|", "[", "]"
    share = value / tolerance
    at = min(max(place(share), 0), cells - 1)
    row[at] = ">" if share > SCALE else "<" if share < -SCALE else "X"
    return "".join(row)
