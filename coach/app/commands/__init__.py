"""The commands: each module here is one.  Their groups in the help, and the arguments that they share."""

from __future__ import annotations

import argparse
from typing import Final

GROUPS: Final = {
    "roast": ("follow", "brief", "charge", "plan"),
    "logbook": ("log", "review", "result", "trend", "accuracy", "replay", "close", "import", "export"),
    "learning": ("rehearse", "drills", "progress", "learnt", "fit"),
    "profiles": ("adopt", "merge", "scale", "compare"),
    "setup": ("sounds", "cues", "settings", "schema", "completions"),
}
"""Groups of commands in the help; a command of no group is listed under setup."""
OLD: Final = {"trust": "accuracy", "ledger": "accuracy", "advice": "accuracy", "report": "review"}
"""Old names that still work, unlisted, each with the command that took its place."""


def add_profile(p: argparse.ArgumentParser) -> None:
    """Take a PROFILE; the last one used where none is given."""
    p.add_argument("profile", nargs="?", metavar="PROFILE", help="a name or a file (without it: the last one used)")
    p.set_defaults(default_profile=True)


def add_roast(p: argparse.ArgumentParser) -> None:
    """Take a ROAST."""
    p.add_argument("roast", metavar="ROAST", help="a journal, (the beginning of) its name in the logbook, or last")


def add_logbook(p: argparse.ArgumentParser, help: str = "another logbook than your own") -> None:
    """Take ``--logbook DIR`` (and ``--folder``, its old name)."""
    p.add_argument("--logbook", metavar="DIR", help=help)
    p.add_argument("--folder", dest="logbook", metavar="DIR", help=argparse.SUPPRESS)


def add_page(p: argparse.ArgumentParser) -> None:
    """Take ``--html FILE``, ``--screen`` and ``--plain``: the form in which a page is shown."""
    p.add_argument("--html", metavar="FILE", help="write a page for the browser instead")
    p.add_argument("--screen", action="store_true", help="on a screen of its own, to scroll in")
    p.add_argument("--plain", action="store_true", help="draw without braille dots")


def add_json(p: argparse.ArgumentParser, help: str = "as JSON") -> None:
    """Take ``--json``."""
    p.add_argument("--json", action="store_true", help=help)
