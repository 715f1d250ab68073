"""Checks that a sheet can be a roast: marks in order, a probe that turns and climbs, no leaps.  Pure.

Limits of a bean probe in a charged drum: common practice, no source; wide on purpose.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Final

from coach.roast.entries import EVENTS, Event
from coach.roast.errors import FileError
from coach.roast.units import TemperatureUnit, clock, from_celsius, from_kelvins, number, to_celsius

BESIDE: Final = 7200.0
"""Time after charge, and half of it before, beyond which a row is no part of the roast, s."""
COLDEST: Final = 40.0
"""Least temperature of a bean probe in a charged drum, °C."""
TURNED: Final = 120.0
"""Time from which on a reading is compared with its neighbours, s after charge; before, it may fall or rise fast."""
STANDS: Final = 2.0
"""Range of a probe that stands still, K."""
BEGINS: Final = 25.0
"""Time by which a probe begins to fall, s after charge."""
COOLS: Final = 12.0
"""Fall at the end beyond which the roast was dropped before, K."""
TURNS_BY: Final = 210.0
"""Time by which a probe reads its coolest, s after charge."""
TURNS_BELOW: Final = 140.0
"""Temperature below which a bean probe turns, °C; a probe in the air of the drum stays above."""
CLIMBS: Final = 60.0
"""Least climb from the turn to the last reading, K."""


def check_span(times: Sequence[tuple[int, float]], start: float, path: str) -> None:
    """Check that the rows' times (line, s as the sheet counts) are near charge (``start``, s).  Raises FileError."""
    for line, t in (times[0], times[-1]) if times else ():
        if not -BESIDE / 2 <= t - start <= BESIDE:
            hint = "Is --time-unit right? If these are times of day, say when charge was: --mark charge=8:02:00"
            if start:
                hint = "Is the time of charge right, and --time-unit?"
            raise FileError(path, "a time outside two hours around charge.", hint, line=line)


def check_marks(found: Mapping[Event, float], start: float, path: str) -> None:
    """Check that the marks (s as the sheet counts) come in their order, after charge.  Raises FileError."""
    ordered = [e for e in EVENTS if e in found]
    for a, b in pairwise(ordered):
        if found[a] > found[b]:
            message = f"{b} ({clock(found[b])}) comes before {a} ({clock(found[a])})."
            raise FileError(path, message, "Correct the events.")
    if ordered and found[ordered[0]] < start:
        raise FileError(path, f"{ordered[0]} comes before charge.", "Correct the events.")


def check_readings(
    readings: list[tuple[int, float, float]], start: float, unit: TemperatureUnit, path: str, *, charged: bool = True
) -> None:
    """Check that the readings (line, s as the sheet counts, degrees) can be those of a bean probe in a roast;
    ``charged``: the sheet gives the time of charge (``start``, s).  Raises FileError."""
    after = [(n, t, v) for n, t, v in readings if t >= start]
    if len(after) < 6:
        raise FileError(path, f"{len(after)} readings after charge.", "A roast needs at least six to be followed.")
    for line, t, value in readings:
        if not -20 <= to_celsius(value, unit) <= 320:
            message = f"{value:g} °{unit} is no temperature of a roast (at {clock(t)})."
            raise FileError(path, message, "Correct it, or --leave-out that line; is --unit right?", line=line)
    top = max(to_celsius(v, unit) for _, _, v in after)
    if not 160 <= top <= 300:
        message = f"the hottest reading is {top:.0f} °C if this is °{unit}: not that of a roast."
        raise FileError(path, message, "Is --unit right, and is it the bean probe's column?")
    span = after[-1][1] - after[0][1]
    if not 120 <= span <= 3600:
        message = f"the readings reach over {clock(span)}: not a roast."
        raise FileError(path, message, "Is --time-unit right?")
    counted = [(n, t - start, v) for n, t, v in after]
    if not charged:
        _check_begin(counted, unit, path)
    _check_end(counted, unit, path)
    _check_steady(counted, unit, path)
    _check_turn(counted, unit, path)


