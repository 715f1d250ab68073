"""``coach review ROAST``: a roast against its reference, printed, on a screen, or as one page for the browser."""

from __future__ import annotations

import argparse

from coach.app.commands import add_json, add_logbook, add_page, add_roast, show_page
from coach.app.printing import patience


def add(p: argparse.ArgumentParser) -> None:
    """Take the arguments."""
    add_roast(p)
    add_page(p)
    p.add_argument("--profile", metavar="P", help="the profile it was roasted by, where it isn't found by its name")
    p.add_argument("--page", action="store_true", help=argparse.SUPPRESS)  # the old report: a page by default
    p.add_argument("--text", action="store_true", help=argparse.SUPPRESS)
    add_logbook(p)
    add_json(p)


def run(args: argparse.Namespace) -> int:
    """Print the review, or write the page."""
    from coach.logbook.index.find import find_roast
    from coach.logbook.learning.reviewed import gather
    from coach.logbook.review.review_text import page as review
    from coach.session.profile_files import load_profile, logbook_folder

    folder = logbook_folder(args.logbook)
    path = find_roast(args.roast, folder)
    if args.page and not (args.text or args.screen):
        args.html = args.html or f"{path.stem}.html"
    with patience():
        found = gather(path, load_profile(args.profile) if args.profile else None, folder)

    def page() -> str:
        from coach.logbook.review.report import report

        return report(found)

    return show_page(args, found, lambda wide, plain: review(found, wide, plain), page)
