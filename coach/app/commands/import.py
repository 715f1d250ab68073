"""``coach import FILE``: a roast, or at once a profile, from a sheet of comma-separated values."""  # noqa: N999

from __future__ import annotations

import argparse
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from coach.logbook.sheets.read_sheet import Columns, Sheet, Taken
    from coach.roast.units import PressureUnit


OTHERS: Final = ("event", "gas", "air", "drum", "note", "turned")
"""Columns that a sheet need not have."""


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    from coach.app.commands import add_json
    from coach.app.commands.adopt import add_given

    p = commands.add_parser("import", help="make a roast, or a profile, from a sheet (CSV)")
    p.add_argument("file", metavar="FILE")
    columns = p.add_argument_group(
        "which column is what (its name, or its number from 1; none: not taken); columns of these names are found"
    )
    columns.add_argument("--time", metavar="COLUMN")
    columns.add_argument("--temperature", metavar="COLUMN", help="the bean probe")
    for name in OTHERS:
        columns.add_argument(f"--{name}", metavar="COLUMN")
    how = p.add_argument_group("how things are written")
    how.add_argument("--unit", choices=("C", "F"))
    how.add_argument("--time-unit", choices=("m:ss", "s", "min", "m.ss"))
    how.add_argument("--pressure-unit", choices=("kPa", "mbar", "inH2O", "mmH2O", "psi"))
    how.add_argument("--delimiter", choices=("comma", "semicolon", "tab", "bar", "space"))
    how.add_argument("--decimal", choices=("point", "comma"))
    p.add_argument(
        "--mark", action="append", default=[], metavar="EVENT=TIME", help="first crack=8:07; may be repeated"
    )
    p.add_argument(
        "--word", action="append", default=[], metavar="WORD=EVENT",
        help="the sheet's own word for an event: --word 'first pops=first crack', or =none to pass it over",
    )  # fmt: skip
    p.add_argument("--leave-out", action="append", default=[], type=int, metavar="LINE", help="a line not to take")
    about = p.add_argument_group("about the roast")
    about.add_argument("--date", default="", help="2026-10-05, or 2026-10-05T08:30; without it: today")
    about.add_argument("--follows", metavar="PROFILE", help="the profile that was followed, so that the roast counts")
    for name in ("person", "machine", "coffee"):
        about.add_argument(f"--{name}", default="")
    about.add_argument("--batch", type=float, metavar="KG")
    p.add_argument("--profile", metavar="NAME", help="make a profile of this name instead of a roast")
    p.add_argument("--output", metavar="FILE", help="where to write it; without it: into your own folder")
    p.add_argument("--overwrite", action="store_true")
    add_given(p, batch=False)
    add_json(p, "as JSON: the file, what was read, and what a profile was made of; nothing is asked")
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Read, check, write; print the result."""
    from pathlib import Path

    from pydantic import ValidationError

    from coach.app.commands.adopt import agreed, given_by
    from coach.app.printing import in_words, print_json
    from coach.logbook.adopt import adopt, line_of
    from coach.logbook.index.results import HEAVIEST
    from coach.logbook.profiles.differences import change_table, changes
    from coach.logbook.sheets.imported import entries_of, header_of, journal_text, roast_of
    from coach.logbook.sheets.read_sheet import DELIMITERS, SheetError, read_sheet, take
    from coach.roast.errors import CoachError, EntryError, printable
    from coach.roast.profile import Profile
    from coach.roast.roast import explain
    from coach.session.profile_files import (
        dump_document,
        file_stem,
        load_profile,
        logbook_folder,
        profile_folder,
        save_text,
    )

    path = printable(args.file)
    data = _bytes(args.file)
    sheet = read_sheet(data, path, DELIMITERS.get(args.delimiter or "", ""))
    columns, pressure_unit = choose(args, sheet)
    taken = take(sheet, columns, _marks(args.mark), frozenset(args.leave_out), _words(args.word))
    weight, day = titled(sheet)
    args.batch, args.date = args.batch if args.batch is not None else weight, args.date or day
    if args.batch is None and args.profile:
        raise CoachError(f"{path}: the weight of the batch is not given.", "Give it in kg: --batch 0.8")
    if args.batch is not None and not 0 < args.batch <= HEAVIEST:
        raise CoachError(f"--batch {args.batch:g} is no weight of a batch.", "Give it in kg: --batch 0.8")
    followed = load_profile(args.follows).document if args.follows else None
    try:
        header = header_of(
            data, Path(args.file).name, unit=columns.unit, pressure_unit=pressure_unit,
            started=_started(args.date), follows=followed, person=args.person, machine=args.machine,
            coffee=args.coffee, batch_kg=args.batch,
        )  # fmt: skip
        entries = entries_of(taken)
        roast = roast_of(header, entries)
        line_of(roast)
        made = adopt(roast, args.profile, followed=followed, given=given_by(args)) if args.profile else None
    except EntryError as error:
        raise SheetError(path, error.message, error.hint) from None
    except ValidationError as error:
        raise SheetError(path, printable(f"makes no roast: {explain(error)}."), "Correct the sheet.") from None
    said = [*taken_as(sheet, columns), *(f"Read: {row}" for row in first_rows(sheet, columns)), *taken.said]
    if args.batch is None:
        said.append("The weight of the batch is not known: coach result ROAST in=0.8 adds it.")
    if "first crack" not in taken.marks:
        said.append("No first crack is marked: add it with --mark 'first crack=8:07', or crack can't be forecast.")
    if "drop" not in taken.marks:
        said.append("No drop is marked: add it with --mark drop=9:35, or no profile can be made of it.")
    say, target, found, next_step = in_words(args.json), None, [], ""
    if made is not None:
        new, old = Profile.from_document(made.document), None if followed is None else Profile.from_document(followed)
        found = changes(old, new) if old else []
        say("\n".join(f"  {line}" for line in change_table(old, new, made.sources)))
        agreed(old, new, args.change, "coach import")
        if not args.show:
            target = Path(args.output) if args.output else profile_folder() / f"{file_stem(args.profile)}.toml"
            save_text(target, dump_document(made.document), overwrite=args.overwrite)
            next_step = f"follow it with  coach follow {printable(str(target))}"
    else:
        target = Path(args.output) if args.output else logbook_folder(looked_into=False) / f"{header.id}.jsonl"
        save_text(target, journal_text(header, entries), overwrite=args.overwrite)
        next_step = f"make it a profile with  coach adopt {printable(str(target))} --name NAME"
    if target is not None:
        say(f"{printable(str(target))}: {_count(taken)}; {next_step}")
        for text in said:
            say(f"  {text}")
    if args.json:
        print_json({
            "file": target, "readings": len(taken.readings), "moves": len(taken.moves), "marks": taken.marks,
            "said": said, "profile": None if made is None else made.document, "changes": found,
            "sources": {} if made is None else made.sources,
        })  # fmt: skip
    return 0


def _count(taken: Taken) -> str:
    from coach.roast.units import clock

    marks = ", ".join(f"{e} {clock(t)}" for e, t in sorted(taken.marks.items(), key=lambda m: m[1])) or "no marks"
    moves = len(taken.moves)
    return f"{len(taken.readings)} readings, {moves} move{'' if moves == 1 else 's'}, {marks}"


@dataclass(frozen=True)
class Question:
    """A value that the sheet does not give: its question, its option, and the possible answers."""

    field: str
    asked: str
    option: str
    what: str
    answers: tuple[str, ...]


def choose(args: argparse.Namespace, sheet: Sheet) -> tuple[Columns, PressureUnit]:
    """Columns and units: from the options, from the columns' names, or asked.  Raises SheetError when it can't ask."""
    from coach.logbook.sheets.cells import NO_DATE, dated
    from coach.logbook.sheets.read_sheet import Columns, SheetError, column, decimal_of
    from coach.roast.errors import printable

    given: dict[str, Any] = {name: getattr(args, name) or usual_column(sheet, name) for name in ("time", "temperature")}
    given |= {"unit": args.unit, "time_unit": args.time_unit, "pressure_unit": args.pressure_unit}
    others = {name: _other(sheet, name, getattr(args, name)) for name in OTHERS}
    if given["time"] and args.time_unit is None:
        cells = [row[column(sheet, given["time"], "time")] for _, row in sheet.rows]
        if dated(cells):
            raise SheetError(sheet.path, f"'{printable(cells[0])[:30]}' is a date.", NO_DATE, line=sheet.rows[0][0])
    open_now = open_questions(sheet, given, others["gas"])
    if open_now:
        _ask_all(sheet, open_now, given, others["gas"], asks=not args.json)
    told = known_units(sheet, given, others["gas"])
    places = [column(sheet, n, "") for n in (given["temperature"], others["gas"], others["air"], others["drum"]) if n]
    decimal = "," if args.decimal == "comma" else "." if args.decimal else decimal_of(sheet, places)
    columns = Columns(
        given["time"], given["temperature"], told["unit"], told["time_unit"], **others, decimal=decimal
    )  # fmt: skip
    return columns, told["pressure_unit"] or "kPa"


def known_units(sheet: Sheet, given: dict[str, Any], gas: str | None) -> dict[str, Any]:
    """The units: as given, else as the columns' names or the cells show them; None where they are in doubt."""
    from coach.logbook.sheets.cells import (
        could_be_seconds,
        pressure_unit_in,
        temperature_unit_in,
        time_unit_in,
        time_unit_of,
    )
    from coach.logbook.sheets.read_sheet import column

    out: dict[str, Any] = {name: given[name] for name in ("unit", "time_unit", "pressure_unit")}
    if given["temperature"]:
        name = sheet.names[column(sheet, given["temperature"], "temperature")]
        out["unit"] = out["unit"] or temperature_unit_in(name)
    if given["time"]:
        at = column(sheet, given["time"], "time")
        cells = [row[at] for _, row in sheet.rows]
        named = time_unit_in(sheet.names[at])
        if named == "min" and could_be_seconds(cells):
            named = None  # 6.20 may be 6:20 as well
        out["time_unit"] = out["time_unit"] or time_unit_of(cells) or named
    if gas is not None:
        out["pressure_unit"] = out["pressure_unit"] or pressure_unit_in(sheet.names[column(sheet, gas, "gas")])
    return out


