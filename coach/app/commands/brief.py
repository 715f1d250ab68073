"""``coach brief PROFILE``: a page for the next person; ``--roast`` for a takeover in mid-roast."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from coach.app.commands import add_json, add_logbook, add_page, add_profile, show_page
from coach.app.printing import ask
from coach.roast.errors import CoachError

if TYPE_CHECKING:
    from coach.logbook.brief.brief import Brief


def add(p: argparse.ArgumentParser) -> None:
    """Take the arguments."""
    add_profile(p)
    p.add_argument("--roast", metavar="ROAST", help="the running roast that is taken over")
    p.add_argument("--at", metavar="M:SS", help="with --roast: as it stood at this roast time (without it: now)")
    p.add_argument("--confirm", action="store_true", help="ask the incoming person the three facts")
    add_page(p)
    add_logbook(p)
    add_json(p)


def run(args: argparse.Namespace) -> int:
    """Gather, then print, ask or write."""
    from coach.logbook.brief.brief import brief
    from coach.logbook.brief.gathered import past_roasts, running_state
    from coach.logbook.profiles.kept_versions import newer, version_before
    from coach.roast.profile import in_unit
    from coach.session.profile_files import find_profile, load_profile, logbook_folder
    from coach.session.settings import load_settings

    profile = load_profile(args.profile)
    folder = logbook_folder(args.logbook)
    now = datetime.now(UTC)
    beside = find_profile(args.profile).parent
    running = state = None
    if args.roast:
        from coach.logbook.index.find import find_roast

        running = find_roast(args.roast, folder)
        state = running_state(profile, running, args.at, now, folder)
    past, before = past_roasts(profile, folder, running)
    parent, later = version_before(profile, beside), newer(profile, beside) if state is None else ""
    typed_in = state.situation.roast.header.unit if state is not None else load_settings().unit or profile.unit
    profile, parent = in_unit(profile, typed_in), parent and in_unit(parent, typed_in)
    found = brief(profile, past, now, on_machine=before, parent=parent, state=state, newer=later)

    def lines(wide: int, plain: bool) -> list[str]:
        from coach.logbook.brief.brief_page import text
        from coach.logbook.brief.brief_plots import drawn

        picture = ["", "THE LINE TO FOLLOW, WITH ITS BAND", *drawn(profile, state, wide, plain)]
        said = text(found, wide)
        at = next((i for i, line in enumerate(said) if line == "RECIPE"), len(said)) - 1
        return [*said[:at], *picture, *said[at:]]

    def page() -> str:
        from coach.logbook.brief.brief_page import brief_page

        return brief_page(found, profile, state)

    code = show_page(args, {"profile": profile, **vars(found)}, lines, page)
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
