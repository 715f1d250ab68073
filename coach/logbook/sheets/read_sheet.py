"""Entries of a roast from a sheet of comma-separated values: the person, or the column's name, gives each column's
meaning and unit; nothing is guessed in silence.  Pure: bytes in, entries out.

Format: RFC 4180, and its variants from hands and spreadsheets (other delimiters, decimal commas, a byte order mark,
line feeds alone).  Ambiguous values are refused with their line.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final, Literal

from coach.logbook.sheets.cells import TimeUnit, parse_number, parse_time, times_of
from coach.logbook.sheets.checks import BESIDE, check_marks, check_readings, check_span
from coach.roast.entries import EVENTS, Event
from coach.roast.errors import FileError, printable
from coach.roast.typed_line import MARK_WORDS
from coach.roast.units import Control, TemperatureUnit, clock

NAMES: Final[Mapping[str, tuple[str, ...]]] = {
    "time": ("time", "roast time", "roast_time", "elapsed", "clock", "seconds", "sec", "minutes", "min"),
    "temperature": ("temperature", "bean temperature", "bean probe", "bean", "beans", "probe", "bean temp", "bt",
                    "temp"),
    "event": ("event", "events", "mark"),
    "gas": ("gas",), "air": ("air",), "drum": ("drum",), "note": ("note", "notes", "remarks"),
    "turned": ("turned",),
}  # fmt: skip
"""Usual names of columns, without their unit."""
TITLES: Final = 20
"""Limit on the lines above the names of the columns."""
MOST_WORDS: Final = 8
"""Number of unknown words for events that are named at once."""
MAX_BYTES: Final = 4 * 1024 * 1024
MAX_ROWS: Final = 20_000
MAX_COLUMNS: Final = 200
DELIMITERS: Final = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|", "space": " "}
ONE_COLUMN: Final = (
    "A line must name the columns, as in time,temperature (°C); or say how cells are set apart: --delimiter semicolon"
)
CONTROLS: Final[tuple[Control, ...]] = ("gas", "air", "drum")
Decimal = Literal[".", ","]
Cell = tuple[int, float, str]
"""A cell: the line of its row in the file, the row's time (s), and its text."""


@dataclass(frozen=True)
class Sheet:
    """The cells: names of the columns (at line ``head`` of the file), then rows, each with its line in the file;
    ``titles``: the lines above the names."""

    path: str
    names: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    delimiter: str
    head: int = 1
    titles: tuple[str, ...] = ()


@dataclass(frozen=True)
class Columns:
    """Columns by their meaning (each by name or number from 1), and their units; None: not there."""

    time: str
    temperature: str
    unit: TemperatureUnit
    time_unit: TimeUnit
    event: str | None = None
    gas: str | None = None
    air: str | None = None
    drum: str | None = None
    note: str | None = None
    turned: str | None = None
    """Column that holds yes where a reading was timed as the dial turned over, else nothing."""
    decimal: Decimal = "."


@dataclass(frozen=True)
class Taken:
    """Content of the sheet: times in s after charge, values as written there; ``said``: remarks for the person."""

    readings: tuple[tuple[float, float], ...]
    marks: Mapping[Event, float]
    moves: tuple[tuple[float, Control, float], ...]
    notes: tuple[tuple[float, str], ...]
    said: tuple[str, ...] = field(default=())
    turned: frozenset[float] = frozenset()
    """Times of the readings that were timed as the dial turned over, s after charge."""


