"""Questions what if: a setting is typed after the key, and its forecast shown beside the present one; none stays.

``w 0.8`` is the gas, ``w a 3`` air, ``w r 48`` the drum.  ``=`` logs it as the move made;
Enter logs nothing; Esc leaves without a trace.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from coach.cues.evidence import drop_due
from coach.forecast.forecast_values import Forecast
from coach.roast.errors import EntryError
from coach.roast.typed_line import Typed, parse
from coach.roast.units import clock, from_celsius, number, to_kpa
from coach.session.coach import Coach

KEY: Final = "w"


def asked(line: str) -> Typed | None:
    """The setting in a line that begins with the key; None where it is not (yet) one."""
    if not line.startswith((KEY, KEY.upper())):
        return None
    rest = line[len(KEY) :].strip()
    try:
        typed = parse(rest if rest[:1].isalpha() else f"gas {rest}")
    except EntryError:
        return None
    return None if typed.value is None or typed.roast_time is not None or typed.ago is not None else typed


def forecast_if(coach: Coach, setting: Typed) -> Forecast | None:
    """The forecast if the setting were made now; None where there is none."""
    t, control, value = coach.situation.t, setting.control, setting.value
    if t is None or control is None or value is None:
        return None
    return coach.what_if([(t, control, to_kpa(value, coach.header.pressure_unit) if control == "gas" else value)])


def compared(coach: Coach, setting: Typed, then: Forecast | None) -> str:
    """One line: crack (or drop) with the setting, and without."""
    head = f"WHAT IF {setting.control} {number(setting.value or 0.0, 2)}"
    if then is None:
        return f"{head}: can't say now.  Esc leaves"
    now, unit = coach.situation.forecast, coach.header.unit
    parts = []
    if then.first_crack is not None and now.first_crack is not None:
        a, b = then.first_crack.time, now.first_crack.time
        parts.append(f"crack {clock(a.median)} ({clock(a.q10)} to {clock(a.q90)}), now {clock(b.median)}")
    due, today = drop_due(replace(coach.situation, forecast=then)), drop_due(coach.situation)
    if due is not None and today is not None:
        x, y = (number(from_celsius(d.temperature, unit)) for d in (due, today))
        parts.append(f"drop {x} °{unit} at {clock(due.time)}, now {y}")
    return f"{head}: {'; '.join(parts) or 'no forecast'}.  = logs it, Esc leaves"
