"""``coach settings``: the file of the settings, and their values in force."""

from __future__ import annotations

import argparse

from coach.app.commands import tell
from coach.session.profile_files import toml_text
from coach.session.settings import load_settings, settings_file


def run(args: argparse.Namespace) -> int:
    """Print the settings in force as a file one could start from."""
    settings = load_settings()
    there = "" if settings_file().exists() else " (not there yet: everything below is the default)"
    lines = [f"# {settings_file()}{there}"]
    lines += toml_text(settings.model_dump(mode="json", exclude_none=True)).splitlines()
    if settings.unit is None:
        lines.append('# unit = "C" or "F": the unit you type in, if not the profile\'s')
    if settings.dial is None:
        lines.append('# dial = "whole", "half", "tenths" or "needle": what the probe\'s dial shows, if not as you type')
    if settings.cadence is None:
        lines.append(
            "# [cadence] drying = 60, browning = 30, development = 20: seconds between readings, if not the profile's"
        )
    return tell(args, {"file": settings_file(), "settings": settings}, lines)
