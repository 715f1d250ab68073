"""Differences between two profiles, in words and as a table.  Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from coach.logbook.adopt import LIMITS
from coach.logbook.text.braille import Canvas, framed
from coach.logbook.text.table import signed, signed_clock, table
from coach.roast.entries import EVENTS
from coach.roast.profile import Profile, ProfileDocument, Step
from coach.roast.units import clock, from_celsius, from_kelvins, from_kpa, number, to_celsius, to_kelvins, to_kpa

NOTEWORTHY: Final = 10.0
"""A charge temperature that changes by more than this (K) needs a word of its own."""


def changes(old: Profile, new: Profile) -> list[str]:
    """The differences between two profiles, in words, in the new one's units."""
    unit = new.unit
    out: list[str] = []

    def hot(celsius: float) -> str:
        return f"{number(from_celsius(celsius, unit))} °{unit}"

    for label, a, b in (
        ("charge temperature", old.charge_temperature, new.charge_temperature),
        ("drop temperature", old.drop_temperature, new.drop_temperature),
        ("safety limit", old.safety, new.safety),
    ):
        if abs(a - b) >= 0.05:
            out.append(f"{label}: {hot(a)} -> {hot(b)} ({signed(from_kelvins(b - a, unit))})")
    for name in limits_changed(old, new):
        if name != "safety":
            out.append(f"{LIMITS[name]}: {_limit(old.document, name)} -> {_limit(new.document, name)}")
    for event in EVENTS:
        a_goal, b_goal = old.goals.get(event), new.goals.get(event)
        if a_goal is None or b_goal is None:
            if a_goal is not b_goal:
                out.append(f"{event}: {'new' if a_goal is None else 'no longer there'}")
            continue
        late, hotter = b_goal.time - a_goal.time, b_goal.temperature - a_goal.temperature
        if abs(late) >= 1 or abs(hotter) >= 0.1:
            out.append(
                f"{event}: {clock(a_goal.time)} at {hot(a_goal.temperature)} -> {clock(b_goal.time)} at "
                f"{hot(b_goal.temperature)} ({signed_clock(late)}, {signed(from_kelvins(hotter, unit))})"
            )
    if old.document.drop.by != new.document.drop.by:
        out.append(f"drop: by {old.document.drop.by} -> by {new.document.drop.by}")
    if old.development is not None and new.development is not None and abs(old.development - new.development) >= 1:
        out.append(f"development: {clock(old.development)} -> {clock(new.development)}")
    out += _move_changes(old, new)
    for phase in ("drying", "browning", "development"):
        a, b = (to_kelvins(getattr(p.document.band, phase), p.unit) for p in (old, new))
        if abs(a - b) >= 0.05:
            out.append(
                f"band in {phase}: ± {number(from_kelvins(a, unit))} -> ± {number(from_kelvins(b, unit))} °{unit}"
            )
    if line := _line(old, new):
        out.append(f"line: {line}")
    if old.document.batch_kg != new.document.batch_kg:
        out.append(f"batch: {number(old.document.batch_kg, 3)} -> {number(new.document.batch_kg, 3)} kg")
    for what in ("checklist", "calls"):
        a_text, b_text = getattr(old.document, what), getattr(new.document, what)
        if a_text != b_text:
            out.append(f"{what}: {_count(a_text)} -> {_count(b_text)}")
    return out


def limits_changed(old: Profile, new: Profile) -> list[str]:
    """The limits that differ, by their names in the file."""

    def core(d: ProfileDocument, name: str) -> tuple[float, ...]:
        value = getattr(d.limits, name)
        numbers = () if value is None else value if isinstance(value, tuple) else (value,)
        if name == "safety":
            return tuple(round(to_celsius(v, d.unit), 1) for v in numbers)
        return tuple(round(to_kpa(v, d.pressure_unit) if name.startswith("gas") else v, 4) for v in numbers)

    return [name for name in LIMITS if core(old.document, name) != core(new.document, name)]


def words_needed(old: Profile, new: Profile) -> dict[str, str]:
    """What a person has to say in so many words before it is written: by the word, what would change."""
    out: dict[str, str] = {}
    off = new.charge_temperature - old.charge_temperature
    said = {line.split(":", 1)[0]: line for line in changes(old, new)}
    if abs(off) > NOTEWORTHY:
        out["charge"] = said["charge temperature"]
    if limited := limits_changed(old, new):
        out["limits"] = "; ".join(said.get(LIMITS[name], LIMITS[name]) for name in limited)
    return out