def open_questions(sheet: Sheet, given: dict[str, Any], gas: str | None) -> list[Question]:
    """Questions that neither the options nor the sheet answer."""
    from coach.logbook.sheets.cells import TIME_UNITS
    from coach.roast.units import KPA_PER

    columns = (*sheet.names, *(str(i + 1) for i in range(len(sheet.names))))
    out = [
        Question(name, f"Which column is the {name}? ", f"--{name} COLUMN", f"which column is the {name}", columns)
        for name in ("time", "temperature")
        if not given[name]
    ]
    told = known_units(sheet, given, gas)
    if not told["unit"]:
        asked = "Unit of the temperatures, C or F?"
        out.append(Question("unit", asked, "--unit C", "the unit of the temperatures", ("C", "F")))
    if not told["time_unit"] and given["time"]:
        option = "--time-unit s (or min, m.ss, m:ss)"
        out.append(Question("time_unit", "Times in m:ss, s, min or m.ss?", option, "how times are written", TIME_UNITS))
    if gas is not None and not told["pressure_unit"]:
        asked, option = f"Unit of the gas, {', '.join(KPA_PER)}?", "--pressure-unit kPa (or --gas none)"
        out.append(Question("pressure_unit", asked, option, "the unit of the gas", tuple(KPA_PER)))
    return out


