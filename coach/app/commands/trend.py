"""``coach trend PROFILE``: from one roast to the next, on the terminal or as a page."""

from __future__ import annotations

import argparse

from coach.app.commands import add_json, add_logbook, add_page, add_profile, show_list, show_page
from coach.app.printing import plainly
from coach.roast.errors import CoachError, printable


def add(p: argparse.ArgumentParser) -> None:
    """Take the arguments."""
    add_profile(p)
    p.add_argument("--since", default="", metavar="DATE", help="only roasts from then on: a new machine, lot or season")
    p.add_argument("--until", default="", metavar="DATE", help="only roasts up to then, that day or month too")
    p.add_argument("--machine", default="", metavar="TEXT", help="only roasts on a machine with this in its name")
    p.add_argument("--coffee", default="", metavar="TEXT", help="only roasts of a coffee with this in its name")
    p.add_argument("--only", default="", metavar="TEXT", help="draw only the charts with this in their name")
    add_page(p)
    add_logbook(p)
    add_json(p)


def run(args: argparse.Namespace) -> int:
    """Chart the dropped live roasts of a profile."""
    from coach.app.commands.log import ready
    from coach.logbook.index.find import Filter, of_profile
    from coach.logbook.trend.text import text
    from coach.logbook.trend.trend import trend
    from coach.session.profile_files import load_profile, logbook_folder

    profile = load_profile(args.profile)
    folder = logbook_folder(args.logbook)
    wanted = Filter(machine=args.machine, coffee=args.coffee, since=args.since, until=args.until)
    if not folder.is_dir():
        raise CoachError(f"{printable(str(folder))} holds no roasts yet.", "Roast first, or name a --folder.")
    with ready(folder) as index:
        roasts = of_profile(index, profile.name, wanted)
    if not roasts:
        raise CoachError(
            f"The logbook has no finished roast of '{printable(profile.name)}'.", "coach log lists what there is."
        )
    found = trend(profile, roasts)
    if args.screen and not (args.only or args.json or args.html):
        from coach.app.screens.boards import TrendList

        given = {"since": args.since, "until": args.until, "machine": args.machine, "coffee": args.coffee}
        given["logbook"] = args.logbook or ""
        argv = ("trend", args.profile, *(x for name, value in given.items() if value for x in (f"--{name}", value)))
        return show_list(args, lambda: TrendList(found, argv), ascii_only=plainly(args.plain))

    def page() -> str:
        from coach.logbook.trend.trend_page import trend_page

        return trend_page(found)

    return show_page(args, found, lambda wide, plain: text(found, wide, plain, args.only), page)