def change_table(old: Profile | None, new: Profile, sources: Mapping[str, str]) -> list[str]:
    """A profile beside the one that it is made from (None: none), row by row, and where each value comes from:
    ``sources`` by row, else the roasts.  Of what is the same in both only ``SHOWN`` is there."""
    before: list[tuple[str, str]] = [] if old is None else _rows(old, new)
    after = _rows(new, new)
    was, names = dict(before), [n for n, _ in after]
    rows = []
    for name in [*names, *(n for n in was if n not in names)]:
        a, b = was.get(name, "–"), dict(after).get(name, "–")
        if a == b and name not in SHOWN:
            continue
        rows.append((name, a, "=" if a == b != "–" else b, sources.get(name, "readings and marks" if b != "–" else "")))
    if old is not None and (line := _line(old, new)):
        rows.append(("line", "", line, ""))
    return table(("", "before", "new", "from"), rows)


SHOWN: Final = frozenset(
    {"charge temperature", "safety limit", "gas limits", "air limits", "batch", "checklist", "calls"}
)


def _rows(p: Profile, shown: Profile) -> list[tuple[str, str]]:
    """What a profile says, name and value, in the units of ``shown``."""
    unit, d = shown.unit, p.document

    def hot(celsius: float) -> str:
        return f"{number(from_celsius(celsius, unit))} °{unit}"

    out = [("charge temperature", hot(p.charge_temperature)), ("safety limit", hot(p.safety))]
    out += [(LIMITS[n], _limit(d, n, shown)) for n in LIMITS if n != "safety" and _limit(d, n) != "–"]
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


def _limit(d: ProfileDocument, name: str, shown: Profile | None = None) -> str:
    value = getattr(d.limits, name)
    if value is None:
        return "–"
    unit = (shown.document if shown is not None else d).pressure_unit
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
    """How far the new line lies from the old one at most; '' where that is under half a kelvin."""
    t = np.arange(60.0, min(old.curve.end, new.curve.end), 5.0)
    off = new.curve.at(t) - old.curve.at(t)
    if not len(t) or np.abs(off).max() < 0.5:
        return ""
    i = int(np.argmax(np.abs(off)))
    return f"at most {signed(from_kelvins(float(off[i]), new.unit))} °{new.unit}, at {clock(float(t[i]))}"


def plot(old: Profile, new: Profile, width: int, plain: bool = False) -> list[str]:
    """How far the new line lies from the old one over time, drawn for a terminal of ``width`` columns."""
    unit = new.unit
    t = np.arange(0.0, min(old.curve.end, new.curve.end), 3.0)
    off = [from_kelvins(float(x), unit) for x in new.curve.at(t) - old.curve.at(t)]
    late = [abs(v) for s, v in zip(t, off, strict=True) if s > 120] or [abs(v) for v in off]
    most = max(*late, 1.0) * 1.15
    canvas = Canvas(max(width - 12, 20), 7, (0.0, float(t[-1])), (-most, most))
    canvas.dashed(0.0)
    canvas.line(list(zip(t.tolist(), off, strict=True)))
    head = f"new line minus old line (°{unit}):"
    return [head, *framed(canvas, signed(most), signed(-most), "0:00", clock(float(t[-1])), plain)]


def _setting(s: Step, shown: Profile) -> str:
    """A planned setting and its time, in the units of ``shown``."""
    unit = shown.document.pressure_unit
    value = f"{number(from_kpa(s.value, unit), 3)} {unit}" if s.control == "gas" else number(s.value, 3)
    return f"{value} at {clock(s.time)}"


def _move_changes(old: Profile, new: Profile) -> list[str]:
    a, b = ([f"{s.control} {_setting(s, new)}" for s in p.steps] for p in (old, new))
    gone, come = [m for m in a if m not in b], [m for m in b if m not in a]
    if not gone and not come:
        return []
    return ["moves: " + (", ".join(gone) or "nothing") + " -> " + (", ".join(come) or "nothing")]
