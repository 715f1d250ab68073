"""``coach review ROAST``: a roast against its reference, printed, on a screen, or as one page for the browser."""

from __future__ import annotations

import argparse

from coach.app.commands import show_page
from coach.app.printing import patience
from coach.logbook.index.find import find_roast
from coach.logbook.learning.reviewed import gather
from coach.logbook.review.review_page import review_page
from coach.logbook.review.review_text import page
from coach.session.profile_files import load_profile, logbook_folder


def run(args: argparse.Namespace) -> int:
    """Print the review, or write the page."""
    folder = logbook_folder(args.logbook)
    path = find_roast(args.roast, folder)
    with patience():
        found = gather(path, load_profile(args.profile) if args.profile else None, folder)
    return show_page(args, found, lambda wide, plain: page(found, wide, plain), lambda: review_page(found))
