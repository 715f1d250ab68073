"""The commands: each module here is one.  Their lines in the help, and the arguments that they share."""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from coach.roast.errors import CoachError, printable

if TYPE_CHECKING:
    from coach.app.screens.lists import Listing

COMMANDS: Final[Mapping[str, Mapping[str, tuple[str, str]]]] = {
    "roast": {
        "follow": ("follow a profile in a live roast", "larch-hill"),
        "brief": ("brief the person who roasts next, or hand a running roast over", "larch-hill"),
        "charge": ("propose charge temperature and first gas for today", "larch-hill --room 18"),
        "plan": ("plan several batches in a row: times and weights", "larch-hillx3 moss-lane"),
    },
    "logbook": {
        "log": ("list the roasts of the logbook, or open one", "--coffee kenya --since 2026-10"),
        "review": ("review a roast: today against the reference", "last"),
        "result": ("add weights, colour and cup to a finished roast", "last out 690g score 85"),
        "trend": ("how alike the roasts of a profile are", "larch-hill --html trend.html"),
        "accuracy": ("how right forecasts, cues and advice were on your own roasts", "larch-hill --of forecasts"),
        "replay": ("a finished roast through the coach", "last --screen --speed 4"),
        "close": ("close a roast that ended without a drop", "last"),
        "import": ("make a roast, or a profile, from a sheet (CSV)", "roast.csv --batch 0.8"),
        "export": ("write a roast as comma-separated values", "last --output roast.csv"),
    },
    "learning": {
        "rehearse": ("rehearse a profile on a simulated roaster", "larch-hill --drill random --speed 4"),
        "drills": ("list the drills for a rehearsal", "wet-lot"),
        "progress": ("rehearsals of each person, and how far they have come", "--person ada"),
        "learnt": ("tell what your own roasts taught about a profile", "larch-hill"),
        "fit": ("fit the simulated roaster to your own roasts", "--batch 0.8"),
    },
    "profiles": {
        "adopt": ("make a finished roast into a profile", "last --name 'Our Tuesday'"),
        "merge": ("make accepted roasts into the next version of their profile", "larch-hill --show"),
        "scale": ("a first guess at a profile for another batch weight",
                  "larch-hill --batch 1.0 --output profile.toml"),
        "compare": ("compare the versions of a profile, or two profiles", "larch-hill moss-lane"),
    },
    "setup": {
        "sounds": ("play each sound with its name", "'first crack'"),
        "cues": ("the table of cues", "crack"),
        "settings": ("show your settings and their file", ""),
        "schema": ("the JSON Schema of profiles or journals", "profile"),
        "completions": ("a script by which your shell completes what you type", "bash"),
    },
}  # fmt: skip
"""Commands by group, each with its line in the help and an example of what to type after its name."""
OLD: Final[Mapping[str, tuple[tuple[str, ...], Mapping[str, str]]]] = {
    "trust": (("accuracy", "--of", "forecasts"), {"--anew": "--recompute", "--all": ""}),
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


def check(option: str, value: float | None, hint: str, low: float = 0.0, high: float = math.inf) -> None:
    """Check that a number that was given (not None) lies in a range.  Raises CoachError."""
    if value is not None and not low <= value <= high:
        raise CoachError(f"{option} {value:g} is not possible.", hint)


def show_page(
    args: argparse.Namespace, values: object, lines: Callable[[int, bool], Sequence[str]], page: Callable[[], str]
) -> int:
    """Show a page in the form that is wanted: ``values`` as JSON, the ``page`` for the browser, or ``lines`` (for a
    width in cells, in plain characters alone or not) on a screen or printed.  Raises CoachError."""
    from coach.app.printing import plainly, print_json, width

    plain = plainly(args.plain)
    if args.json:
        print_json(values)
    elif args.html:
        from coach.session.profile_files import save_text

        save_text(Path(args.html), page(), overwrite=args.overwrite)
        print(f"{printable(args.html)}: open it in a browser, or print it")
    elif args.screen:
        from coach.app.screens.reader import read

        return read(args.command, lines, ascii_only=plain)
    else:
        print("\n".join(printable(line) for line in lines(width(), plain)))
    return 0


def show_list(args: argparse.Namespace, listing: Callable[[], Listing], *, ascii_only: bool = False) -> int:
    """Show a command's list on a screen; its lines run other commands (by ``args.main``, the command line's own), and
    after each it is made again.  Raises CoachError without a terminal."""
    from coach.app.screens.board import Board, show_board
    from coach.app.screens.terminal import check_terminal
    from coach.session.settings import load_settings

    check_terminal(f"{args.command} --screen", f"coach {args.command} prints it.")
    return show_board(lambda at: Board(listing(), load_settings(), at=at, ascii_only=ascii_only), args.main)