def _ask_all(sheet: Sheet, questions: list[Question], given: dict[str, Any], gas: str | None, *, asks: bool) -> None:
    """Show the sheet's beginning and all questions, then ask one by one until each is answered, into ``given``.
    Raises SheetError that names the options to give, without a terminal or without an answer."""
    import sys

    from coach.app.printing import ask
    from coach.logbook.sheets.read_sheet import SheetError
    from coach.roast.errors import printable

    names = ", ".join(f"{i} {printable(n)[:30]}" for i, n in enumerate(sheet.names[:20], 1))

    def refusal(left: list[Question]) -> SheetError:
        what, options = " nor ".join(q.what for q in left), " ".join(q.option for q in left)
        return SheetError(
            sheet.path, f"it does not say {what}.", f"Give {options}; the columns are: {names}.", line=sheet.head
        )

    if not asks or not sys.stdin.isatty():
        raise refusal(questions)
    print("\n".join(beginning(sheet)))
    print(f"It does not say {' nor '.join(q.what for q in questions)}.")
    while questions:
        q = questions[0]
        by_case = {k.lower(): k for k in q.answers}
        while (said := ask(q.asked).strip()) and said.lower() not in by_case:
            print(f"  '{printable(said)[:20]}' is not one of them.")
        if not said:
            raise refusal(questions)
        given[q.field] = by_case[said.lower()]
        questions = open_questions(sheet, given, gas)


