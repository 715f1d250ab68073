"""``coach cues``: the table of cues, with the sound of each."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from coach.app.commands import tell
from coach.cues.table import CUES, Cue
from coach.cues.tones import describe
from coach.roast.errors import CoachError


def run(args: argparse.Namespace) -> int:
    """Print the table."""
    rows = [row for row in CUES.values() if args.name in row.name]
    if not rows:
        raise CoachError(f"No cue has '{args.name}' in its name.", "coach cues lists them all.")
    lines = [line for row in rows for line in ("", *text(row))]
    return tell(args, [as_json(row) for row in rows], lines[1:])


def sounds_like(row: Cue) -> str:
    """Name and description of a cue's sound."""
    return "silent" if row.sound == "none" else f"{row.sound}: {describe(row.sound)}"


def text(row: Cue) -> list[str]:
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
    return [head, *(f"  {name:<10} {value}" for name, value in lines.items())]


def as_json(row: Cue) -> dict[str, object]:
    """One row as plain values."""
    derived = {"priority": row.priority, "later": row.later, "available": row.available}
    return {**asdict(row), **derived, "sounds_like": sounds_like(row)}
