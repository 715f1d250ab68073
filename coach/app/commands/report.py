"""``coach report ROAST``: the old name of ``coach review``; it writes a page where no other form is requested."""

from __future__ import annotations

import argparse

from coach.app.commands import add_logbook, add_roast


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    p = commands.add_parser("report", help="review a roast as a page")
    add_roast(p)
    p.add_argument("--output", metavar="FILE", help="where to write the page (.html)")
    p.add_argument("--text", action="store_true", help="print it here instead of writing a page")
    p.add_argument("--screen", action="store_true", help="on a screen of its own, to scroll in")
    p.add_argument("--plain", action="store_true", help="draw without braille dots")
    p.add_argument("--profile", metavar="P", help="the profile it was roasted by, where it isn't found by its name")
    p.add_argument("--overwrite", action="store_true")
    add_logbook(p)
    p.set_defaults(run=run, json=False)


def run(args: argparse.Namespace) -> int:
    """Review, as a page where no other form is requested."""
    from coach.app.commands import review
    from coach.logbook.index.find import find_roast
    from coach.session.profile_files import logbook_folder

    args.html = None
    if not args.text and not args.screen:
        args.html = args.output or f"{find_roast(args.roast, logbook_folder(args.logbook)).stem}.html"
    return review.run(args)
