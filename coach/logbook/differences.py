"""What is different between two profiles, in words.  Pure."""

from __future__ import annotations

import numpy as np

from coach.entries import EVENTS
from coach.logbook.dots import Canvas, framed
from coach.logbook.table import signed, signed_clock
from coach.profile import Profile, Step
from coach.units import clock, from_celsius, from_kelvins, from_kpa, number, to_kelvins


def changes(old: Profile, new: Profile) -> list[str]:
    """What is different between two profiles, in words, in the new one's units."""
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
    if old.development is not None and new.development is not None and abs(old.development - new.development) >= 1:
        out.append(f"development: {clock(old.development)} -> {clock(new.development)}")
    out += _move_changes(old, new)
    for phase in ("drying", "browning", "development"):
        a, b = (to_kelvins(getattr(p.document.band, phase), p.unit) for p in (old, new))
        if abs(a - b) >= 0.05:
            out.append(
                f"band in {phase}: ± {number(from_kelvins(a, unit))} -> ± {number(from_kelvins(b, unit))} °{unit}"
            )
    t = np.arange(60.0, min(old.curve.end, new.curve.end), 5.0)
    off = new.curve.at(t) - old.curve.at(t)
    if len(t) and np.abs(off).max() >= 0.5:
        i = int(np.argmax(np.abs(off)))
        out.append(f"line: at most {signed(from_kelvins(float(off[i]), unit))} °{unit}, at {clock(float(t[i]))}")
    if old.document.batch_kg != new.document.batch_kg:
        out.append(f"batch: {number(old.document.batch_kg, 3)} -> {number(new.document.batch_kg, 3)} kg")
    return out


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


def _move_changes(old: Profile, new: Profile) -> list[str]:
    unit = new.document.pressure_unit

    def said(s: Step) -> str:
        value = f"{number(from_kpa(s.value, unit), 3)} {unit}" if s.control == "gas" else number(s.value, 3)
        return f"{s.control} {value} at {clock(s.time)}"

    def listed(p: Profile) -> list[str]:
        return [said(s) for s in p.steps]

    a, b = listed(old), listed(new)
    gone, come = [m for m in a if m not in b], [m for m in b if m not in a]
    if not gone and not come:
        return []
    return ["moves: " + (", ".join(gone) or "nothing") + " -> " + (", ".join(come) or "nothing")]
