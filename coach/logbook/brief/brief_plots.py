"""The line to follow, drawn in characters for the brief: band, events, planned moves, today's readings.  Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coach.logbook.review.review_plots import PAD, placed
from coach.logbook.text.braille import Canvas, framed, spread
from coach.roast.units import clock, from_celsius, number

if TYPE_CHECKING:
    from coach.logbook.brief.handover import HandoverState
    from coach.roast.profile import Profile

LETTERS = {"yellow": "y", "first crack": "f", "drop": "d"}


def drawn(profile: Profile, state: HandoverState | None, width: int, plain: bool = False) -> list[str]:
    """The curve with its band, events as letters below, moves as planned; in mid-roast today's readings (o) on it."""
    unit = profile.unit
    cells = max(width - PAD - 2, 20)
    readings = state.readings if state is not None else ()
    end = max([profile.curve.end, *(r.t for r in readings)])
    grid = np.arange(0.0, profile.curve.end, end / (4 * cells))
    line = profile.curve.at(grid)
    canvas = Canvas(cells, 10, (0.0, end), spread([*line, *(r.celsius for r in readings)], 0.03))
    step = (canvas.y1 - canvas.y0) / (8 * canvas.height)
    for t, v in zip(grid, line, strict=True):
        half = profile.band(float(t), profile.planned_phase(float(t)))
        for y in np.arange(float(v) - half, float(v) + half + step / 2, step):
            canvas.dot(float(t), float(y))
    for r in readings:
        canvas.sign(r.t, r.celsius, "o")
    for event, goal in profile.goals.items():
        if event in LETTERS:
            canvas.sign(goal.time, canvas.y0 + 0.02 * (canvas.y1 - canvas.y0), LETTERS[event])
    top, bottom = (f"{number(from_celsius(y, unit), 0)} °{unit}" for y in (canvas.y1, canvas.y0))
    out = framed(canvas, top, bottom, "0:00", clock(end), plain, PAD)
    for control in ("gas", "air", "drum"):
        moves = [(max(s.time, 0.0), number(s.shown, 3)) for s in profile.steps if s.control == control]
        out += placed(control, moves, cells, end) if moves else []
    return out
