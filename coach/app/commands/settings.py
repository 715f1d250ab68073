"""``coach settings``: the file of the settings, and their values in force."""

from __future__ import annotations

import argparse

from coach.app.commands import add_json
from coach.app.printing import print_json


def add(p: argparse.ArgumentParser) -> None:
    """Take the arguments."""
    add_json(p)


def run(args: argparse.Namespace) -> int:
    """Print the settings in force as a file one could start from."""
    from coach.session.profile_files import toml_text
    from coach.session.settings import load_settings, settings_file

    settings = load_settings()
    if args.json:
        print_json({"file": settings_file(), "settings": settings})
        return 0
    there = "" if settings_file().exists() else " (not there yet: everything below is the default)"
    print(f"# {settings_file()}{there}")
    print(toml_text(settings.model_dump(mode="json", exclude_none=True)), end="")
    if settings.unit is None:
        print('# unit = "C" or "F": the unit you type in, if not the profile\'s')
    if settings.dial is None:
        print('# dial = "whole", "half", "tenths" or "needle": what the probe\'s dial shows, if not as you type')
    if settings.cadence is None:
        print(
            "# [cadence] drying = 60, browning = 30, development = 20: seconds between readings, if not the profile's"
        )
    return 0
