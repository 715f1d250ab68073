"""``coach compare PROFILE OTHER``: what is different between two profiles, or two versions of one."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    p = commands.add_parser("compare", help="the differences between two profiles")
    p.add_argument("profile", metavar="PROFILE")
    p.add_argument("other", metavar="OTHER")
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the differences."""
    import os
    import shutil
    import sys

    from coach.library import load_profile, printable
    from coach.logbook.differences import changes, plot

    a, b = load_profile(args.profile), load_profile(args.other)
    for name, p in (("from", a), ("to", b)):
        d = p.document
        origin = f"; from {', '.join(d.sources)}" if d.sources else ""
        print(printable(f"{name:<5}{d.name}, version {d.version}{' (provisional)' if d.provisional else ''}{origin}"))
    for line in changes(a, b) or ["nothing that counts is different"]:
        print(f"  {printable(line)}")
    plain = os.environ.get("TERM") == "dumb" or "utf" not in (sys.stdout.encoding or "").lower()
    print("\n".join(["", *plot(a, b, min(shutil.get_terminal_size((80, 24)).columns, 100), plain)]))
    return 0