def _check_begin(readings: list[tuple[int, float, float]], unit: TemperatureUnit, path: str) -> None:
    """Check that the probe falls from the first reading on, where no charge is marked.  Raises FileError."""
    low = min(range(len(readings)), key=lambda i: readings[i][2])
    before = readings[: low + 1]
    hottest = max(v for _, _, v in before)
    line, t, value = [r for r in before if r[2] >= hottest - from_kelvins(STANDS, unit)][-1]
    if t > BEGINS and low:
        message = f"the probe falls from {clock(t)} on only ({value:g} °{unit}): was that the charge?"
        raise FileError(path, message, f"Say when it was: --mark charge={clock(t)}", line=line)


def _check_end(readings: list[tuple[int, float, float]], unit: TemperatureUnit, path: str) -> None:
    """Check that the readings end with the drop, not with cooling.  Raises FileError."""
    late = [r for r in readings if r[1] > 2 * TURNED]
    top = max(range(len(late)), key=lambda i: late[i][2], default=0)
    tail = [v for _, _, v in late[top:]]
    if len(tail) < 3 or any(b > a for a, b in pairwise(tail)) or tail[0] - tail[-1] < from_kelvins(COOLS, unit):
        return
    line, t, value = late[top]
    message = f"the readings fall from {clock(t)} on ({value:g} °{unit}): was that the drop?"
    raise FileError(path, message, f"Say when it was: --mark drop={clock(t)}", line=line)


def _check_steady(readings: list[tuple[int, float, float]], unit: TemperatureUnit, path: str) -> None:
    """Check that no reading leaps.  Raises FileError that names the one without which the others fit best."""
    points = [(t, to_celsius(v, unit)) for _, t, v in readings]
    found = [i for i, w in enumerate(_leaps(points)) if w > 1]
    if not found:
        return
    suspects = sorted({j for i in found for j in (i - 1, i, i + 1) if 0 <= j < len(points)})[:60]
    at = min(suspects, key=lambda j: sum(w for w in _leaps(points[:j] + points[j + 1 :]) if w > 1))
    line, t, value = readings[at]
    beside = [readings[j] for j in (at - 1, at + 1) if 0 <= j < len(readings)]
    around = " and ".join(f"{v:g} at {clock(s)}" for _, s, v in beside)
    message = f"{value:g} °{unit} at {clock(t)} can't stand beside {around}."
    raise FileError(path, message, "Correct the mistyped one, or --leave-out its line.", line=line)


def _leaps(points: list[tuple[float, float]]) -> list[float]:
    """Size of each reading's leap (readings in s, °C), 1 being the limit: too cold; rising or falling too fast since
    the one before; off the line between its neighbours.  Before ``TURNED`` the probe may fall fast, so the third is
    not checked there."""
    out = []
    for i, (t, celsius) in enumerate(points):
        rise = celsius - points[i - 1][1] if i else 0.0
        gap = t - points[i - 1][0] if i else 0.0
        wrong = [rise / (6 + 0.5 * gap), (COLDEST - celsius) / 5 + 1 if celsius < COLDEST else 0.0]
        if t > TURNED and i:
            wrong.append(-rise / (4 + 0.05 * gap))
            span = points[i + 1][0] - points[i - 1][0] if i + 1 < len(points) else 1e9
            if 0 < span <= 300:
                off = rise - (points[i + 1][1] - points[i - 1][1]) * gap / span
                wrong.append(abs(off) / ((2 if t < 2 * TURNED else 1) * (3 + 0.03 * span)))
        out.append(max(wrong))
    return out


def _check_turn(readings: list[tuple[int, float, float]], unit: TemperatureUnit, path: str) -> None:
    """Check that the probe falls after charge, turns, and climbs until the drop.  Raises FileError."""
    line, t, value = min(readings, key=lambda r: r[2])
    what = "Is it the bean probe's column, and charge at the right time?"
    if t > TURNS_BY:
        message = f"the coolest reading ({value:g} °{unit}) comes {clock(t)} after charge; a bean probe turns earlier."
        raise FileError(path, message, f"{what} Else add what is known of the first minutes.", line=line)
    if to_celsius(value, unit) > TURNS_BELOW:
        limit = number(from_celsius(TURNS_BELOW, unit), 0)
        message = f"no reading after charge is below {value:g} °{unit}; a bean probe falls below {limit}."
        raise FileError(path, message, what, line=line)
    climbed = to_celsius(readings[-1][2], unit) - to_celsius(value, unit)
    if climbed < CLIMBS:
        message = f"the readings climb by {number(from_kelvins(climbed, unit), 0)} °{unit} only: not those of a roast."
        raise FileError(path, message, what, line=readings[-1][0])
