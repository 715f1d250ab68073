"""``coach close [ROAST]``: mark a roast that ended without a drop as over."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from pathlib import Path

from coach.app.commands import add_json, add_logbook
from coach.app.printing import print_json
from coach.roast.errors import CoachError, printable
from coach.session.folders import logbook_folder


def add(p: argparse.ArgumentParser) -> None:
    """Take the arguments."""
    p.add_argument(
        "roast", nargs="?", default="", metavar="ROAST", help="as for log; left out: the only one unfinished"
    )
    p.add_argument("--undo", action="store_true", help="the roast named is not over after all")
    add_logbook(p)
    add_json(p, "as JSON: the roast, its file, whether it is closed")


def run(args: argparse.Namespace) -> int:
    """Append that the roast is over, and print how to take that back."""
    from coach.logbook.index.find import find_roast, find_unfinished
    from coach.logbook.index.results import abandon
    from coach.session.unfinished import described

    folder = logbook_folder(args.logbook)
    what = ""
    if args.undo and not args.roast:
        raise CoachError("Which roast?", "Name it: coach close NAME --undo")
    if args.undo or Path(args.roast).suffix == ".jsonl":
        path = find_roast(args.roast, folder)
    else:
        offer = find_unfinished(folder, args.roast)
        path, what = offer.path, f" ({described(offer)})"
    abandon(path, datetime.now(UTC), over=not args.undo)
    name = printable(path.stem)
    if args.json:
        print_json({"roast": path.stem, "file": path, "closed": not args.undo})
    elif args.undo:
        print(f"{name} is open again; coach follow PROFILE offers it for three hours after its start.")
    else:
        print(f"{name}{printable(what)} is closed without a drop.\nopen it again:  coach close {name} --undo")
    return 0
