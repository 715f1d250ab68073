"""``coach log``: the finished roasts; lists, filters, opens one."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from coach.app.commands import add_logbook

if TYPE_CHECKING:
    from pathlib import Path

    from coach.logbook.index.index import Index
    from coach.roast.roast import Roast
    from coach.session.journal import Journal


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    p = commands.add_parser("log", help="list the roasts of the logbook, or open one")
    p.add_argument(
        "roast", nargs="?", metavar="ROAST", help="open this one: a file, (the beginning of) a name, or last"
    )
    p.add_argument("--profile", default="", metavar="TEXT", help="only roasts of a profile with this in its name")
    p.add_argument("--coffee", default="", metavar="TEXT")
    p.add_argument("--person", default="", metavar="TEXT")
    p.add_argument("--machine", default="", metavar="TEXT")
    p.add_argument("--since", default="", metavar="DATE", help="2026-11-02, 2026-11 or 2026")
    p.add_argument("--until", default="", metavar="DATE")
    p.add_argument("--ended", default="", metavar="HOW", help="dropped, unfinished, accepted, refused, unreadable, ...")
    p.add_argument("--rehearsals", action="store_true", help="rehearsals too")
    p.add_argument("--limit", type=int, default=30, help="how many, newest first (0: all)")
    add_logbook(p)
    p.add_argument("--json", action="store_true", help="one JSON object for each roast")
    p.add_argument("--screen", action="store_true", help="on a screen of its own; with ROAST: its review")
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """List, or open one."""
    import shutil
    from dataclasses import asdict
    from pathlib import PurePath

    from coach.app.printing import plainly
    from coach.logbook.index.find import Filter, find_roast
    from coach.logbook.index.index import load_summary
    from coach.logbook.index.listing import beginnings, listing
    from coach.roast.errors import CoachError
    from coach.session.folders import logbook_folder

    folder = logbook_folder(args.logbook)
    if args.roast:
        path = find_roast(args.roast, folder)
        if args.json:
            import json

            print(json.dumps(asdict(load_summary(path, str(path)))))
        elif args.screen:
            return _look_back(path, folder)
        else:
            print("\n".join([*opened(path), f"  coach review {_safe(path.stem)} --screen shows its review"]))
        return 0
    wanted = Filter(
        args.profile, args.coffee, args.person, args.machine, args.since, args.until, args.ended, args.rehearsals
    )
    where, values = wanted.sql()
    if args.limit < 0:
        raise CoachError(f"--limit {args.limit} is no number of roasts.", "For example: --limit 30 (0: all)")
    if not folder.is_dir():
        if args.logbook:
            raise CoachError(f"{_safe(str(folder))} is no folder.", "Name the folder that holds the journals.")
        print(f"No roasts yet: {_safe(str(folder))} is made by your first roast.")
        return 0
    if args.screen:
        return _board(args, folder, where, values)
    with ready(folder) as index:
        rows = list(index.rows(where, values, args.limit or None))
        if args.json:
            import json

            for row in rows:
                print(json.dumps(asdict(row)))
            return 0
        short = beginnings(PurePath(f).stem for f in index.sizes())
        closing = _closing(index, args, where, values, len(rows))
        copied = index.copied()
        if copied:
            lies = "1 roast lies" if copied == 1 else f"{copied} roasts lie"
            closing.append(f"{lies} there more than once (copies); trends count the longest only.")
            closing.append("What was added to the others: coach result ROAST copies  brings it there.")
    wide = shutil.get_terminal_size((120, 24)).columns
    print("\n".join([*listing(rows, wide, plainly(), short), *closing]))
    return 0


def _look_back(path: Path, folder: Path) -> int:
    """Show the review of a roast on a screen; without a profile, the journal alone."""
    from coach.app.printing import patience
    from coach.app.screens.reader import read
    from coach.logbook.learning.reviewed import gather
    from coach.logbook.review.review_text import page
    from coach.roast.errors import CoachError

    try:
        with patience():
            found = gather(path, None, folder)
    except CoachError as error:
        said = [*opened(path), "", str(error)]
        return read("log", lambda wide, plain: said, "coach log ROAST prints it.")
    return read("log", lambda wide, plain: page(found, wide, plain), "coach review ROAST prints it.")


def _board(args: argparse.Namespace, folder: Path, where: str, values: tuple[Any, ...]) -> int:
    """Show the list on a screen; it is read again each time it comes back, so that changes to a roast show."""
    from coach.app.cli import main
    from coach.app.screens.board import show_board
    from coach.app.screens.boards import LogBoard
    from coach.app.screens.terminal import check_terminal
    from coach.session.settings import load_settings

    check_terminal("log --screen", "coach log prints it.")

    def board(at: str) -> LogBoard:
        with ready(folder) as index:
            rows = list(index.rows(where, values, args.limit or None))
            closing = _closing(index, args, where, values, len(rows))
        return LogBoard(rows, closing, load_settings(), at=at)

    return show_board(board, main)


def ready(folder: Path) -> Index:
    """The index of a folder, brought up to date; a long read shows its progress on standard error."""
    from coach.app.printing import progress
    from coach.logbook.index.index import Index

    index = Index.of(folder)
    index.refresh(progress("reading journals"))
    return index


def _safe(text: str) -> str:
    from coach.roast.errors import printable

    return printable(text)


def _closing(index: Index, args: argparse.Namespace, where: str, values: tuple[Any, ...], shown: int) -> list[str]:
    """Remarks on the whole list: how many there are, how many can't be read; nothing where there are none."""
    count = index.count(where, values)
    unreadable = 0 if args.ended == "unreadable" else index.count("ended = 'unreadable'")
    text = f"{count} roast{'s' if count != 1 else ''}" if count else ""
    if shown < count:
        text += f", the newest {shown} shown (--limit 0: all)"
    if unreadable:
        text += f"{'; ' if text else ''}{unreadable} can't be read: coach log --ended unreadable"
    return [text] if text else []


