"""Numbers and times in the cells of a sheet: one way of writing each, given beforehand; all else is refused.  Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Final, Literal, get_args

from coach.roast.errors import FileError, printable

TimeUnit = Literal["m:ss", "s", "min", "m.ss"]
TIME_UNITS: Final[tuple[TimeUnit, ...]] = get_args(TimeUnit)
"""Ways of writing a time: 6:20 (or 0:06:20); 380; 6.33 (decimal minutes); 6.20 (minutes and seconds with a point)."""


DATE: Final = r"\d{4}-\d\d|\d\d?[./]\d\d?[./]\d{2,4}"
NO_DATE: Final = "Give the time since charge, not a date; or the time of day alone, and --mark charge=8:02:00"


def parse_number(text: str, decimal: str, path: str, line: int, name: str) -> float:
    """Parse a number with one decimal sign and no thousands sign; a unit behind it is allowed.  Raises FileError."""
    bare = re.sub(r"\s*(°\s*[CF]?|[CF]|kPa|mbar|psi|%)$", "", text.strip()).replace("−", "-")
    if re.fullmatch(rf"[-+]?\d+(?:\{decimal}\d+)?", bare, re.ASCII) and len(bare) <= 15:
        return float(bare.replace(",", "."))
    other = "," if decimal == "." else "."
    if re.fullmatch(rf"[-+]?\d+\{other}\d+", bare, re.ASCII):
        hint = f"Is that a decimal {_word(other)}? Then give --decimal {_word(other)}"
        if re.fullmatch(r"[-+]?\d{1,3}\D\d{3}", bare):
            hint += "; a sign between thousands must go"
    else:
        hint = "Correct the cell, or leave the line out: --leave-out LINE"
    raise FileError(path, f"'{_short(text)}' is not a number.", hint, line=line, field=_short(name))


HALF_DAY: Final = r"(?:\s*([ap])\.?m\.?)?"
"""Pattern of AM or PM behind a time of day."""


def parse_time(text: str, unit: TimeUnit, decimal: str, path: str, line: int, name: str) -> float:
    """Parse a time to s.  Raises FileError."""
    bare = text.strip().replace("−", "-")
    sign = -1.0 if bare.startswith("-") else 1.0
    bare = bare.lstrip("+-")
    point = re.escape(decimal)
    if unit == "m:ss":
        of_day = rf"(?:(\d{{1,2}}):)?(\d{{1,3}}):([0-5]\d)(?:{point}(\d{{1,6}}))?{HALF_DAY}"
        match = re.fullmatch(of_day, bare, re.ASCII | re.IGNORECASE)
        if match and not (match[1] and int(match[2]) > 59) and not (match[5] and not match[1]):
            hours = int(match[1] or 0)
            if match[5]:
                hours = hours % 12 + (12 if match[5] in "pP" else 0)
            return sign * (hours * 3600 + int(match[2]) * 60 + float(f"{match[3]}.{match[4] or 0}"))
    elif unit == "m.ss":
        match = re.fullmatch(r"(\d{1,3})[.,]([0-5]\d)", bare, re.ASCII) or re.fullmatch(r"(\d{1,3})()", bare, re.ASCII)
        if match:
            return sign * (int(match[1]) * 60 + int(match[2] or 0))
    elif re.fullmatch(rf"\d{{1,6}}(?:{point}\d{{1,9}})?", bare, re.ASCII):
        return sign * float(bare.replace(",", ".")) * (60.0 if unit == "min" else 1.0)
    how = {"m:ss": "minutes:seconds like 6:20", "s": "seconds", "min": "decimal minutes", "m.ss": "m.ss like 6.20"}
    hint = "Correct the cell, or say how times are written: --time-unit " + ", ".join(TIME_UNITS)
    if unit != "m:ss" and re.fullmatch(r"\d+:[0-5]\d", bare):
        hint = "Give --time-unit m:ss"
    elif dated([bare]):
        hint = NO_DATE
    message = f"'{_short(text)}' is not a time in {how[unit]}." if bare else "no time."
    raise FileError(path, message, hint, line=line, field=_short(name))


def times_of(cells: Sequence[tuple[int, str]], unit: TimeUnit, decimal: str, path: str) -> list[float]:
    """The times of all rows, s; they must not run backwards.  Raises FileError with the line."""
    times = [(line, parse_time(text, unit, decimal, path, line, "time")) for line, text in cells]
    for (_, a), (line, b) in pairwise(times):
        if b < a:
            raise FileError(path, "the time runs backwards.", "Put the rows in order, or correct it.", line=line)
    _check_steps(cells, [t for _, t in times], unit, decimal, path)
    return [t for _, t in times]


def _check_steps(
    cells: Sequence[tuple[int, str]], times: Sequence[float], unit: TimeUnit, decimal: str, path: str
) -> None:
    """Check that decimal minutes and minutes with seconds behind a point are not confused: where the other reading
    gives even steps and this one does not, this one is wrong.  Raises FileError."""
    other: TimeUnit | None = {"min": "m.ss", "m.ss": "min"}.get(unit)  # type: ignore[assignment]
    if other is None or _even(times) > 0.8:
        return
    try:
        found = [parse_time(text, other, decimal, path, line, "time") for line, text in cells]
    except FileError:
        return
    if _even(found) > 0.9:
        message = f"read as {unit} the times are uneven, read as {other} they are even."
        raise FileError(path, message, f"Give --time-unit {other}", line=cells[0][0])


def _even(times: Sequence[float]) -> float:
    """Share of steps that are like the median one."""
    steps = sorted(b - a for a, b in pairwise(times))
    middle = steps[len(steps) // 2] if steps else 0.0
    return sum(1 for s in steps if abs(s - middle) <= 1.5) / max(len(steps), 1)


def temperature_unit_in(name: str) -> str | None:
    """Temperature unit, where a column's name holds it: Bean (°C), temperature_F, probe degC, bean Celsius."""
    match = re.search(r"(?:°\s*|[(\[_ ]deg(?:rees)?[ _]*|[(\[_ ])([cf])(?:elsius|ahrenheit)?[)\]]?$", name.lower())
    return match[1].upper() if match else None


