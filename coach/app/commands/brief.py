"""``coach brief PROFILE``: a page for the next person; ``--roast`` for a takeover in mid-roast."""

from __future__ import annotations

import argparse
import sys
from functools import partial

from coach.app.commands import show_page
from coach.app.printing import ask
from coach.logbook.brief.brief import Brief
from coach.logbook.brief.brief_page import brief_page, text
from coach.logbook.brief.gathered import gather
from coach.logbook.index.find import find_roast
from coach.roast.errors import CoachError
from coach.session.profile_files import find_profile, load_profile, logbook_folder
from coach.session.settings import load_settings


def run(args: argparse.Namespace) -> int:
    """Gather, then print, ask or write."""
    folder = logbook_folder(args.logbook)
    found = gather(
        load_profile(args.profile), folder, unit=load_settings().unit, beside=find_profile(args.profile).parent,
        running=find_roast(args.roast, folder) if args.roast else None, at=args.at,
    )  # fmt: skip
    code = show_page(args, found, partial(text, found), lambda: brief_page(found))
    return confirm(found) if args.confirm and not (args.json or code) else code


def confirm(b: Brief) -> int:
    """Ask the three facts until each is right; 1 when the person gives up."""
    if not sys.stdin.isatty():
        raise CoachError("--confirm needs a terminal.", "Say the three facts back in person.")
    print()
    for fact in b.facts:
        while not fact.fits(said := ask(fact.question)):
            if not said.strip():
                print("Not confirmed.")
                return 1
            print(f"  No: look again ({fact.answer}). Type it.")
    print("Confirmed, all three.")
    return 0