def beginning(sheet: Sheet) -> list[str]:
    """The columns with their first cells."""
    from rich.cells import set_cell_size

    from coach.logbook.text.text_table import cut
    from coach.roast.errors import printable

    out = [f"{sheet.path}: {len(sheet.rows)} rows. Columns, with their first rows:"]
    for i, name in enumerate(sheet.names[:20]):
        cells = "  ".join(f"{printable(row[i])[:12] or '–':>8}" for _, row in sheet.rows[:4])
        out.append(f"  {i + 1:>2} {set_cell_size(cut(name, 24), 24)} {cells}")
    return out


def first_rows(sheet: Sheet, columns: Columns, many: int = 3) -> list[str]:
    """The first rows as they were read: time, temperature, and the other columns taken."""
    from coach.logbook.sheets.cells import parse_number, parse_time
    from coach.logbook.sheets.read_sheet import column
    from coach.roast.errors import printable
    from coach.roast.units import clock, number

    at = {n: column(sheet, x, n) for n in ("time", "temperature", *OTHERS) if (x := getattr(columns, n)) is not None}
    out = []
    for line, row in sheet.rows[:many]:
        t = parse_time(row[at["time"]], columns.time_unit, columns.decimal, sheet.path, line, "time")
        parts = [f"line {line}: {clock(t)}"]
        if hot := row[at["temperature"]]:
            value = parse_number(hot, columns.decimal, sheet.path, line, "temperature")
            parts.append(f"{number(value, 1)} °{columns.unit}")
        parts += [f"{n} {printable(row[at[n]])[:40]}" for n in OTHERS if n in at and row[at[n]]]
        out.append("  ".join(parts))
    return out


def _other(sheet: Sheet, name: str, given: str | None) -> str | None:
    """The column that was named, else the one with a usual name; None: there is none, or it is left out."""
    return None if given == "none" else given or usual_column(sheet, name)


def taken_as(sheet: Sheet, columns: Columns) -> list[str]:
    """Lines on the meaning of each column taken, and on those passed over."""
    from coach.logbook.sheets.read_sheet import column
    from coach.roast.errors import printable

    taken = {column(sheet, x, n): n for n in ("time", "temperature", *OTHERS) if (x := getattr(columns, n)) is not None}
    names = [printable(n)[:30] or f"column {i}" for i, n in enumerate(sheet.names, 1)]
    units = {"time": f" ({columns.time_unit})", "temperature": f" (°{columns.unit})"}
    out = ["Taken: " + ", ".join(f"'{names[i]}' as {n}{units.get(n, '')}" for i, n in sorted(taken.items())) + "."]
    if columns.decimal == ",":
        out.append("Numbers with a decimal comma.")
    if sheet.titles:
        shown = "; ".join(printable(t)[:60] for t in sheet.titles[:3])
        out.append(f"Above the columns: {shown}{' and more' if len(sheet.titles) > 3 else ''}.")
    left = [f"'{n}'" for i, n in enumerate(names) if i not in taken]
    if left:
        out.append(f"Not taken: {', '.join(left[:12])}{' and more' if len(left) > 12 else ''}.")
    return out


def usual_column(sheet: Sheet, name: str) -> str | None:
    """The column with a usual name; None for none."""
    from coach.logbook.sheets.read_sheet import usual

    return usual(sheet, name)


