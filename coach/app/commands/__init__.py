"""The commands: each module here is one.  Their groups in the help, and the arguments that they share."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from coach.app.screens.board import Board

GROUPS: Final = {
    "roast": ("follow", "brief", "charge", "plan"),
    "logbook": ("log", "review", "result", "trend", "accuracy", "replay", "close", "import", "export"),
    "learning": ("rehearse", "drills", "progress", "learnt", "fit"),
    "profiles": ("adopt", "merge", "scale", "compare"),
    "setup": ("sounds", "cues", "settings", "schema", "completions"),
}
"""Groups of commands in the help; a command of no group is listed under setup."""
OLD: Final[Mapping[str, tuple[tuple[str, ...], Mapping[str, str]]]] = {
    "trust": (("accuracy", "--of", "forecasts"), {"--anew": "--recompute"}),
    "ledger": (("accuracy", "--of", "cues"), {"--profile": ""}),
    "advice": (("accuracy", "--of", "advice"), {}),
    "report": (("review", "--page"), {"--output": "--html"}),
}
"""Old names that still work, unlisted: each with the words that took its place, and its options that have another name
now ('': only their value is left)."""


def renewed(argv: Sequence[str]) -> list[str]:
    """The typed words with an old command and its options by their present names."""
    if argv[0] not in OLD:
        return list(argv)
    words, options = OLD[argv[0]]
    out = list(words)
    for word in argv[1:]:
        option, equals, value = word.partition("=")
        name = options.get(option, option)
        out.append(f"{name}{equals}{value}" if name else value)
    return [word for word in out if word]


EXAMPLES: Final = {
    "accuracy": "larch-hill --of forecasts", "adopt": "last --name 'Our Tuesday'", "brief": "larch-hill",
    "charge": "larch-hill --room 18", "close": "last", "compare": "larch-hill moss-lane", "completions": "bash",
    "cues": "crack", "drills": "wet-lot", "export": "last --output roast.csv", "fit": "--last 12",
    "follow": "larch-hill", "import": "roast.csv --batch 0.8", "learnt": "larch-hill",
    "log": "--coffee kenya --since 2026-10", "merge": "larch-hill --show", "plan": "larch-hillx3 moss-lane",
    "progress": "--person ada", "rehearse": "larch-hill --drill random --speed 4", "replay": "last --screen --speed 4",
    "result": "last out 690g score 85", "review": "last", "scale": "larch-hill --batch 1.0 --output profile.toml",
    "schema": "profile", "settings": "", "sounds": "'first crack'", "trend": "larch-hill --html trend.html",
}  # fmt: skip
"""Example for each command: what to type after its name."""


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
    """Take ``--html FILE``, ``--overwrite``, ``--screen`` and ``--plain``: the form in which a page is shown."""
    p.add_argument("--html", metavar="FILE", help="write a page for the browser instead")
    p.add_argument("--overwrite", action="store_true", help="with --html: replace the file")
    p.add_argument("--screen", action="store_true", help="on a screen of its own, to scroll in")
    p.add_argument("--plain", action="store_true", help="draw without braille dots")


def add_json(p: argparse.ArgumentParser, help: str = "as JSON") -> None:
    """Take ``--json``."""
    p.add_argument("--json", action="store_true", help=help)


def show_list(command: str, board: Callable[[str], Board]) -> int:
    """Show a command's list on a screen; its lines run other commands, and after each ``board`` builds the list again.
    Raises CoachError without a terminal."""
    from coach.app.cli import main
    from coach.app.screens.board import show_board
    from coach.app.screens.terminal import check_terminal

    check_terminal(f"{command} --screen", f"coach {command} prints it.")
    return show_board(board, main)
