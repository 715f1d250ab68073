"""``coach log``: the finished roasts; lists, filters, opens one."""

from __future__ import annotations

import argparse
import json
import shutil
from dataclasses import asdict
from pathlib import Path, PurePath
from typing import Any

from coach.app.commands import check, show_list
from coach.app.printing import progress
from coach.logbook.index.find import find_roast, selected
from coach.logbook.index.index import Index, load_summary
from coach.logbook.index.listing import beginnings, listing
from coach.logbook.index.one_roast import roast_text
from coach.roast.errors import CoachError, as_argument, printable
from coach.session.folders import logbook_folder
from coach.session.journal import read_journal


def run(args: argparse.Namespace) -> int:
    """List, or open one."""
    folder = logbook_folder(args.logbook)
    if args.roast:
        path = find_roast(args.roast, folder)
        if args.json:
            print(json.dumps(asdict(load_summary(path, str(path)))))
        else:
            print("\n".join(roast_text(read_journal(path))))
            print(f"  coach review {as_argument(path.stem)} --screen shows its review")
        return 0
    where, values = selected(
        profile=args.profile, coffee=args.coffee, person=args.person, machine=args.machine, since=args.since,
        until=args.until, ended=args.ended, rehearsals=args.rehearsals,
    )  # fmt: skip
    check("--limit", args.limit, "For example: --limit 30 (0: all)")
    if not folder.is_dir():
        if args.logbook:
            raise CoachError(f"{printable(str(folder))} is no folder.", "Name the folder that holds the journals.")
        print(f"No roasts yet: {printable(str(folder))} is made by your first roast.")
        return 0
    if args.screen:
        return _board(args, folder, where, values)
    with ready(folder) as index:
        rows = list(index.rows(where, values, args.limit or None, files=args.ended == "unreadable"))
        if args.json:
            for row in rows:
                print(json.dumps(asdict(row)))
            return 0
        short = beginnings(PurePath(f).stem for f in index.files())
        closing = _closing(index, args, where, values, len(rows))
    wide = shutil.get_terminal_size((120, 24)).columns
    print("\n".join([*listing(rows, wide, short), *closing]))
    return 0


def _board(args: argparse.Namespace, folder: Path, where: str, values: tuple[Any, ...]) -> int:
    """Show the list on a screen; it is read again each time it comes back, so that changes to a roast show."""
    from coach.app.screens.boards import LogList

    def listing() -> LogList:
        with ready(folder) as index:
            rows = list(index.rows(where, values, args.limit or None, files=args.ended == "unreadable"))
            closing = _closing(index, args, where, values, len(rows))
        return LogList(rows, closing)

    return show_list(args, listing)


def ready(folder: Path) -> Index:
    """The index of a folder, brought up to date; a long read shows its progress on standard error."""
    index = Index.of(folder)
    index.refresh(progress("reading journals"))
    return index


def _closing(index: Index, args: argparse.Namespace, where: str, values: tuple[Any, ...], shown: int) -> list[str]:
    """Remarks on the whole list: how many roasts there are, and which files are none; nothing where there are none."""
    if args.ended == "unreadable":
        return []
    count = index.count(where, values)
    copies, unreadable = index.not_counted()
    text = f"{count} roast{'s' if count != 1 else ''}" if count else ""
    if shown < count:
        text += f", the newest {shown} shown (--limit 0: all)"
    if unreadable:
        text += f"{'; ' if text else ''}{len(unreadable)} can't be read: coach log --ended unreadable"
    out = [text] if text else []
    if copies:
        names = ", ".join(printable(PurePath(f).stem) for f in copies[:3]) + (", ..." if len(copies) > 3 else "")
        out.append(f"Not counted: {len(copies)} cop{'y' if len(copies) == 1 else 'ies'} of them ({names}).")
        out.append("What was added to a copy: coach result ROAST copies  brings it to the one that counts.")
    return out