def decode(data: bytes, path: str) -> str:
    """Decode the text of a sheet: UTF-8, or UTF-16 with its mark.  Raises FileError."""
    if len(data) > MAX_BYTES:
        raise FileError(path, "larger than 4 MB.", "That is no sheet of one roast.")
    if data[:4] == b"PK\x03\x04":
        raise FileError(path, "a workbook or an archive, not a sheet of text.", "Save the sheet as 'CSV UTF-8'.")
    if not data.strip(b"\xef\xbb\xbf \t\r\n"):
        raise FileError(path, "empty.", "Give a sheet with a line of column names and one line for each reading.")
    try:
        text = data.decode("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise FileError(path, "not text in UTF-8.", "Save it again as 'CSV UTF-8'.", line=line) from None
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        raise FileError(path, "holds a zero byte.", "That is no text; export the sheet again as CSV.", line=line)
    return text


def read_sheet(data: bytes, path: str, delimiter: str = "") -> Sheet:
    """Read the cells of a sheet; without a ``delimiter`` it is the one that the first line shows.

    Raises FileError: no text, an open quote, rows of unequal length, names twice.
    """
    text = decode(data, path)
    named = re.match(r'"?sep=(.)"?[ \t]*\r?\n', text, re.IGNORECASE)
    if named:  # a spreadsheet's own line that names the delimiter
        text = "\n" + text[named.end() :]
        delimiter = delimiter or named[1]
    above = _titles(text, delimiter)
    titles = tuple(line.strip() for line in text.splitlines()[:above] if line.strip())
    text = "\n" * above + "".join(text.splitlines(keepends=True)[above:])
    mark = delimiter or _delimiter(text, path)
    rows: list[tuple[int, tuple[str, ...]]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    line = 1
    try:
        for record in reader:
            if any(c.strip() for c in record):
                rows.append((line, tuple(c.strip() for c in record)))
            line = reader.line_num + 1
            if len(record) > MAX_COLUMNS:
                raise FileError(path, f"more than {MAX_COLUMNS} columns.", "Is the delimiter right?", line=line - 1)
            if len(rows) > MAX_ROWS or line > 4 * MAX_ROWS:
                raise FileError(path, f"more than {MAX_ROWS} rows.", "Give one roast, a row for each reading.")
    except csv.Error as error:
        what = "a quote that is never closed" if "end of data" in str(error) else "text beside a quoted cell"
        raise FileError(path, f"{what}.", "Quotes go around a whole cell.", line=line) from None
    if not rows:
        raise FileError(path, "holds no cells.", "Give a line of column names and one line for each reading.")
    (head, names), body = rows[0], rows[1:]
    if len(names) < 2:
        raise FileError(path, "only one column.", ONE_COLUMN, line=head)
    seen: set[str] = set()
    for name in names:
        if name and name.lower() in seen:
            raise FileError(path, f"two columns are named '{_short(name)}'.", "Rename one.", line=head)
        seen.add(name.lower())
    if all(_is_number(n) for n in names if n):
        raise FileError(path, "has no column names.", "Put a first line such as time,temperature (°C).", line=head)
    for number, cells in body:
        if len(cells) != len(names):
            hint = "Is the decimal sign the delimiter too? Put quotes around such cells, or use --delimiter."
            raise FileError(path, f"{len(cells)} cells, but there are {len(names)} columns.", hint, line=number)
    if not body:
        raise FileError(path, "has column names and nothing under them.", "Give one line for each reading.")
    return Sheet(path, names, tuple(body), mark, head, titles)


def bare_name(name: str) -> str:
    """The name of a column without its unit, in small letters."""
    unit = r"\s*[(\[].*$|(?<!typed)_(?:[cfs]|min|kpa|mbar|inh2o|mmh2o|psi)$|\s+°?[cf]$|\s*%$"
    return re.sub(unit, "", name.lower()).strip()


def usual(sheet: Sheet, what: str) -> str | None:
    """Number of the one column with a usual name for ``what``; None where there is none, or several."""
    bare = [bare_name(n) for n in sheet.names]
    for name in NAMES[what]:
        found = [i for i, n in enumerate(bare) if n == name]
        if found:
            return str(found[0] + 1) if len(found) == 1 else None
    return None


def decimal_of(sheet: Sheet, places: Sequence[int]) -> Decimal:
    """The decimal sign in these columns: a comma where commas stand in numbers, no point does, and the cells are not
    set apart by commas."""
    cells = [c for _, row in sheet.rows for i, c in enumerate(row) if i in places]
    comma, point = (any(re.search(rf"\d\{sign}\d", c) for c in cells) for sign in ",.")
    return "," if comma and not point and sheet.delimiter != "," else "."


def _titles(text: str, delimiter: str) -> int:
    """Number of lines above the names of the columns.

    The names are in the first line that holds a usual name of times; else in the first whose cells are as many as those
    of the line below it and more than those of the lines above."""
    lines = text.splitlines()[: TITLES + 2]
    marks = [delimiter] if delimiter else [",", ";", "\t", "|"]

    def words(line: str, mark: str) -> list[str]:
        cells = [c.strip().strip('"').strip() for c in line.split(mark)]
        return [c for c in cells if c and not _is_number(c)]

    for i, line in enumerate(lines):
        for mark in marks:
            found = words(line, mark)
            if len(found) > 1 and any(bare_name(c) in NAMES["time"] for c in found):
                return i
    for i, (line, below) in enumerate(pairwise(lines)):
        for mark in marks:
            cells = line.count(mark)
            above = [x for x in lines[:i] if x.strip()]
            if not cells or below.count(mark) != cells or len(words(line, mark)) < 2:
                continue
            if all(x.count(mark) < cells or len([c for c in x.split(mark) if c.strip()]) == 1 for x in above):
                return i if above else 0
    return 0


def _delimiter(text: str, path: str) -> str:
    """The delimiter of the first line that isn't empty.  Raises FileError when two could be meant."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    bare = re.sub(r'"[^"]*"', "", first)
    found = [(bare.count(d), d) for d in (",", ";", "\t", "|") if d in bare]
    if not found:
        raise FileError(path, "only one column.", ONE_COLUMN, line=1)
    if len(found) > 1:
        names = " or ".join(k for k, v in DELIMITERS.items() if v in bare and v != " ")
        raise FileError(path, f"cells may be set apart by {names}.", "Say which: --delimiter semicolon", line=1)
    return found[0][1]


def _is_number(text: str) -> bool:
    return re.fullmatch(r"[-+]?[\d.,:]+", text) is not None


def _short(text: str) -> str:
    return printable(text)[:40]


def column(sheet: Sheet, wanted: str, what: str) -> int:
    """The place of a column by its name or number.  Raises FileError that lists the columns."""
    lower = [n.lower() for n in sheet.names]
    if wanted.strip().lower() in lower:
        return lower.index(wanted.strip().lower())
    if wanted.isascii() and wanted.isdigit() and 1 <= int(wanted) <= len(sheet.names):
        return int(wanted) - 1
    names = ", ".join(_short(n) for n in sheet.names[:20])
    raise FileError(sheet.path, f"no column '{_short(wanted)}' for {what}.", f"There are: {names}.", line=sheet.head)


def take(
    sheet: Sheet, columns: Columns, marks: Mapping[Event, str], leave_out: frozenset[int] = frozenset(),
    words: Mapping[str, Event | None] | None = None,
) -> Taken:  # fmt: skip
    """The roast that a sheet holds.  ``marks``: those given beside it (their times as the sheet writes them);
    ``leave_out``: lines of the file to leave out; ``words``: the sheet's own for events (in small letters; None: none,
    but a note).  Raises FileError with the line and what to do."""
    path, decimal = sheet.path, columns.decimal
    at = places(sheet, columns)
    if len(set(at.values())) != len(at):
        raise FileError(path, "one column is named for two things.", "Give each its own.", line=sheet.head)
    rows = _rows(sheet, at, leave_out)
    times = times_of([(n, c[at["time"]]) for n, c in rows], columns.time_unit, decimal, path)

    def cells(name: str) -> list[Cell]:
        """The cells of one column that hold something."""
        filled = zip(rows, times, strict=True) if name in at else ()
        return [(line, t, row[at[name]]) for (line, row), t in filled if row[at[name]]]

    found = {e: parse_time(text, columns.time_unit, ".", path, 0, f"--mark {e}") for e, text in marks.items()}
    own = words or {}
    for line, t, text in cells("event"):
        if text.lower() not in own and event_of(text) is None:
            others = {_short(c): None for _, _, c in cells("event") if c.lower() not in own and event_of(c) is None}
            raise FileError(path, f"the event '{_short(text)}' is not known.", _meaning(list(others)), line=line)
        _mark(found, own[text.lower()] if text.lower() in own else event_of(text), t, path, line)
    name = sheet.names[at["temperature"]]
    readings = [(line, t, parse_number(text, decimal, path, line, name)) for line, t, text in cells("temperature")]
    _check_twice(readings, path)
    read = {line for line, _, _ in readings}
    turned = {t for line, t, text in cells("turned") if line in read and _yes(text, path, line)}
    moves = [move for control in CONTROLS for move in _moves(control, cells(control), decimal, path)]
    passed = [(t, text) for _, t, text in cells("event") if own.get(text.lower(), "") is None]
    notes = sorted([*((t, text[:4000]) for _, t, text in cells("note")), *passed])
    counts = sorted({(line, t) for name in ("temperature", "event", *CONTROLS) for line, t, _ in cells(name)})
    blank = len(rows) - len({line for line, _ in counts} | {line for line, _, _ in cells("note")})
    said = [f"{blank} row(s) with a time and nothing else were passed over."] if blank else []
    charged = "charge" in found
    start = found.pop("charge", 0.0)
    if start:
        at_hour = "" if start < 3600 else f"{start // 3600:.0f}:"
        written = f"{at_hour}{clock(start % 3600):0>5}" if at_hour else clock(start)
        said.append(f"Charge stands at {written} in the sheet; times count from there.")
    check_span(counts, start, path)
    near = [n for n in notes if -BESIDE <= n[0] - start <= BESIDE]
    if len(near) < len(notes):
        said.append(f"{len(notes) - len(near)} note(s) from long before or after the roast were passed over.")
    check_marks(found, start, path)
    roasting = [r for r in readings if r[1] <= found.get("drop", r[1])]
    if len(roasting) < len(readings):
        said.append(f"{len(readings) - len(roasting)} reading(s) after the drop were passed over.")
    check_readings(roasting, start, columns.unit, path, charged=charged)
    return Taken(
        tuple((t - start, v) for _, t, v in roasting),
        {e: t - start for e, t in found.items()},
        tuple((t - start, c, v) for t, c, v in sorted(moves, key=lambda m: m[0])),
        tuple((t - start, n) for t, n in near),
        tuple(said),
        frozenset(t - start for t in turned),
    )


def places(sheet: Sheet, columns: Columns) -> dict[str, int]:
    """Place of each named column in a row."""
    return {name: column(sheet, wanted, name) for name in NAMES if (wanted := getattr(columns, name)) is not None}


def _rows(sheet: Sheet, at: Mapping[str, int], leave_out: frozenset[int]) -> list[tuple[int, tuple[str, ...]]]:
    """The rows that are taken, with their lines in the file."""
    for line in sorted(leave_out - {n for n, _ in sheet.rows}):
        raise FileError(sheet.path, f"--leave-out {line}: there is no such row.", "Name a line of the file.", line=line)
    return [(n, c) for n, c in sheet.rows if n not in leave_out and any(c[i] for i in at.values())]


def _check_twice(readings: Sequence[tuple[int, float, float]], path: str) -> None:
    """Raise FileError where two readings of one time differ."""
    for (_, t0, v0), (line, t1, v1) in pairwise(readings):
        if t0 == t1 and v0 != v1:
            message = f"two readings at {clock(t1)}: {v0:g} and {v1:g}."
            raise FileError(path, message, "Correct one, or --leave-out its line.", line=line)


def _moves(
    control: Control, cells: Sequence[Cell], decimal: Decimal, path: str
) -> Iterator[tuple[float, Control, float]]:
    """The moves of one control: where its column holds another setting than before."""
    before: float | None = None
    for line, t, text in cells:
        value = parse_number(text, decimal, path, line, control)
        if value < 0:
            raise FileError(path, f"{control} {value:g} is below zero.", "Correct the cell.", line=line)
        if value != before:
            yield t, control, value
        before = value


def _yes(text: str, path: str, line: int) -> bool:
    """True if a cell holds yes, False if no.  Raises FileError on anything else."""
    said = text.strip().lower()
    if said in ("yes", "true", "1", "no", "false", "0", ""):
        return said in ("yes", "true", "1")
    raise FileError(path, f"turned '{_short(text)}' is neither yes nor no.", "Write yes, or leave it empty.", line=line)


def event_of(text: str) -> Event | None:
    """The event that a word means, None for none."""
    ordinals = {"1st": "first", "2nd": "second"}
    return MARK_WORDS.get(" ".join(ordinals.get(w, w) for w in re.split(r"[\s_-]+", text.lower().strip())))


def _meaning(words: Sequence[str]) -> str:
    """The hint for words that mean no event, each with the option that gives it one."""
    each = "  ".join(f"--word '{w}=EVENT'" for w in words[:MOST_WORDS])
    return f"Say what is meant:  {each}  (EVENT is one of: {', '.join(EVENTS)}, none)."


def _mark(found: dict[Event, float], event: Event | None, t: float, path: str, line: int) -> None:
    if event is None:
        return
    if event in found:
        hint = "Leave one out: --leave-out LINE, or don't give it with --mark."
        raise FileError(path, f"{event} stands there twice ({clock(found[event])}).", hint, line=line)
    found[event] = t
