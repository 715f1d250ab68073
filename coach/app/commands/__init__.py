"""The commands: each module here is one, and runs what ``arguments`` has parsed.  What several of them do is here."""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterable
from pathlib import Path

from coach.app.printing import Lines, plainly, print_json, print_page, width
from coach.app.screens.lists import Listing
from coach.roast.errors import CoachError, printable
from coach.session.profile_files import save_text
from coach.session.settings import load_settings


def check(option: str, value: float | None, hint: str, low: float = 0.0, high: float = math.inf) -> None:
    """Check that a number that was given (not None) lies in a range.  Raises CoachError."""
    if value is not None and not low <= value <= high:
        raise CoachError(f"{option} {value:g} is not possible.", hint)


def tell(args: argparse.Namespace, values: object, lines: Iterable[str]) -> int:
    """Print ``values`` as JSON where that is wanted, else lines."""
    if args.json:
        print_json(values)
    else:
        print_page(lines)
    return 0


def show_page(args: argparse.Namespace, values: object, lines: Lines, page: Callable[[], str]) -> int:
    """Show a page in the form that is wanted: ``values`` as JSON, the ``page`` for the browser, or ``lines`` (for a
    width in cells, in plain characters alone or not) on a screen or printed.  Raises CoachError."""
    if args.json or not (args.html or args.screen):
        return tell(args, values, () if args.json else lines(width(), plainly()))
    if args.screen:
        from coach.app.screens.reader import read

        return read(args.command, lines)
    save_text(Path(args.html), page(), overwrite=args.overwrite)
    print(f"{printable(args.html)}: open it in a browser, or print it")
    return 0


def show_list(args: argparse.Namespace, listing: Callable[[], Listing]) -> int:
    """Show a command's list on a screen; its lines run other commands (by ``args.main``, the command line's own), and
    after each it is made again.  Raises CoachError without a terminal."""
    from coach.app.screens.board import Board, show_board
    from coach.app.screens.terminal import check_terminal

    check_terminal(f"{args.command} --screen", f"coach {args.command} prints it.")
    return show_board(lambda at: Board(listing(), load_settings(), at=at), args.main)
