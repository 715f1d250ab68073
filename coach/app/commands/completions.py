"""``coach completions SHELL``: a script by which a shell completes commands, options, profiles, roasts and drills."""

from __future__ import annotations

import argparse
import re
from typing import Final

from coach.app.arguments import parser
from coach.roast.errors import CoachError
from coach.session.folders import logbook_folder

NAMES: Final = {"PROFILE": "profile", "OTHER": "profile", "PROFILE[xN]": "profile", "ROAST": "roast"}
"""Placeholders in the help that stand for known names, with the kind of name."""
ROASTS: Final = 100
"""Number of last roasts that are offered."""


def run(args: argparse.Namespace) -> int:
    """Print the script, or the names that it requests while somebody types."""
    if args.names:
        print("\n".join(names(args.names)))
        return 0
    if not args.shell:
        raise CoachError("SHELL is missing.", "It is one of bash, zsh, fish, powershell.")
    import shtab

    print(shtab.complete(with_kinds(parser()), args.shell))
    return 0


def names(kind: str) -> list[str]:
    """Names of the profiles, the last roasts or the drills; none that a shell would read as more than a word."""
    return [n for n in _all_names(kind) if re.fullmatch(r"\w[\w.-]*", n)]


def _all_names(kind: str) -> list[str]:
    if kind == "drill":
        from coach.simulator.rehearsal.model import drill_names

        return [*drill_names(), "random"]
    if kind == "profile":
        from coach.session.profile_files import profile_names

        return profile_names()
    from coach.session.journal_folder import scan

    try:
        found = sorted((n.removesuffix(".jsonl") for n in scan(logbook_folder()).journals), reverse=True)
    except CoachError:
        return ["last"]
    return ["last", *found[:ROASTS]]


def with_kinds(top: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """The parser of all commands, once each argument carries the names or files that complete it."""
    import shtab

    files = {"FILE": shtab.FILE, "DIR": shtab.DIRECTORY}
    for action in (a for p in _subparsers(top) for a in p._actions):
        meta = action.metavar if isinstance(action.metavar, str) else ""
        kind = "drill" if action.dest == "drill" else NAMES.get(meta, "")
        if kind:
            action.complete = shtab.cmd(f"coach completions --names {kind}")  # type: ignore[attr-defined]
        elif meta in files:
            action.complete = files[meta]  # type: ignore[attr-defined]
    return top


def _subparsers(top: argparse.ArgumentParser) -> list[argparse.ArgumentParser]:
    return [p for a in top._actions if isinstance(a, argparse._SubParsersAction) for p in a.choices.values()]
