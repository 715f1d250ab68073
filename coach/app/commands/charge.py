"""``coach charge PROFILE``: charge temperature and first gas for today's weight, room and batch before: a proposal."""

from __future__ import annotations

import argparse

from coach.advice.charge_temperature import today_from
from coach.advice.first_gas import before_charge
from coach.app.commands import check, tell
from coach.roast.profile import in_unit
from coach.session.journal_folder import roasts
from coach.session.profile_files import load_profile, logbook_folder
from coach.session.settings import load_settings


def run(args: argparse.Namespace) -> int:
    """Print the proposal."""
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
    return tell(args, {"profile": profile, "roasts": len(found), "text": lines}, lines)
