"""Differences between two profiles, in words and as a table.  Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from coach.logbook.adopt import LIMITS
from coach.logbook.text.picture import Picture, framed
from coach.logbook.text.text_table import signed, table
from coach.roast.profile import Profile, ProfileDocument, Step
from coach.roast.units import clock, from_celsius, from_kelvins, from_kpa, number, to_kelvins, to_kpa

NOTEWORTHY: Final = 10.0
"""Change of the charge temperature beyond which a person must confirm it, K."""
SHOWN: Final = frozenset(
    {"charge temperature", "safety limit", "gas limits", "air limits", "batch", "checklist", "calls"}
)
"""Rows that a table shows even where both profiles have the same."""


def changes(old: Profile, new: Profile) -> list[str]:
    """The differences between two profiles, in words, in the new one's units."""
    return [f"{name}: {a} -> {b}" if a else f"{name}: {b}" for name, a, b in _beside(old, new) if a != b]


def words_needed(old: Profile, new: Profile) -> dict[str, str]:
    """Changes that a person must confirm by a word before the profile is written: the change by its word."""
    out: dict[str, str] = {}
    said = {line.split(":", 1)[0]: line for line in changes(old, new)}
    if abs(new.charge_temperature - old.charge_temperature) > NOTEWORTHY:
        out["charge"] = said["charge temperature"]
    if limited := [said[name] for name in LIMITS.values() if name in said]:
        out["limits"] = "; ".join(limited)
    return out


def change_table(old: Profile | None, new: Profile, sources: Mapping[str, str]) -> list[str]:
    """A profile beside the one that it is made from (None: none), row by row, with the source of each value:
    ``sources`` by row, else the roasts.  Of equal rows only ``SHOWN`` are there."""
    rows = [(name, "–", value) for name, value in _rows(new, new)] if old is None else _beside(old, new)
    return table(
        ("", "before", "new", "from"),
        [
            (name, a, "=" if a == b != "–" else b, sources.get(name, "readings and marks" if b != "–" else ""))
            for name, a, b in rows
            if a != b or name in SHOWN
        ],
    )


def _beside(old: Profile, new: Profile) -> list[tuple[str, str, str]]:
    """Rows of both profiles: name, old and new value; last, where they differ, the largest distance of the lines."""
    was, now = dict(_rows(old, new)), dict(_rows(new, new))
    for what in ("checklist", "calls"):
        if was[what] == now[what] and getattr(old.document, what) != getattr(new.document, what):
            now[what] += ", changed"
    rows = [(name, was.get(name, "–"), now.get(name, "–")) for name in now | was]
    line = _line(old, new)
    return [*rows, ("line", "", line)] if line else rows


def _rows(p: Profile, shown: Profile) -> list[tuple[str, str]]:
    """Rows of a profile, name and value, in the units of ``shown``."""
    unit, d = shown.unit, p.document

    def hot(celsius: float) -> str:
        return f"{number(from_celsius(celsius, unit))} °{unit}"

    out = [("charge temperature", hot(p.charge_temperature)), ("safety limit", hot(p.safety))]
    out += [(LIMITS[n], _limit(d, n, shown)) for n in LIMITS if n != "safety" and getattr(d.limits, n) is not None]
    out.append(("batch", f"{number(d.batch_kg, 3)} kg"))
    out += [(e, f"{clock(g.time)} at {hot(g.temperature)}") for e, g in p.goals.items()]
    by = {"development": f", {clock(p.development or 0.0)} after crack", "temperature": ", by temperature"}
    ratio = f", development {100 * (d.drop.ratio or 0):.1f} %"
    out.append(("drop rule", hot(p.drop_temperature) + by.get(d.drop.by, ratio)))
    counted: dict[str, int] = {}
    for s in p.steps:
        counted[s.control] = counted.get(s.control, 0) + 1
        out.append((f"{s.control} move {counted[s.control]}", _setting(s, shown)))
    for phase in ("drying", "browning", "development"):
        width = from_kelvins(to_kelvins(getattr(d.band, phase), p.unit), unit)
        out.append((f"band in {phase}", f"± {number(width)} °{unit}"))
    return [*out, ("checklist", _count(d.checklist)), ("calls", _count(d.calls))]


def _limit(d: ProfileDocument, name: str, shown: Profile) -> str:
    value, unit = getattr(d.limits, name), shown.document.pressure_unit
    gas = name.startswith("gas")
    numbers = [
        number(from_kpa(to_kpa(v, d.pressure_unit), unit) if gas else v, 3)
        for v in (value if isinstance(value, tuple) else (value,))
    ]
    return " to ".join(numbers) + (f" {unit}" if gas else "")


def _count(items: object) -> str:
    count = len(items)  # type: ignore[arg-type]
    return "none" if not count else f"{count} line{'' if count == 1 else 's'}"


def _line(old: Profile, new: Profile) -> str:
    """Largest distance of the new line from the old one, in words; '' where it is under half a kelvin."""
    t = np.arange(60.0, min(old.curve.end, new.curve.end), 5.0)
    off = new.curve.at(t) - old.curve.at(t)
    if not len(t) or np.abs(off).max() < 0.5:
        return ""
    i = int(np.argmax(np.abs(off)))
    return f"at most {signed(from_kelvins(float(off[i]), new.unit))} °{new.unit}, at {clock(float(t[i]))}"


def plot(old: Profile, new: Profile, width: int, plain: bool = False) -> list[str]:
    """Distance of the new line from the old one over time, drawn for a terminal of ``width`` columns."""
    unit = new.unit
    t = np.arange(0.0, min(old.curve.end, new.curve.end), 3.0)
    off = from_kelvins(1.0, unit) * (new.curve.at(t) - old.curve.at(t))
    most = 1.15 * max(*np.abs(off[t > 120] if t[-1] > 120 else off), 1.0)
    p = Picture(max(width - 12, 20), 7, (0.0, float(t[-1])), (-most, most))
    p.level(0.0)
    p.line(p.along(t, off))
    return [f"new line minus old line (°{unit}):", *framed(p, signed, "0:00", clock(float(t[-1])), plain)]


def _setting(s: Step, shown: Profile) -> str:
    """A planned setting and its time, in the units of ``shown``."""
    unit = shown.document.pressure_unit
    value = f"{number(from_kpa(s.value, unit), 3)} {unit}" if s.control == "gas" else number(s.value, 3)
    return f"{value} at {clock(s.time)}"
