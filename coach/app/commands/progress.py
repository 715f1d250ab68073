"""``coach progress``: the rehearsals of each person, the stage reached, and the errors in calling first crack."""

from __future__ import annotations

import argparse

from coach.app.commands import add_json, show_list
from coach.app.printing import print_json
from coach.roast.errors import CoachError


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
    from coach.simulator.rehearsal.history import (
        history_file,
        history_folder,
        lateness,
        progress,
        read_records,
        sentences,
    )

    if args.person is not None:
        paths = [history_file(args.person)]
    else:
        paths = sorted(history_folder().glob("*.jsonl")) if history_folder().is_dir() else []
    if args.json:
        of_each = {p.stem: read_records(p) for p in paths}
        print_json([{"person": n, "progress": progress(r), "rehearsals": r} for n, r in of_each.items() if r])
        return 0
    if args.screen:
        from coach.app.screens.boards import ProgressList

        def listing() -> ProgressList:
            return ProgressList([(p.stem, records) for p in paths if (records := read_records(p))])

        return show_list("progress", listing)
    shown = 0
    for path in paths:
        records = read_records(path)
        if not records:
            continue
        shown += 1
        print(f"{path.stem}: {len(records)} rehearsal{'' if len(records) == 1 else 's'}")
        for line in sentences(progress(records)):
            print(f"  {line}")
        for r in records[-args.last :] if args.last > 0 else records:
            call = "" if r.call_off is None else f"crack called {lateness(r.call_off)}"
            hints = f", {r.hints} hint{'' if r.hints == 1 else 's'}" if r.hints else ""
            drill = f", drill {r.drill}" if r.drill else ""
            print(f"  {r.started[:10]} {r.points:4.0f} points  {call:<22} {r.profile}{drill}{hints}")
    if not shown:
        who = f" of {args.person}" if args.person else ""
        raise CoachError(f"There is no rehearsal{who} yet.", "coach rehearse PROFILE --person NAME")
    return 0
