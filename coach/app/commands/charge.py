"""``coach charge PROFILE``: charge temperature and first gas for today's weight, room and batch before: a proposal."""

from __future__ import annotations

import argparse

from coach.app.commands import add_json, add_logbook, add_profile
from coach.app.printing import print_json
from coach.roast.errors import CoachError


def add(p: argparse.ArgumentParser) -> None:
    """Take the arguments."""
    add_profile(p)
    p.add_argument("--batch", type=float, metavar="KG", help="today's batch weight in kg")
    p.add_argument("--room", type=float, metavar="DEGREES", help="today's room temperature, in the profile's unit")
    p.add_argument("--since", type=float, metavar="MINUTES", help="minutes from the drop before to this charge")
    add_logbook(p)
    add_json(p)


def run(args: argparse.Namespace) -> int:
    """Print the proposal."""
    from coach.advice.charge_temperature import today_from
    from coach.advice.first_gas import before_charge
    from coach.session.journal_folder import roasts
    from coach.session.profile_files import load_profile, logbook_folder

    profile = load_profile(args.profile)
    usual = profile.document.batch_kg
    if args.batch is not None and not 0.3 * usual <= args.batch <= 2 * usual:
        raise CoachError(f"--batch {args.batch:g} is far from this profile's {usual:g} kg.", "Give the weight in kg.")
    if args.since is not None and not 0 <= args.since <= 1440:
        raise CoachError(f"--since {args.since:g} is not possible.", "Give minutes, 0 to 1440.")
    top = 60 if profile.unit == "C" else 140
    if args.room is not None and not -20 <= args.room <= top:
        raise CoachError(f"--room {args.room:g} °{profile.unit} can't be.", "Give it in the profile's unit.")
    folder = logbook_folder(args.logbook)
    found = roasts(folder, profile=profile.name, most=60) if folder.is_dir() else []
    today = today_from(profile, args.batch, args.room, args.since)
    lines = before_charge(profile, today, [e.roast for e in found])
    if args.json:
        print_json({"profile": profile, "roasts": len(found), "text": lines})
        return 0
    print("\n".join(lines))
    return 0
