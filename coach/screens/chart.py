"""The chart as text: reference with its band, today's readings and line, the fan ahead and the crack window."""

from __future__ import annotations

from itertools import groupby, pairwise

import numpy as np
from rich.text import Text

from coach.forecast_types import Forecast
from coach.screens.palette import CHART
from coach.situation import Situation
from coach.units import clock, from_celsius, number

BAND, REFERENCE, FAN, READING, LINE, DOUBTED, OTHER = "·", "─", "░", "●", "○", "?", "◆"
STYLES = {
    BAND: CHART["band"], REFERENCE: CHART["reference"], FAN: CHART["fan"], READING: f"bold {CHART['reading']}",
    LINE: CHART["reading"], OTHER: f"bold {CHART['other']}", DOUBTED: "bold", "×": "bold", "[": "bold", "]": "bold",
}  # fmt: skip


class Charted:
    """The chart, drawn anew only when what it shows has changed."""

    def __init__(self) -> None:
        self._of: tuple[object, ...] = ()
        self._text = Text()

    def at(self, s: Situation, width: int, height: int, other: Forecast | None = None) -> Text:
        """The chart of a moment; time alone moves nothing on it until the next forecast or the end of its axis."""
        path = s.forecast.path
        late = s.t is not None and s.t + 30.0 > s.profile.curve.end + 30.0
        of = (
            s.profile, s.roast.readings, tuple(s.estimate.doubtful) if s.estimate is not None else (), s.roast.phase,
            s.roast.header.unit, width, height, None if path is None else (path.t, path.mean, path.sd),
            s.forecast.first_crack, s.t if late else None, None if other is None else other.path,
        )  # fmt: skip
        if len(of) != len(self._of) or any(a is not b and not _same(a, b) for a, b in zip(of, self._of, strict=True)):
            self._of, self._text = of, chart(s, width, height, other)
        return self._text


def _same(a: object, b: object) -> bool:
    if isinstance(a, tuple) and isinstance(b, tuple):
        return len(a) == len(b) and all(x is y for x, y in zip(a, b, strict=True))
    return isinstance(a, (int, float, str)) and a == b


def chart(s: Situation, width: int, height: int, other: Forecast | None = None) -> Text:
    """The chart in ``width`` x ``height`` cells; every sign differs in shape, colour only helps.

    ``other``: a forecast that is asked about, drawn beside the present one.
    """
    width, height = max(width - 6, 10), max(height - 1, 3)
    curve = s.profile.curve
    now = s.t if s.t is not None and s.t >= 0 else 0.0
    end = max(curve.end + 30.0, now + 30.0)
    values = curve.values
    low, high = max(min(values) - 10, 0), max(values) + 14
    grid = [[" "] * width for _ in range(height)]

    def row(celsius: float) -> int:
        return round((high - celsius) / (high - low) * (height - 1))

    def put(x: int, y: int, sign: str) -> None:
        if 0 <= y < height and 0 <= x < width:
            grid[y][x] = sign

    path = s.forecast.path
    for x in range(width):
        t = x / (width - 1) * end
        r = curve.value(t)
        half = s.profile.band(t, s.profile.planned_phase(t))
        if path is not None and t > now and s.roast.phase != "cooling":
            i = min(int((abs(path.t - t)).argmin()), len(path.t) - 1)
            top, bottom = path.mean[i] + 1.28 * path.sd[i], path.mean[i] - 1.28 * path.sd[i]
            for y in range(max(row(top), 0), min(row(bottom), height - 1) + 1):
                put(x, y, FAN)
        if t <= curve.end:
            put(x, row(r + half), BAND)
            put(x, row(r - half), BAND)
            put(x, row(r), REFERENCE)
        if other is not None and other.path is not None and t > now:
            put(x, row(float(np.interp(t, other.path.t, other.path.mean))), OTHER)
    doubted = s.estimate.doubtful if s.estimate is not None else {}
    used = [r for r in s.roast.readings if r.line not in doubted]
    for a, b in pairwise(used):
        first, last = (round(r.t / end * (width - 1)) for r in (a, b))
        for x in range(first + 1, last):
            put(x, row(a.celsius + (b.celsius - a.celsius) * (x - first) / (last - first)), LINE)
    for reading in s.roast.readings:
        put(round(reading.t / end * (width - 1)), row(reading.celsius), DOUBTED if reading.line in doubted else READING)
    for found, centre in ((s.forecast.first_crack, "×"), (other.first_crack if other is not None else None, OTHER)):
        if found is not None:
            for q, sign in ((found.time.q10, "["), (found.time.median, centre), (found.time.q90, "]")):
                put(round(q / end * (width - 1)), height - 1, sign)
    out = Text(no_wrap=True)
    for y, line in enumerate(grid):
        celsius = high - y / (height - 1) * (high - low)
        label = number(from_celsius(celsius, s.roast.header.unit), 0) if y % 3 == 0 else ""
        out.append(f"{label:>4} ")
        for sign, run in groupby(line):
            out.append("".join(run), STYLES.get(sign, ""))
        out.append("\n")
    middle = width // 2
    out.append("     0:00".ljust(middle + 3) + clock(end / 2).ljust(width - middle - 4) + clock(end))
    return out
