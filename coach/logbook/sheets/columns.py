"""Meaning and unit of a sheet's columns: as stated, or as names and cells show; the rest is asked.  Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from coach.logbook.sheets.cells import (
    NO_DATE,
    TIME_UNITS,
    TimeUnit,
    could_be_seconds,
    dated,
    parse_number,
    parse_time,
    pressure_unit_in,
    temperature_unit_in,
    time_unit_in,
    time_unit_of,
)
from coach.logbook.sheets.read_sheet import NAMES, Decimal, Sheet, column, decimal_of, usual
from coach.logbook.text.text_table import padded
from coach.roast.entries import Event
from coach.roast.errors import FileError, printable
from coach.roast.typed_line import MARK_WORDS
from coach.roast.units import KPA_PER, Control, PressureUnit, TemperatureUnit, clock, number

OTHERS: Final = tuple(n for n in NAMES if n not in ("time", "temperature"))
"""Columns that a sheet need not have."""
CONTROLS: Final[tuple[Control, ...]] = ("gas", "air", "drum")
DECIMALS: Final[Mapping[str, Decimal]] = {"comma": ",", "point": "."}


@dataclass(frozen=True)
class Columns:
    """Places of the columns by their meaning (None: not there), and how they are written."""

    time: int
    temperature: int
    unit: TemperatureUnit
    time_unit: TimeUnit
    pressure_unit: PressureUnit
    decimal: Decimal = "."
    event: int | None = None
    gas: int | None = None
    air: int | None = None
    drum: int | None = None
    note: int | None = None
    turned: int | None = None
    """Column that holds yes where a reading was timed as the dial turned over, else nothing."""

    @property
    def places(self) -> dict[str, int]:
        """The columns that are there."""
        return {name: i for name in NAMES if (i := getattr(self, name)) is not None}


@dataclass(frozen=True)
class Question:
    """A value that the sheet does not give: its question, its option, and the possible answers."""

    field: str
    asked: str
    option: str
    what: str
    answers: tuple[str, ...]


def known(sheet: Sheet, stated: Mapping[str, str | None]) -> dict[str, Any]:
    """The fields of ``Columns``: as ``stated`` (columns by name or by number from 1; 'none': no such column; decimal
    signs in words), else as the columns' names or the cells show them; None where there is none, or in doubt.

    Raises FileError.
    """
    own = {n: wanted for n in NAMES if (wanted := stated.get(n)) and not (wanted == "none" and n in OTHERS)}
    at = {n: column(sheet, wanted, n) for n, wanted in own.items()}
    found = {n: i for n in NAMES if not stated.get(n) and (i := usual(sheet, n)) is not None and i not in at.values()}
    out: dict[str, Any] = {name: (at | found).get(name) for name in NAMES}
    out |= {name: stated.get(name) for name in ("unit", "time_unit", "pressure_unit")}
    if out["time"] is not None:
        cells = [row[out["time"]] for _, row in sheet.rows]
        if out["time_unit"] is None and dated(cells):
            raise FileError(sheet.path, f"'{printable(cells[0])[:30]}' is a date.", NO_DATE, line=sheet.rows[0][0])
        named = time_unit_in(sheet.names[out["time"]])
        if named == "min" and could_be_seconds(cells):
            named = None  # 6.20 may be 6:20 as well
        out["time_unit"] = out["time_unit"] or time_unit_of(cells) or named
    if out["temperature"] is not None:
        out["unit"] = out["unit"] or temperature_unit_in(sheet.names[out["temperature"]])
    in_name = "kPa" if out["gas"] is None else pressure_unit_in(sheet.names[out["gas"]])
    out["pressure_unit"] = out["pressure_unit"] or in_name
    written = ("time", "temperature", *CONTROLS) if out["time_unit"] in ("min", "s") else ("temperature", *CONTROLS)
    out["decimal"] = DECIMALS.get(stated.get("decimal") or "") or decimal_of(sheet, {out[n] for n in written})
    return out


def open_questions(sheet: Sheet, found: Mapping[str, Any]) -> list[Question]:
    """Questions that ``known`` leaves."""
    columns = (*sheet.names, *(str(i + 1) for i in range(len(sheet.names))))
    questions = [
        Question(name, f"Which column is the {name}?", f"--{name} COLUMN", f"which column is the {name}", columns)
        for name in ("time", "temperature")
    ]
    questions += [
        Question("unit", "Unit of the temperatures, C or F?", "--unit C", "the unit of the temperatures", ("C", "F")),
        Question("time_unit", "Times in m:ss, s, min or m.ss?", "--time-unit s (or min, m.ss, m:ss)",
                 "how times are written", TIME_UNITS),
        Question("pressure_unit", f"Unit of the gas, {', '.join(KPA_PER)}?", "--pressure-unit kPa (or --gas none)",
                 "the unit of the gas", tuple(KPA_PER)),
    ]  # fmt: skip
    needs = {"time_unit": "time", "pressure_unit": "gas"}
    asked = [q for q in questions if q.field not in needs or found[needs[q.field]] is not None]
    return [q for q in asked if found[q.field] is None]


def stated_above(sheet: Sheet) -> tuple[float | None, str]:
    """Weight of the batch (kg) and date, where the lines above the columns give one each."""
    text = " ".join(sheet.titles)
    weights = {w.replace(",", ".") for w in re.findall(r"(\d+(?:[.,]\d+)?)\s*kg\b", text)}
    dates = set(re.findall(r"\b\d{4}-\d\d-\d\d\b", text))
    return (float(weights.pop()) if len(weights) == 1 else None), (dates.pop() if len(dates) == 1 else "")


def event_of(text: str) -> Event | None:
    """The event that a word means, None for none."""
    ordinals = {"1st": "first", "2nd": "second"}
    return MARK_WORDS.get(" ".join(ordinals.get(w, w) for w in re.split(r"[\s_-]+", text.lower().strip())))


# -- in words ----------------------------------------------------------------------------------------------------------


def beginning(sheet: Sheet) -> list[str]:
    """The columns with their first cells."""
    out = [f"{sheet.path}: {len(sheet.rows)} rows. Columns, with their first rows:"]
    for i, name in enumerate(sheet.names[:20]):
        cells = "  ".join(f"{printable(row[i])[:12] or '–':>8}" for _, row in sheet.rows[:4])
        out.append(f"  {i + 1:>2} {padded(name, 24)} {cells}")
    return out


def taken_as(sheet: Sheet, columns: Columns) -> list[str]:
    """Lines on the meaning of each column taken, and on those passed over."""
    taken = {i: n for n, i in columns.places.items()}
    names = [printable(n)[:30] or f"column {i}" for i, n in enumerate(sheet.names, 1)]
    units = {"time": f" ({columns.time_unit})", "temperature": f" (°{columns.unit})"}
    out = ["Taken: " + ", ".join(f"'{names[i]}' as {n}{units.get(n, '')}" for i, n in sorted(taken.items())) + "."]
    if columns.decimal == ",":
        out.append("Numbers with a decimal comma.")
    if sheet.titles:
        shown = "; ".join(printable(t)[:60] for t in sheet.titles[:3])
        out.append(f"Above the columns: {shown}{' and more' if len(sheet.titles) > 3 else ''}.")
    for i, name in enumerate(names):
        if taken.get(i) != "event" and any(event_of(row[i]) for _, row in sheet.rows):
            out.append(f"'{name}' names events: to take them, import it again with  --event '{name}' --overwrite")
    left = [f"'{n}'" for i, n in enumerate(names) if i not in taken]
    if left:
        out.append(f"Not taken: {', '.join(left[:12])}{' and more' if len(left) > 12 else ''}.")
    return out


def first_rows(sheet: Sheet, columns: Columns) -> list[str]:
    """The first three rows as they were read: time, temperature, and the other columns taken."""
    at = columns.places
    out = []
    for line, row in sheet.rows[:3]:
        t = parse_time(row[at["time"]], columns.time_unit, columns.decimal, sheet.path, line, "time")
        parts = [f"line {line}: {clock(t)}"]
        if hot := row[at["temperature"]]:
            value = parse_number(hot, columns.decimal, sheet.path, line, "temperature")
            parts.append(f"{number(value, 1)} °{columns.unit}")
        parts += [f"{n} {printable(row[at[n]])[:40]}" for n in OTHERS if n in at and row[at[n]]]
        out.append("  ".join(parts))
    return out
