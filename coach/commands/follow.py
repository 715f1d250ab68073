"""``coach follow PROFILE``: a live roast."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    p = commands.add_parser("follow", help="follow a profile in a live roast")
    p.add_argument("profile", metavar="PROFILE")
    p.add_argument("--person", default="")
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Open the screen; an unfinished roast of this profile is gone on with."""
    import sys
    import time
    from datetime import UTC, datetime

    from coach.earlier import learn_from
    from coach.errors import CoachError
    from coach.library import load_profile, logbook_folder
    from coach.live import LiveRoast, unfinished
    from coach.screens.app import RoastApp

    profile = load_profile(args.profile)
    if not sys.stdin.isatty():
        raise CoachError("coach follow needs a terminal.", "For a file use: coach replay ROAST --profile P --json")
    folder = logbook_folder()
    knowledge = learn_from(folder, profile, own=True) if folder.is_dir() else None
    path = unfinished(folder, profile)
    if path is not None:
        print(f"An unfinished roast was found: {path.name}. Enter goes on with it, n begins a new one.")
        if input().strip().lower() != "n":
            RoastApp(LiveRoast.resume(path, profile, knowledge), resumed=True, sound=True).run()
            return 0
    base = time.monotonic()
    live = LiveRoast.open(
        profile, folder, lambda: time.monotonic() - base, started=datetime.now(UTC), run="live", person=args.person,
        knowledge=knowledge,
    )  # fmt: skip
    RoastApp(live, sound=True).run()
    live.close()
    print(f"journal: {live.path}" if not live.trouble else live.trouble)
    return 0
