"""``coach progress``: the rehearsals of each person, the stage reached, and the errors in calling first crack."""

from __future__ import annotations

import argparse

from coach.app.commands import show_list, tell
from coach.app.printing import width
from coach.app.screens.boards import ProgressList
from coach.roast.errors import CoachError
from coach.simulator.rehearsal.history import Record, history_file, history_folder, progress, read_records


def run(args: argparse.Namespace) -> int:
    """Print them."""

    def people() -> list[tuple[str, list[Record]]]:
        paths = [history_file(args.person)] if args.person is not None else sorted(history_folder().glob("*.jsonl"))
        return [(p.stem, records) for p in paths if (records := read_records(p))]

    if args.screen:
        return show_list(args, lambda: ProgressList(people()))
    found = people()
    if not found and not args.json:
        who = f" of {args.person}" if args.person else ""
        raise CoachError(f"There is no rehearsal{who} yet.", "coach rehearse PROFILE --person NAME")
    values = [{"person": n, "progress": progress(r), "rehearsals": r} for n, r in found]
    return tell(args, values, ProgressList(found, args.last).printed(width()))