def time_unit_in(name: str) -> TimeUnit | None:
    """Time unit, where a column's name holds it: time (m:ss), roast_time_s, Zeit [min]."""
    lower = name.lower()
    if "m:ss" in lower:
        return "m:ss"
    if re.search(r"(?:^|[(\[_ ])(s|sec|seconds)[)\]]?$", lower):
        return "s"
    return "min" if re.search(r"[(\[_ ](min|minutes)[)\]]?$", lower) else None


def pressure_unit_in(name: str) -> str | None:
    """Pressure unit, where a column's name holds it: gas (mbar), gas_kPa."""
    known = {"kpa": "kPa", "mbar": "mbar", "inh2o": "inH2O", "mmh2o": "mmH2O", "psi": "psi"}
    match = re.search(r"[(\[_ ](kpa|mbar|inh2o|mmh2o|psi)[)\]]?$", name.lower())
    return known[match[1]] if match else None


def time_unit_of(cells: Sequence[str]) -> TimeUnit | None:
    """Time unit that the cells themselves show: only m:ss, where nearly all are written so."""
    given = [c for c in cells if c]
    fit = sum(1 for c in given if re.fullmatch(rf"[-+−]?\d+(:\d+)?:\d\d([.,]\d+)?{HALF_DAY}", c, re.IGNORECASE))
    return "m:ss" if given and fit >= 0.8 * len(given) else None


def could_be_seconds(cells: Sequence[str]) -> bool:
    """True if minutes may be minutes and seconds with a point (6.20): two digits, never above 59."""
    given = [c for c in cells if c]
    told = [c for c in given if not re.fullmatch(r"-?\d+([.,]00?)?", c)]
    return bool(told) and all(re.fullmatch(r"-?\d+[.,][0-5]\d", c) for c in told)


def dated(cells: Sequence[str]) -> bool:
    """True if these are dates."""
    return any(re.search(DATE, c) for c in cells)


def _word(sign: str) -> str:
    return "comma" if sign == "," else "point"


def _short(text: str) -> str:
    return printable(text)[:30]
