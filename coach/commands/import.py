"""``coach import FILE``: a sheet of comma-separated values becomes a roast, or at once a profile."""  # noqa: N999

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from coach.logbook.sheet_in import Columns, Sheet, Taken
    from coach.units import PressureUnit


OTHERS: Final = ("event", "gas", "air", "drum", "note")
"""Columns that a sheet need not have."""


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    from coach.commands.adopt import add_given

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
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Read, check, write; says what it made."""
    from pathlib import Path

    from pydantic import ValidationError

    from coach.adopt import adopt, line_of
    from coach.commands.adopt import agreed, given_by
    from coach.errors import CoachError, EntryError
    from coach.library import (
        dump_document,
        file_stem,
        load_profile,
        logbook_folder,
        printable,
        profile_folder,
        save_text,
    )
    from coach.logbook.differences import change_table
    from coach.logbook.imported import entries_of, header_of, journal_text, roast_of
    from coach.logbook.results import HEAVIEST
    from coach.logbook.sheet_in import DELIMITERS, SheetError, read_sheet, take
    from coach.profile import Profile
    from coach.roast import explain

    path = printable(args.file)
    data = _bytes(args.file)
    sheet = read_sheet(data, path, DELIMITERS.get(args.delimiter or "", ""))
    columns, pressure_unit = choose(args, sheet)
    taken = take(sheet, columns, _marks(args.mark), frozenset(args.leave_out))
    if args.batch is None:
        raise CoachError(f"{path}: the weight of the batch is not given.", "Give it in kg: --batch 0.8")
    if not 0 < args.batch <= HEAVIEST:
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
    said = [*taken_as(sheet, columns), *taken.said]
    if "first crack" not in taken.marks:
        said.append("No first crack is marked: add it with --mark 'first crack=8:07', or crack can't be forecast.")
    if "drop" not in taken.marks:
        said.append("No drop is marked: add it with --mark drop=9:35, or no profile can be made of it.")
    if made is not None:
        new, old = Profile.from_document(made.document), None if followed is None else Profile.from_document(followed)
        print("\n".join(f"  {line}" for line in change_table(old, new, made.sources)))
        agreed(old, new, args.change, "coach import")
        if args.show:
            return 0
        target = Path(args.output) if args.output else profile_folder() / f"{file_stem(args.profile)}.toml"
        save_text(target, dump_document(made.document), overwrite=args.overwrite)
        next_step = f"follow it with  coach follow {printable(str(target))}"
    else:
        target = Path(args.output) if args.output else logbook_folder() / f"{header.id}.jsonl"
        save_text(target, journal_text(header, entries), overwrite=args.overwrite)
        next_step = f"make it a profile with  coach adopt {printable(str(target))} --name NAME"
    print(f"{printable(str(target))}: {_count(taken)}; {next_step}")
    for text in said:
        print(f"  {text}")
    return 0


def _count(taken: Taken) -> str:
    from coach.units import clock

    marks = ", ".join(f"{e} {clock(t)}" for e, t in sorted(taken.marks.items(), key=lambda m: m[1])) or "no marks"
    moves = len(taken.moves)
    return f"{len(taken.readings)} readings, {moves} move{'' if moves == 1 else 's'}, {marks}"


def choose(args: argparse.Namespace, sheet: Sheet) -> tuple[Columns, PressureUnit]:
    """Columns and units: from the options, from the columns' names, or asked.  Raises SheetError when it can't ask."""
    from coach.library import printable
    from coach.logbook.cells import (
        NO_DATE,
        TIME_UNITS,
        could_be_seconds,
        dated,
        pressure_unit_in,
        temperature_unit_in,
        time_unit_in,
        time_unit_of,
    )  # fmt: skip
    from coach.logbook.sheet_in import Columns, SheetError, column
    from coach.units import KPA_PER

    all_columns = [*sheet.names, *(str(i + 1) for i in range(len(sheet.names)))]

    def place(name: str) -> str:
        return (
            getattr(args, name)
            or _usual(sheet, name)
            or _ask(
                f"Which column is the {name}? ", sheet, f"--{name} COLUMN", f"which column is the {name}", all_columns
            )
        )

    time, hot = place("time"), place("temperature")
    time_at, hot_at = column(sheet, time, "time"), column(sheet, hot, "temperature")
    others = {name: _other(sheet, name, getattr(args, name)) for name in OTHERS}
    cells = [row[time_at] for _, row in sheet.rows]
    if args.time_unit is None and dated(cells):
        raise SheetError(sheet.path, f"'{printable(cells[0])[:30]}' is a date.", NO_DATE, line=sheet.rows[0][0])
    named = time_unit_in(sheet.names[time_at])
    if named == "min" and could_be_seconds(cells):
        named = None  # 5.45 may be 5:45 as well
    unit: Any = (
        args.unit
        or temperature_unit_in(sheet.names[hot_at])
        or _ask("Unit of the temperatures, C or F? ", sheet, "--unit C", "the unit of the temperatures", ("C", "F"))
    )
    time_unit: Any = (
        args.time_unit
        or time_unit_of(cells)
        or named
        or _ask(
            "Times in m:ss, s, min or m.ss? ",
            sheet,
            "--time-unit s (or min, m.ss, m:ss)",
            "how times are written",
            TIME_UNITS,
        )
    )
    pressure: Any = args.pressure_unit or "kPa"
    gas = others["gas"]
    if gas is not None and args.pressure_unit is None:
        pressure = pressure_unit_in(sheet.names[column(sheet, gas, "gas")]) or _ask(
            f"Unit of the gas, {', '.join(KPA_PER)}? ", sheet, "--pressure-unit kPa (or --gas none)",
            "the unit of the gas", tuple(KPA_PER),
        )  # fmt: skip
    columns = Columns(time, hot, unit, time_unit, **others, decimal="," if args.decimal == "comma" else ".")
    return columns, pressure


def _other(sheet: Sheet, name: str, given: str | None) -> str | None:
    """The column that was named, else the one that is called so; None: there is none, or it is not to be taken."""
    return None if given == "none" else given or _usual(sheet, name)


def taken_as(sheet: Sheet, columns: Columns) -> list[str]:
    """Which column was taken as what, and which were passed over."""
    from coach.library import printable
    from coach.logbook.sheet_in import column

    taken = {column(sheet, x, n): n for n in ("time", "temperature", *OTHERS) if (x := getattr(columns, n)) is not None}
    names = [printable(n)[:30] or f"column {i}" for i, n in enumerate(sheet.names, 1)]
    units = {"time": f" ({columns.time_unit})", "temperature": f" (°{columns.unit})"}
    out = ["Taken: " + ", ".join(f"'{names[i]}' as {n}{units.get(n, '')}" for i, n in sorted(taken.items())) + "."]
    left = [f"'{n}'" for i, n in enumerate(names) if i not in taken]
    if left:
        out.append(f"Not taken: {', '.join(left[:12])}{' and more' if len(left) > 12 else ''}.")
    return out


def _usual(sheet: Sheet, name: str) -> str | None:
    """The one column that is named so, with or without its unit."""
    import re

    unit = r"\s*[(\[].*$|(?<!typed)_(?:[cfs]|min|kpa|mbar|inh2o|mmh2o|psi)$"
    bare = [re.sub(unit, "", n.lower()).strip() for n in sheet.names]
    found = [i for i, n in enumerate(bare) if n in (name, f"roast_{name}")]
    return str(found[0] + 1) if len(found) == 1 else None


def _ask(question: str, sheet: Sheet, option: str, what: str, known: Sequence[str]) -> Any:
    """An answer from the person, one of ``known`` (without regard to case), asked until it is; without a terminal, or
    without an answer, SheetError says which option to give."""
    import sys

    from coach.library import printable
    from coach.logbook.sheet_in import SheetError

    names = ", ".join(f"{i} {printable(n)[:30]}" for i, n in enumerate(sheet.names[:20], 1))
    refusal = SheetError(
        sheet.path, f"it does not say {what}.", f"Give {option}; the columns are: {names}.", line=sheet.head
    )
    if not sys.stdin.isatty():
        raise refusal
    print(f"Columns: {names}")
    by_case = {k.lower(): k for k in known}
    while said := input(question).strip():
        if said.lower() in by_case:
            return by_case[said.lower()]
        print(f"  '{printable(said)[:20]}' is not one of them.")
    raise refusal


def _marks(given: list[str]) -> dict[Any, str]:
    from coach.errors import CoachError
    from coach.parse import MARK_WORDS

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

    from coach.errors import CoachError

    if not date:
        return datetime.now().astimezone().isoformat(timespec="seconds")
    try:
        return datetime.fromisoformat(date).astimezone().isoformat(timespec="seconds")
    except (ValueError, OverflowError):
        raise CoachError(f"--date '{date[:20]}' is no date.", "Write 2026-10-05 or 2026-10-05T08:30") from None


def _bytes(name: str) -> bytes:
    from pathlib import Path

    from coach.library import printable
    from coach.logbook.sheet_in import MAX_BYTES, SheetError

    path, shown = Path(name).expanduser(), printable(name)
    try:
        if path.is_dir():
            raise SheetError(shown, "is a folder.", "Name a file.")
        with path.open("rb") as file:
            return file.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise SheetError(shown, "not found.", "Check the name.") from None
    except OSError as error:
        raise SheetError(shown, f"can't be read ({error.strerror}).", "Check the file's rights.") from None
