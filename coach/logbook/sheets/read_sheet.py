"""The cells of a sheet of comma-separated values.  Pure: bytes in, cells out.

Format: RFC 4180, and its variants from hands and spreadsheets (other delimiters, decimal commas, a byte order mark,
line feeds alone).  Ambiguous values are refused with their line.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from coach.roast.errors import FileError, printable

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
MAX_BYTES: Final = 4 * 1024 * 1024
MAX_ROWS: Final = 20_000
MAX_COLUMNS: Final = 200
DELIMITERS: Final = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|", "space": " "}
ONE_COLUMN: Final = (
    "A line must name the columns, as in time,temperature (°C); or say how cells are set apart: --delimiter semicolon"
)
Decimal = Literal[".", ","]


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


def usual(sheet: Sheet, what: str) -> int | None:
    """Place of the one column with a usual name for ``what``; None where there is none, or several."""
    bare = [bare_name(n) for n in sheet.names]
    for name in NAMES[what]:
        found = [i for i, n in enumerate(bare) if n == name]
        if found:
            return found[0] if len(found) == 1 else None
    return None


def decimal_of(sheet: Sheet, places: Collection[int]) -> Decimal:
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
