"""``coach close [ROAST]``: mark a roast that ended without a drop as over."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime

from coach.app.printing import ask, print_json
from coach.logbook.index.find import find_roast, left_unfinished, only_unfinished
from coach.logbook.index.results import abandon
from coach.roast.errors import CoachError, as_argument, printable
from coach.session.folders import logbook_folder
from coach.session.offers import described


def run(args: argparse.Namespace) -> int:
    """Append that the roast is over, and print how to take that back."""
    folder = logbook_folder(args.logbook)
    if args.undo and not args.roast:
        raise CoachError("Which roast?", "Name it: coach close NAME --undo")
    path = find_roast(args.roast, folder) if args.roast else only_unfinished(folder).path
    name, what = as_argument(path.stem), ""
    offer = (
        None if args.undo else next((o for o in left_unfinished(folder) if o.path.resolve() == path.resolve()), None)
    )
    if offer is not None:
        what = printable(f" ({described(offer)})")
        if offer.fresh and not offer.in_use and not args.yes:  # one that is in use is refused below
            if args.json or not sys.stdin.isatty():
                raise CoachError(f"{name}{what} may be running.", f"If it is over: coach close {name} --yes")
            if ask(f"{name}{what} may be running. Close it without a drop? (yes)").strip().lower() not in ("y", "yes"):
                print("Nothing was changed.")
                return 0
    abandon(path, datetime.now(UTC), over=not args.undo)
    if args.json:
        print_json({"roast": path.stem, "file": path, "closed": not args.undo})
    elif args.undo:
        print(f"{name} is open again; coach follow PROFILE offers it for three hours after its start.")
    else:
        print(f"{name}{what} is closed without a drop.\nopen it again:  coach close {name} --undo")
    return 0
