"""``coach adopt ROAST --name NAME --output FILE``: a finished roast becomes a profile."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    p = commands.add_parser("adopt", help="make a finished roast into a profile")
    p.add_argument("roast", metavar="ROAST", help="a journal (.jsonl)")
    p.add_argument("--name", required=True)
    p.add_argument("--output", required=True, metavar="FILE")
    p.add_argument("--overwrite", action="store_true")
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Adopt; prints where the profile is."""
    from pathlib import Path

    from pydantic import ValidationError

    from coach.adopt import adopt
    from coach.errors import EntryError, JournalError
    from coach.journal import read_journal
    from coach.library import dump_document, printable, save_text
    from coach.roast import effective, explain, fold

    path = Path(args.roast)
    journal = read_journal(path)
    try:
        document = adopt(fold(journal.header, effective(journal.entries)), args.name)
    except EntryError as error:
        raise JournalError(str(path), error.message, error.hint) from None
    except ValidationError as error:
        raise JournalError(str(path), f"makes no profile: {explain(error)}.", "Correct the roast's entries.") from None
    save_text(Path(args.output), dump_document(document), overwrite=args.overwrite)
    print(f"{printable(args.output)}: follow it with  coach follow {printable(args.output)}")
    return 0
