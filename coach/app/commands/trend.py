"""``coach trend PROFILE``: from one roast to the next, on the terminal or as a page."""

from __future__ import annotations

import argparse

from coach.app.commands import show_list, show_page
from coach.app.commands.log import ready
from coach.app.screens.boards import TrendList
from coach.logbook.index.find import of_profile, selected
from coach.logbook.trend.text import text
from coach.logbook.trend.trend import trend
from coach.logbook.trend.trend_page import trend_page
from coach.roast.errors import CoachError, printable
from coach.session.profile_files import load_profile, logbook_folder


def run(args: argparse.Namespace) -> int:
    """Chart the dropped live roasts of a profile."""
    profile = load_profile(args.profile)
    folder = logbook_folder(args.logbook)
    wanted = selected(machine=args.machine, coffee=args.coffee, since=args.since, until=args.until)
    if not folder.is_dir():
        raise CoachError(f"{printable(str(folder))} holds no roasts yet.", "Roast first, or name a --logbook.")
    with ready(folder) as index:
        roasts = of_profile(index, profile.name, wanted)
    if not roasts:
        raise CoachError(
            f"The logbook has no finished roast of '{printable(profile.name)}'.", "coach log lists what there is."
        )
    found = trend(profile, roasts)
    if args.screen and not (args.only or args.json or args.html):
        chosen = [(n, v) for n in ("since", "until", "machine", "coffee", "logbook") if (v := getattr(args, n))]
        argv = ("trend", args.profile, *(x for name, value in chosen for x in (f"--{name}", value)))
        return show_list(args, lambda: TrendList(found, argv))
    return show_page(args, found, lambda wide, plain: text(found, wide, plain, args.only), lambda: trend_page(found))
