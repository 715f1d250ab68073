"""``coach import FILE``: a roast from a sheet of comma-separated values."""  # noqa: N999

from __future__ import annotations

import argparse
import sys
from dataclasses import fields
from datetime import datetime
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from coach.app.commands import check, tell
from coach.app.printing import ask
from coach.logbook.adopt import smoothed
from coach.logbook.index.results import HEAVIEST
from coach.logbook.sheets.columns import (
    Columns,
    Question,
    beginning,
    event_of,
    first_rows,
    known,
    open_questions,
    stated_above,
    taken_as,
)
from coach.logbook.sheets.imported import header_of, roast_of, take
from coach.logbook.sheets.read_sheet import DELIMITERS, Sheet, read_sheet
from coach.logbook.sheets.sheet_file import read_bytes
from coach.roast.entries import EVENTS, Entry, Event, Header
from coach.roast.errors import CoachError, EntryError, FileError, as_argument, did_you_mean, printable
from coach.roast.roast import Roast, effective, explain
from coach.roast.units import clock
from coach.session.journal import line_of, read_journal
from coach.session.profile_files import load_profile, logbook_folder, save_text


def run(args: argparse.Namespace) -> int:
    """Read, check, write; print the result."""
    path = printable(args.file)
    data = read_bytes(args.file)
    sheet = read_sheet(data, path, DELIMITERS.get(args.delimiter or "", ""))
    columns = choose(args, sheet)
    entries, remarks = take(sheet, columns, _marks(args.mark), frozenset(args.leave_out), _words(args.word))
    weight, day = stated_above(sheet)
    args.batch, args.date = args.batch if args.batch is not None else weight, args.date or day
    check("--batch", args.batch, "Give it in kg: --batch 0.8", 0.001, HEAVIEST)
    followed = load_profile(args.follows).document if args.follows else None
    try:
        header = header_of(
            data, Path(args.file).name, followed, _started(args.date), unit=columns.unit,
            pressure_unit=columns.pressure_unit, person=args.person, machine=args.machine, coffee=args.coffee,
            batch_kg=args.batch,
        )  # fmt: skip
        roast = roast_of(header, entries)
        smoothed(roast)
    except EntryError as error:
        raise FileError(path, error.message, error.hint) from None
    except ValidationError as error:
        raise FileError(path, printable(f"makes no roast: {explain(error)}."), "Correct the sheet.") from None
    said = [*taken_as(sheet, columns), *(f"Read: {row}" for row in first_rows(sheet, columns)), *remarks]
    if args.batch is None:
        said.append("The weight of the batch is not known: coach result ROAST in=0.8 adds it.")
    if not args.date:
        said.append("No date is given: it counts as roasted now; --date 2026-10-05 says when.")
    if "first crack" not in roast.marks:
        said.append("No first crack is marked: add it with --mark 'first crack=8:07', or crack can't be forecast.")
    if "drop" not in roast.marks:
        said.append("No drop is marked: import it again with  --mark drop=9:35 --overwrite  to make a profile of it.")
    target = Path(args.output) if args.output else logbook_folder(looked_into=False) / f"{header.id}.jsonl"
    next_step = _write_roast(target, header, entries, args, said)
    if "drop" not in roast.marks:
        next_step = "its drop is missing"
    lines = [f"{printable(str(target))}: {_count(roast)}; {next_step}", *(f"  {text}" for text in said)]
    marks = {event: t for event, t in roast.marks.items() if event != "charge"}
    counts = {"readings": len(roast.preheat) + len(roast.readings), "moves": len(roast.moves), "marks": marks}
    return tell(args, {"file": target, **counts, "said": said}, lines)


def _write_roast(path: Path, header: Header, entries: list[Entry], args: argparse.Namespace, said: list[str]) -> str:
    """Write the roast's journal with what was added to it since an earlier import, and remark on both; return the next
    step, in words."""
    later = _added_later(path)
    save_text(path, "".join(map(line_of, [header, *entries, *later])), overwrite=args.overwrite)
    if later:
        said.append(f"Kept of what was added to it since: {len(later)} line{'s' * (len(later) != 1)}.")
    others = [f.stem for f in path.parent.glob(f"*-sheet-{header.id.rpartition('-')[2]}.jsonl") if f != path]
    if others and not args.output:
        said.append(f"The same sheet is there as {', '.join(others)}: if it is the same roast, remove that file.")
    name = as_argument(str(path) if args.output else path.stem)
    follows = "" if header.profile else f", or say which it followed with  coach result {name} profile NAME"
    return f"make it a profile with  coach adopt {name} --name NAME{follows}"


