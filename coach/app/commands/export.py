"""``coach export ROAST --output FILE``: a roast as comma-separated values."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from coach.logbook.index.find import find_roast
from coach.logbook.sheets.write_sheet import sheet
from coach.roast.errors import printable
from coach.session.journal import read_journal
from coach.session.profile_files import logbook_folder, save_text


def run(args: argparse.Namespace) -> int:
    """Write the sheet."""
    folder = logbook_folder(args.logbook)
    text = sheet(read_journal(find_roast(args.roast, folder)))
    if args.output is None:
        sys.stdout.flush()
        sys.stdout.buffer.write(text.encode("utf-8"))
        return 0
    save_text(Path(args.output), text, overwrite=args.overwrite)
    print(f"{printable(args.output)}: {text.count(chr(13))} records")
    return 0
