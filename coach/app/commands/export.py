"""``coach export ROAST --output FILE``: a roast as comma-separated values."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from coach.app.commands import add_logbook, add_roast
from coach.roast.errors import printable


def add(p: argparse.ArgumentParser) -> None:
    """Take the arguments."""
    add_roast(p)
    p.add_argument("--output", metavar="FILE", help="where to write it; without it: to standard output")
    p.add_argument("--overwrite", action="store_true", help="replace the file where there is one")
    add_logbook(p)


def run(args: argparse.Namespace) -> int:
    """Write the sheet."""
    from coach.logbook.index.find import find_roast
    from coach.logbook.sheets.write_sheet import sheet
    from coach.session.journal import read_journal
    from coach.session.profile_files import logbook_folder, save_text

    folder = logbook_folder(args.logbook)
    text = sheet(read_journal(find_roast(args.roast, folder)))
    if args.output is None:
        sys.stdout.flush()
        sys.stdout.buffer.write(text.encode("utf-8"))
        return 0
    save_text(Path(args.output), text, overwrite=args.overwrite)
    print(f"{printable(args.output)}: {text.count(chr(13))} records")
    return 0
