"""``coach report ROAST``: a roast looked back on, in the terminal or as one page that prints on one sheet."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    p = commands.add_parser("report", help="look back on a roast: today against the reference")
    p.add_argument("roast", metavar="ROAST", help="a journal, (the beginning of) its name in the logbook, or last")
    p.add_argument("--output", metavar="FILE", help="where to write the page (.html)")
    p.add_argument("--text", action="store_true", help="print it here instead of writing a page")
    p.add_argument("--screen", action="store_true", help="on a screen of its own, to scroll in")
    p.add_argument("--plain", action="store_true", help="draw without braille dots")
    p.add_argument("--profile", metavar="P", help="the profile it was roasted by, where it isn't found by its name")
    p.add_argument("--folder", metavar="DIR", help="another logbook than your own")
    p.add_argument("--overwrite", action="store_true")
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the page, or print the review."""
    from pathlib import Path

    from coach.library import load_profile, logbook_folder, printable, save_text
    from coach.logbook.find import find_roast
    from coach.logbook.review_text import page
    from coach.logbook.reviewed import gather
    from coach.printing import patience, plainly, width

    folder = logbook_folder(args.folder)
    path = find_roast(args.roast, folder)
    profile = load_profile(args.profile) if args.profile else None
    with patience():
        found = gather(path, profile, folder)
    plain = plainly(args.plain)
    if args.screen:
        from coach.screens.reader import read

        return read("report", lambda w, p: page(found, w, p), "coach report --text prints it.", ascii_only=plain)
    if args.text:
        print("\n".join(printable(line) for line in page(found, width(), plain)))
        return 0
    from coach.logbook.report import report

    target = Path(args.output) if args.output else Path(f"{path.stem}.html")
    save_text(target, report(found), overwrite=args.overwrite)
    print(f"{printable(str(target))}: open it in a browser; it prints on one sheet")
    return 0
