"""``coach brief PROFILE``: a page for the next person; ``--roast`` for a takeover in mid-roast."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime

from coach.app.commands import show_page
from coach.app.printing import ask
from coach.logbook.brief.brief import Brief, brief
from coach.logbook.brief.brief_page import brief_page, text
from coach.logbook.brief.brief_plots import drawn
from coach.logbook.brief.gathered import past_roasts, running_state
from coach.logbook.index.find import find_roast
from coach.logbook.profiles.kept_versions import newer, version_before
from coach.roast.errors import CoachError
from coach.roast.profile import in_unit
from coach.session.profile_files import find_profile, load_profile, logbook_folder
from coach.session.settings import load_settings


def run(args: argparse.Namespace) -> int:
    """Gather, then print, ask or write."""
    profile = load_profile(args.profile)
    folder = logbook_folder(args.logbook)
    now = datetime.now(UTC)
    beside = find_profile(args.profile).parent
    running = state = None
    if args.roast:
        running = find_roast(args.roast, folder)
        state = running_state(profile, running, args.at, now, folder)
    past, before = past_roasts(profile, folder, running)
    parent, later = version_before(profile, beside), newer(profile, beside) if state is None else ""
    typed_in = state.situation.roast.header.unit if state is not None else load_settings().unit or profile.unit
    profile, parent = in_unit(profile, typed_in), parent and in_unit(parent, typed_in)
    found = brief(profile, past, now, on_machine=before, parent=parent, state=state, newer=later)

    def lines(wide: int, plain: bool) -> list[str]:
        picture = ["", "THE LINE TO FOLLOW, WITH ITS BAND", *drawn(profile, state, wide, plain)]
        said = text(found, wide)
        at = next((i for i, line in enumerate(said) if line == "RECIPE"), len(said)) - 1
        return [*said[:at], *picture, *said[at:]]

    values = {"profile": profile, **vars(found)}
    code = show_page(args, values, lines, lambda: brief_page(found, profile, state))
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