def _words(given: list[str]) -> dict[str, Any]:
    """The sheet's own words for events, from WORD=EVENT.  Raises CoachError."""
    from coach.logbook.sheets.read_sheet import event_of
    from coach.roast.entries import EVENTS
    from coach.roast.errors import CoachError, did_you_mean

    out: dict[str, Any] = {}
    for text in given:
        word, equals, name = (part.strip() for part in text.rpartition("=")) if "=" in text else (text, "", "")
        event = event_of(name)
        if not equals or not word or (event is None and name != "none"):
            hint = f"{did_you_mean(name, EVENTS)}Write --word '{word[:20] or 'WORD'}=first crack'; events: "
            raise CoachError(f"--word '{text[:40]}' is not understood.", f"{hint}{', '.join(EVENTS)}, none.")
        out[word.lower()] = event
    return out


def titled(sheet: Sheet) -> tuple[float | None, str]:
    """Weight of the batch (kg) and date, where the lines above the columns give one each."""
    import re

    text = " ".join(sheet.titles)
    weights = {w.replace(",", ".") for w in re.findall(r"(\d+(?:[.,]\d+)?)\s*kg\b", text)}
    dates = set(re.findall(r"\b\d{4}-\d\d-\d\d\b", text))
    return (float(weights.pop()) if len(weights) == 1 else None), (dates.pop() if len(dates) == 1 else "")


def _marks(given: list[str]) -> dict[Any, str]:
    from coach.roast.errors import CoachError
    from coach.roast.typed_line import MARK_WORDS

    out: dict[Any, str] = {}
    for text in given:
        name, _, time = text.partition("=")
        event = MARK_WORDS.get(" ".join(name.lower().split()))
        if event is None or not time:
            raise CoachError(f"--mark '{text[:30]}' is not understood.", "Write --mark 'first crack=8:07'")
        if event in out:
            raise CoachError(f"--mark gives {event} twice.", "Give it once.")
        out[event] = time
    return out


def _started(date: str) -> str:
    from datetime import datetime

    from coach.roast.errors import CoachError

    if not date:
        return datetime.now().astimezone().isoformat(timespec="seconds")
    try:
        return datetime.fromisoformat(date).astimezone().isoformat(timespec="seconds")
    except (ValueError, OverflowError, OSError):  # OSError: before 1970 on Windows
        raise CoachError(f"--date '{date[:20]}' is no date.", "Write 2026-10-05 or 2026-10-05T08:30") from None


PATIENCE: Final = 3.0
"""Longest time for which a pipe may give nothing, s."""


def _piped(descriptor: int, most: int, shown: str) -> bytes:
    """Read a pipe until its writer is done.  Raises SheetError where nothing comes."""
    from time import monotonic, sleep

    from coach.logbook.sheets.read_sheet import SheetError

    data, last = bytearray(), monotonic()
    while len(data) < most:
        try:
            some = os.read(descriptor, 65536)
        except BlockingIOError:  # a writer has it open, but nothing came yet
            some = None
        if some:
            data += some
            last = monotonic()
            continue
        if some is not None and data:
            return bytes(data)
        if monotonic() - last > PATIENCE:
            raise SheetError(shown, f"is a pipe through which nothing came for {PATIENCE:g} s.", "Name a file.")
        sleep(0.02)
    return bytes(data)


def _bytes(name: str) -> bytes:
    import stat

    from coach.logbook.sheets.read_sheet import MAX_BYTES, SheetError
    from coach.roast.errors import printable
    from coach.session.folders import own_path

    path, shown = own_path(name), printable(name)
    try:
        if path.is_dir():
            raise SheetError(shown, "is a folder.", "Name a file.")
        descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(descriptor, "rb") as file:
            if stat.S_ISFIFO(os.fstat(descriptor).st_mode):
                return _piped(descriptor, MAX_BYTES + 1, shown)
            return file.read(MAX_BYTES + 1) or b""
    except FileNotFoundError:
        raise SheetError(shown, "not found.", "Check the name.") from None
    except OSError as error:
        raise SheetError(shown, f"can't be read ({error.strerror}).", "Check the file's rights.") from None
