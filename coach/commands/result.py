"""``coach result ROAST out=0.69 score=85``: what is known after drop, added to the journal."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    p = commands.add_parser("result", help="add weights, colour and cup to a finished roast")
    p.add_argument("roast", metavar="ROAST", help="a journal, (the beginning of) its name in the logbook, or last")
    p.add_argument(
        "given", nargs="+", metavar="NAME=VALUE", help="in, out, moisture, colour, scale, score, notes, accepted, learn"
    )
    p.add_argument("--folder", metavar="DIR", help="another logbook than your own")
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Append, and say how the roast now stands."""
    from datetime import UTC, datetime

    from coach.commands.log import opened
    from coach.folders import logbook_folder
    from coach.logbook.find import find_roast
    from coach.logbook.index import load_summary
    from coach.logbook.results import add_results, moisture_remark, parse_results, remark

    given, doubts = parse_results(args.given)
    folder = logbook_folder(args.folder)
    path = find_roast(args.roast, folder)
    add_results(path, given, doubts, datetime.now(UTC))
    print("\n".join(opened(path)))
    said = remark(load_summary(path, path.name).loss) if given.keys() & {"weight_in", "weight_out"} else ""
    for line in (said, moisture_remark(given.get("moisture"))):
        if line:
            print(line)
    return 0
