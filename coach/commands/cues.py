"""``coach cues``: the table of cues, with what each sounds like."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    commands.add_parser("cues", help="the table of cues").set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the table."""
    from coach.cues import CUES

    for c in CUES.values():
        print(f"{c.name:18} {c.family:10} {c.priority:6} sound: {c.sound:9} {c.action}")
    return 0