def _added_later(path: Path) -> list[Entry]:
    """Results and notes that were added to a journal after it was imported: another import keeps them."""
    if not path.is_file():
        return []
    try:
        return [n.entry for n in effective(read_journal(path).entries) if getattr(n.entry, "entered", "")]
    except CoachError:
        return []


def _count(roast: Roast) -> str:
    marks = ", ".join(f"{e} {clock(t)}" for e, t in roast.marks.items() if e != "charge") or "no marks"
    moves, readings = len(roast.moves), len(roast.preheat) + len(roast.readings)
    return f"{readings} readings, {moves} move{'' if moves == 1 else 's'}, {marks}"


def choose(args: argparse.Namespace, sheet: Sheet) -> Columns:
    """Columns and units: from the options, from the columns' names, or asked.  Raises FileError when it can't ask."""
    stated = {f.name: getattr(args, f.name) for f in fields(Columns)}
    found = known(sheet, stated)
    if questions := open_questions(sheet, found):
        found = _ask_all(sheet, questions, stated, asks=not args.json)
    return Columns(**found)


def _ask_all(sheet: Sheet, questions: list[Question], stated: dict[str, str | None], *, asks: bool) -> dict[str, Any]:
    """Show the sheet's beginning and all questions, then ask one by one until each is answered; return what is known
    then.  Raises FileError that names the options to give, without a terminal or without an answer."""
    names = ", ".join(f"{i} {printable(n)[:30]}" for i, n in enumerate(sheet.names[:20], 1))

    def refusal(left: list[Question]) -> FileError:
        what, options = " nor ".join(q.what for q in left), " ".join(q.option for q in left)
        return FileError(
            sheet.path, f"it does not say {what}.", f"Give {options}; the columns are: {names}.", line=sheet.head
        )

    if not asks or not sys.stdin.isatty():
        raise refusal(questions)
    print("\n".join(beginning(sheet)))
    print(f"It does not say {' nor '.join(q.what for q in questions)}.")
    found: dict[str, Any] = {}
    while questions:
        q = questions[0]
        by_case = {k.lower(): k for k in q.answers}
        while (said := ask(q.asked).strip()) and said.lower() not in by_case:
            print(f"  '{printable(said)[:20]}' is not one of them.")
        if not said:
            raise refusal(questions)
        stated[q.field] = by_case[said.lower()]
        found = known(sheet, stated)
        questions = open_questions(sheet, found)
    return found


def _words(given: list[str]) -> dict[str, Any]:
    """The sheet's own words for events, from WORD=EVENT.  Raises CoachError."""
    out: dict[str, Any] = {}
    for text in given:
        word, equals, name = (part.strip() for part in text.rpartition("=")) if "=" in text else (text, "", "")
        event = event_of(name)
        if not equals or not word or (event is None and name != "none"):
            hint = f"{did_you_mean(name, EVENTS)}Write --word '{word[:20] or 'WORD'}=first crack'; events: "
            raise CoachError(f"--word '{text[:40]}' is not understood.", f"{hint}{', '.join(EVENTS)}, none.")
        out[word.lower()] = event
    return out


def _marks(given: list[str]) -> dict[Event, str]:
    """Events and their times as the sheet writes them, from EVENT=TIME.  Raises CoachError."""
    out: dict[Event, str] = {}
    for text in given:
        name, _, time = text.partition("=")
        event = event_of(name)
        if event is None or not time:
            raise CoachError(f"--mark '{text[:30]}' is not understood.", "Write --mark 'first crack=8:07'")
        if event in out:
            raise CoachError(f"--mark gives {event} twice.", "Give it once.")
        out[event] = time
    return out


def _started(date: str) -> str:
    if not date:
        return datetime.now().astimezone().isoformat(timespec="seconds")
    try:
        return datetime.fromisoformat(date).astimezone().isoformat(timespec="seconds")
    except (ValueError, OverflowError, OSError):  # OSError: before 1970 on Windows
        raise CoachError(f"--date '{date[:20]}' is no date.", "Write 2026-10-05 or 2026-10-05T08:30") from None
