"""Differences between two profiles, in words and as a table.  Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from coach.logbook.adopt import LIMITS
from coach.logbook.text.braille import Canvas, framed
from coach.logbook.text.text_table import signed, signed_clock, table
from coach.roast.entries import EVENTS
from coach.roast.profile import Profile, ProfileDocument, Step
from coach.roast.units import clock, from_celsius, from_kelvins, from_kpa, number, to_celsius, to_kelvins, to_kpa

NOTEWORTHY: Final = 10.0
"""Change of the charge temperature beyond which a person must confirm it, K."""


def changes(old: Profile, new: Profile) -> list[str]:
    """The differences between two profiles, in words, in the new one's units."""
    return [
        *_temperature_changes(old, new), *_limit_changes(old, new), *_goal_changes(old, new), *_drop_changes(old, new),
        *_move_changes(old, new), *_band_changes(old, new), *_other_changes(old, new),
    ]  # fmt: skip


def _hot(celsius: float, profile: Profile) -> str:
    return f"{number(from_celsius(celsius, profile.unit))} °{profile.unit}"


def _temperature_changes(old: Profile, new: Profile) -> list[str]:
    return [
        f"{label}: {_hot(a, new)} -> {_hot(b, new)} ({signed(from_kelvins(b - a, new.unit))})"
        for label, a, b in (
            ("charge temperature", old.charge_temperature, new.charge_temperature),
            ("drop temperature", old.drop_temperature, new.drop_temperature),
            ("safety limit", old.safety, new.safety),
        )
        if abs(a - b) >= 0.05
    ]


def _limit_changes(old: Profile, new: Profile) -> list[str]:
    return [
        f"{LIMITS[name]}: {_limit(old.document, name)} -> {_limit(new.document, name)}"
        for name in limits_changed(old, new)
        if name != "safety"
    ]


def _goal_changes(old: Profile, new: Profile) -> list[str]:
    out = []
    for event in EVENTS:
        a, b = old.goals.get(event), new.goals.get(event)
        if a is None or b is None:
            if a is not b:
                out.append(f"{event}: {'new' if a is None else 'no longer there'}")
            continue
        late, hotter = b.time - a.time, b.temperature - a.temperature
        if abs(late) >= 1 or abs(hotter) >= 0.1:
            out.append(
                f"{event}: {clock(a.time)} at {_hot(a.temperature, new)} -> {clock(b.time)} at "
                f"{_hot(b.temperature, new)} ({signed_clock(late)}, {signed(from_kelvins(hotter, new.unit))})"
            )
    return out


def _drop_changes(old: Profile, new: Profile) -> list[str]:
    a, b = old.document.drop.by, new.document.drop.by
    out = [f"drop: by {a} -> by {b}"] if a != b else []
    if old.development is not None and new.development is not None and abs(old.development - new.development) >= 1:
        out.append(f"development: {clock(old.development)} -> {clock(new.development)}")
    return out


def _band_changes(old: Profile, new: Profile) -> list[str]:
    out = []
    for phase in ("drying", "browning", "development"):
        a, b = (to_kelvins(getattr(p.document.band, phase), p.unit) for p in (old, new))
        if abs(a - b) >= 0.05:
            half = [number(from_kelvins(x, new.unit)) for x in (a, b)]
            out.append(f"band in {phase}: ± {half[0]} -> ± {half[1]} °{new.unit}")
    return out


def _other_changes(old: Profile, new: Profile) -> list[str]:
    line, a, b = _line(old, new), old.document, new.document
    out = [f"line: {line}"] if line else []
    if a.batch_kg != b.batch_kg:
        out.append(f"batch: {number(a.batch_kg, 3)} -> {number(b.batch_kg, 3)} kg")
    texts = (("checklist", a.checklist, b.checklist), ("calls", a.calls, b.calls))
    return out + [f"{what}: {_count(x)} -> {_count(y)}" for what, x, y in texts if x != y]


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
    """Changes that a person must confirm by a word before the profile is written: the change by its word."""
    out: dict[str, str] = {}
    off = new.charge_temperature - old.charge_temperature
    said = {line.split(":", 1)[0]: line for line in changes(old, new)}
    if abs(off) > NOTEWORTHY:
        out["charge"] = said["charge temperature"]
    if limited := limits_changed(old, new):
        out["limits"] = "; ".join(said.get(LIMITS[name], LIMITS[name]) for name in limited)
    return out


def change_table(old: Profile | None, new: Profile, sources: Mapping[str, str]) -> list[str]:
    """A profile beside the one that it is made from (None: none), row by row, with the source of each value:
    ``sources`` by row, else the roasts.  Of equal rows only ``SHOWN`` are there."""
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
    """Rows of a profile, name and value, in the units of ``shown``."""
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
