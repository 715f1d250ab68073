"""``coach trust PROFILE``: how far the forecast could be trusted on your own roasts, each left out in turn."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from coach.trust import Score


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    p = commands.add_parser("trust", help="how far the forecast could be trusted on your own roasts")
    p.add_argument("profile", metavar="PROFILE")
    p.add_argument("--logbook", metavar="DIR", help="a folder of journals of this profile (default: your own logbook)")
    p.add_argument("--last", type=int, default=20, metavar="N", help="the newest N roasts (20)")
    p.add_argument("--json", action="store_true")
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Score the forecasts of the last roasts."""
    import json
    from dataclasses import asdict
    from pathlib import Path

    from coach.earlier import earlier
    from coach.errors import CoachError
    from coach.library import load_profile, logbook_folder
    from coach.trust import left_out, scores, sentences

    if args.last < 1:
        raise CoachError("--last needs a number of roasts.", "For example: --last 20")
    profile = load_profile(args.profile)
    folder = Path(args.logbook).expanduser() if args.logbook else logbook_folder()
    name = None if args.logbook else profile.name
    found = earlier(folder, profile=name, most=args.last) if folder.is_dir() or args.logbook else []
    if not found:
        raise CoachError("There is no finished roast of this profile to judge by.", "Roast first, then ask again.")
    table = scores(left_out(profile, [(e.header, e.entries, e.roast) for e in found]))
    if args.json:
        print(json.dumps([asdict(s) for s in table if s.n], allow_nan=False))
        return 0
    for line in sentences(table):
        print(line)
    for what in ("first crack", "drop time", "drop temperature"):
        rows = [s for s in table if s.what == what and s.n]
        if rows:
            print()
            print("\n".join(lines(rows, "K" if what == "drop temperature" else "s")))
    return 0


def lines(rows: list[Score], unit: str) -> list[str]:
    """One table: how far off, by lead, beside what a person could say without the coach."""
    from coach.trust import BASELINES

    out = [f"{rows[0].what}: mean miss in {unit}, by seconds before it came ('floor': with the whole curve known)"]
    names = [*BASELINES, *(["floor"] if "floor" in rows[0].others else [])]
    out.append("before    n  coach  80 % held  50 % held  width  " + "  ".join(f"{n:>13s}" for n in names))
    for s in sorted(rows, key=lambda s: -s.lead):
        out.append(
            f"{s.lead:4d} s {s.n:4d} {s.mae:6.1f}  {s.in_80.hits:3d} of {s.n:3d} {s.in_50.hits:3d} of {s.n:3d}"
            f"  {s.width_80:6.1f}  " + "  ".join(f"{s.others.get(n, float('nan')):13.1f}" for n in names)
        )
    return out
