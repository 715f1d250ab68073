"""``coach follow PROFILE``: a live roast."""

from __future__ import annotations

import argparse

from coach.app.screens.app import RoastApp
from coach.app.screens.desk import Desk
from coach.app.screens.terminal import check_terminal, show
from coach.session.profile_files import find_profile, load_profile, logbook_folder
from coach.session.settings import load_settings


def run(args: argparse.Namespace) -> int:
    """Open the screen.  An unfinished roast of this profile is offered on it."""
    settings = load_settings()
    profile = settings.applied(load_profile(args.profile))
    check_terminal("follow", "For a file use: coach replay ROAST --profile P --json")
    beside = find_profile(args.profile).parent
    unit = args.unit or settings.unit
    desk = Desk(
        profile, logbook_folder(looked_into=False), person=args.person, unit=unit, beside=beside, dial=settings.dial
    )
    return show(RoastApp(desk=desk, sound=True, settings=settings))
