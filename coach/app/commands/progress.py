"""``coach progress``: the rehearsals of each person, the stage reached, and the errors in calling first crack."""

from __future__ import annotations

import argparse

from coach.app.commands import show_list
from coach.app.printing import print_json, width
from coach.app.screens.boards import ProgressList
from coach.roast.errors import CoachError
from coach.simulator.rehearsal.history import Record, history_file, history_folder, progress, read_records


def run(args: argparse.Namespace) -> int:
    """Print them."""

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
