"""``coach charge PROFILE``: charge temperature and first gas for today's weight, room and batch before: a proposal."""

from __future__ import annotations

import argparse

from coach.app.commands import add_json, add_logbook, add_profile, check
from coach.app.printing import print_json


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
    from coach.roast.profile import in_unit
    from coach.session.journal_folder import roasts
    from coach.session.profile_files import load_profile, logbook_folder
    from coach.session.settings import load_settings

    profile = in_unit(load_profile(args.profile), load_settings().unit)
    usual = profile.document.batch_kg
    hint = f"Give the weight in kg; it is far from this profile's {usual:g} kg."
    check("--batch", args.batch, hint, 0.3 * usual, 2 * usual)
    check("--since", args.since, "Give minutes, 0 to 1440.", 0, 1440)
    check("--room", args.room, f"Give it in °{profile.unit}.", -20, 60 if profile.unit == "C" else 140)
    folder = logbook_folder(args.logbook)
    found = roasts(folder, profile=profile.name, most=60) if folder.is_dir() else []
    today = today_from(profile, args.batch, args.room, args.since)
    lines = before_charge(profile, today, [e.roast for e in found])
    if args.json:
        print_json({"profile": profile, "roasts": len(found), "text": lines})
        return 0
    print("\n".join(lines))
    return 0
