"""``coach progress``: the rehearsals of each person, the stage reached, and the errors in calling first crack."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from coach.app.commands import add_json, show_list
from coach.app.printing import print_json, width
from coach.roast.errors import CoachError

if TYPE_CHECKING:
    from coach.simulator.rehearsal.history import Record


def add(p: argparse.ArgumentParser) -> None:
    """Take the arguments."""
    p.add_argument("--person", metavar="NAME", help="one person only")
    p.add_argument(
        "--last", type=int, default=10, metavar="N", help="list the newest N rehearsals (without it: 10; 0: all)"
    )
    p.add_argument("--screen", action="store_true", help="on a screen of its own: each rehearsal opens")
    add_json(p)


def run(args: argparse.Namespace) -> int:
    """Print them."""
    from coach.app.screens.boards import ProgressList
    from coach.simulator.rehearsal.history import history_file, history_folder, progress, read_records

    def people() -> list[tuple[str, list[Record]]]:
        paths = [history_file(args.person)] if args.person is not None else sorted(history_folder().glob("*.jsonl"))
        return [(p.stem, records) for p in paths if (records := read_records(p))]

    if args.json:
        print_json([{"person": n, "progress": progress(r), "rehearsals": r} for n, r in people()])
        return 0
    if args.screen:
        return show_list(args, lambda: ProgressList(people()))
    if not people():
        who = f" of {args.person}" if args.person else ""
        raise CoachError(f"There is no rehearsal{who} yet.", "coach rehearse PROFILE --person NAME")
    print(ProgressList(people(), args.last).printed(width()))
    return 0
