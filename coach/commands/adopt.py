"""``coach adopt ROAST --name NAME``: a finished roast becomes a profile."""

from __future__ import annotations

import argparse

from coach.commands import add_logbook, add_roast


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    p = commands.add_parser("adopt", help="make a finished roast into a profile")
    add_roast(p)
    p.add_argument("--name", required=True)
    p.add_argument("--output", metavar="FILE", help="where to write it; without it: among your own profiles")
    p.add_argument("--overwrite", action="store_true")
    add_logbook(p)
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Adopt; prints where the profile is."""
    from pathlib import Path

    from pydantic import ValidationError

    from coach.adopt import adopt
    from coach.errors import EntryError, JournalError
    from coach.journal import read_journal
    from coach.library import dump_document, file_stem, logbook_folder, printable, profile_folder, save_text
    from coach.logbook.find import find_roast
    from coach.roast import effective, explain, fold

    path = find_roast(args.roast, logbook_folder(args.logbook))
    journal = read_journal(path)
    try:
        document = adopt(fold(journal.header, effective(journal.entries)), args.name)
    except EntryError as error:
        raise JournalError(str(path), error.message, error.hint) from None
    except ValidationError as error:
        raise JournalError(str(path), f"makes no profile: {explain(error)}.", "Correct the roast's entries.") from None
    stem = file_stem(args.name)
    target = Path(args.output) if args.output else profile_folder() / f"{stem}.toml"
    save_text(target, dump_document(document), overwrite=args.overwrite)
    print(f"{printable(str(target))}: follow it with  coach follow {printable(args.output or stem)}")
    if journal.header.run == "rehearsal":
        print("  It is a rehearsal's: a profile of the simulated roaster, not of yours.")
    return 0
