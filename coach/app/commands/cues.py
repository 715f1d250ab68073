"""``coach cues``: the table of cues, with the sound of each."""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict
from math import isfinite
from typing import TYPE_CHECKING

from coach.roast.errors import CoachError

if TYPE_CHECKING:
    from coach.cues.table import Cue


def add(p: argparse.ArgumentParser) -> None:
    """Take the arguments."""
    p.add_argument("name", nargs="?", default="", help="only the cues with this in their name")
    p.add_argument("--json", action="store_true", help="the table as JSON")


def run(args: argparse.Namespace) -> int:
    """Print the table."""
    from coach.cues.table import CUES

    rows = [row for row in CUES.values() if args.name in row.name]
    if not rows:
        raise CoachError(f"No cue has '{args.name}' in its name.", "coach cues lists them all.")
    if args.json:
        print(json.dumps([as_json(row) for row in rows], indent=1))
    else:
        print("\n\n".join(text(row) for row in rows))
    return 0


def sounds_like(row: Cue) -> str:
    """Name and description of a cue's sound."""
    if row.sound == "none":
        return "silent"
    from coach.cues.tones import describe

    return f"{row.sound}: {describe(row.sound)}"


def text(row: Cue) -> str:
    """One row as a person reads it."""
    head = f"{row.name}: {row.family}"
    if row.priority != "none":
        head += f", {row.priority}"
    if row.later is not None:
        family, priority = row.later
        head += f"; {row.later_when} {family}, {priority}"
    order = ("waiting", "drying", "browning", "development", "cooling")
    lines = {
        "when": row.condition,
        "do": row.action,
        "otherwise": row.consequence if row.sound == "none" else f"{row.consequence} ({row.severity})",
        "time": row.available,
        "in": ", ".join(p for p in order if p in row.phases),
        "begins": row.persistence,
        "ends": row.deadband,
        "held by": ", ".join(row.masked_by) or "nothing",
        "sound": sounds_like(row),
    }
    return "\n".join([head, *(f"  {name:<10} {value}" for name, value in lines.items())])


def as_json(row: Cue) -> dict[str, object]:
    """One row as plain values."""
    derived = {"priority": row.priority, "later": row.later, "available": row.available}
    out = {**asdict(row), **derived, "phases": sorted(row.phases), "sounds_like": sounds_like(row)}
    return {k: None if isinstance(v, float) and not isfinite(v) else v for k, v in out.items()}