def opened(path: Path) -> list[str]:
    """One roast, read and in short."""
    from coach.session.journal import read_journal

    return in_short(read_journal(path))


def in_short(journal: Journal) -> list[str]:
    """One roast, short: header, marks, results, notes."""
    from coach.logbook.index.summary import summarise
    from coach.logbook.text.text_table import noted, number_text, time_text
    from coach.roast.errors import printable
    from coach.roast.units import from_celsius

    roast, h = journal.roast, journal.header
    s = summarise(roast, journal.path.name)
    lines = [f"{printable(h.id)}: {printable(h.profile) or 'no profile'}"]
    about = [s.moment[:16].replace("T", " "), h.person, h.machine, h.coffee, number_text(h.batch_kg, 3, "kg"), h.run]
    lines.append("  " + ", ".join(printable(x) for x in about if x and x != "–"))
    rows = (
        ("charge", 0.0 if roast.charge_at is not None else None, s.charge_temperature),
        ("turning point", s.turning_time, s.turning_temperature),
        ("yellow", s.yellow_time, s.yellow_temperature),
        ("first crack", s.crack_time, s.crack_temperature),
        ("drop", s.drop_time, s.drop_temperature),
    )
    for event, t, celsius in rows:
        hot = None if celsius is None else from_celsius(celsius, h.unit)
        lines.append(f"  {event:<14} {time_text(t):>6}  {number_text(hot, 0, '°' + h.unit):>7}")
    share = "" if s.ratio is None else f" ({100 * s.ratio:.0f} % of the roast)"
    lines.append(f"  {'development':<14} {time_text(s.development):>6}{share}")
    if roast.result is not None:
        r = roast.result
        given = {
            "in": number_text(r.weight_in, 3, "kg"), "out": number_text(r.weight_out, 3, "kg"),
            "loss": number_text(s.loss, 1, "%"), "moisture of the green": number_text(r.moisture, 1, "%"),
            "colour": number_text(r.colour, 1, r.colour_scale or ""),
            "cup": number_text(r.cup_score, 2), "notes": r.cup_notes or "–",
            "verdict": {True: "accepted", False: "refused", None: "–"}[r.accepted],
        }  # fmt: skip
        lines.append("  result: " + ", ".join(f"{k} {printable(v)}" for k, v in given.items() if v != "–"))
    lines += [f"  note {noted(t, s.drop_time)}  {printable(text)}" for t, text in roast.notes]
    if not roast.teaches:
        lines.append("  left out of what the coach learns (coach result ROAST learn=yes takes it back in)")
    lines.append(f"  {s.readings} readings, {len(roast.moves)} moves, {len(roast.pops)} pops; {s.ended}")
    if journal.torn:
        lines.append("  a torn last line was left out")
    return lines


def readings_picture(roast: Roast, width: int, height: int, plain: bool) -> list[str]:
    """A roast's readings against its roast time, in dots; nothing where there are too few."""
    from coach.logbook.text.braille import Canvas, framed
    from coach.roast.units import clock, from_celsius, number

    unit, end = roast.header.unit, roast.marks.get("drop", float("inf"))
    points = [(r.t, from_celsius(r.celsius, unit)) for r in roast.readings if 0 <= r.t <= end]
    if len(points) < 3 or width < 30:
        return []
    last, values = points[-1][0], [y for _, y in points]
    canvas = Canvas(width - 12, height, (0.0, last), (min(values), max(values)))
    canvas.line(points)
    for event, sign in (("yellow", "y"), ("first crack", "f"), ("drop", "d")):
        t = roast.marks.get(event)  # type: ignore[call-overload]
        if t is not None:
            canvas.sign(t, min(points, key=lambda p: abs(p[0] - t))[1], sign)
    top, bottom = (f"{number(v, 0)} °{unit}" for v in (canvas.y1, canvas.y0))
    return framed(canvas, top, bottom, "0:00", clock(last), plain)
