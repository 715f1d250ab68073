"""``coach review ROAST``: a roast against its reference, printed, on a screen, or as one page for the browser."""

from __future__ import annotations

import argparse
from pathlib import Path

from coach.app.commands import add_json, add_logbook, add_page, add_roast
from coach.app.printing import patience, plainly, print_json, width
from coach.roast.errors import printable


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
    from coach.logbook.review.review_text import page
    from coach.session.profile_files import load_profile, logbook_folder, save_text

    folder = logbook_folder(args.logbook)
    path = find_roast(args.roast, folder)
    if args.page and not (args.text or args.screen):
        args.html = args.html or f"{path.stem}.html"
    with patience():
        found = gather(path, load_profile(args.profile) if args.profile else None, folder)
    if args.json:
        print_json(found)
    elif args.html:
        from coach.logbook.review.report import report

        save_text(Path(args.html), report(found), overwrite=args.overwrite)
        print(f"{printable(args.html)}: open it in a browser; it prints on one sheet")
    elif args.screen:
        from coach.app.screens.reader import read

        return read("review", lambda w, p: page(found, w, p), ascii_only=plainly(args.plain))
    else:
        print("\n".join(printable(line) for line in page(found, width(), plainly(args.plain))))
    return 0
