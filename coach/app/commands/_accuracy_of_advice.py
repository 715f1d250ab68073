"""``coach accuracy --of advice``: outcomes of the moves advised in your last roasts."""

from __future__ import annotations

import argparse
import json

from coach.app.printing import progress
from coach.roast.errors import CoachError, printable
from coach.roast.units import number


def run(args: argparse.Namespace) -> int:
    """Print each advised move of the last roasts, and the share of cracks inside the stated intervals."""
    from coach.logbook.learning.advice_record import advice_of_roasts
    from coach.session.profile_files import load_profile, logbook_folder
    from coach.verification.advice_outcomes_text import line, plain
    from coach.verification.advice_reliability import FEWEST, WINDOW, counted, trust

    if args.last < 1:
        raise CoachError("--last needs a number of roasts.", "For example: --last 10")
    profile = load_profile(args.profile)
    folder = logbook_folder(args.logbook)
    if not folder.is_dir() and not args.logbook:
        print("No roasts yet: the record begins with your first.")
        return 0
    found = advice_of_roasts(folder, profile, most=max(args.last, WINDOW), progress=progress())
    record = trust(counted([advised for _, advised in found]))
    shown = found[-args.last :]
    if args.json:
        roasts = [{"roast": e.header.id, "advised": plain(advised)} for e, advised in shown]
        print(json.dumps({"inside": record.inside, "of": record.of, "withheld": record.withheld,
                          "wider": record.wider, "roasts": roasts}))  # fmt: skip
        return 0
    for e, advised in shown:
        print(f"{printable(e.header.id)}{'' if advised else ': nothing was advised'}")
        for t in advised:
            print(f"  {line(t, e.header.unit)}")
    print(
        f"In {record.inside} of {record.of} roasts first crack fell in the range given with the last move that was "
        "followed (goal 4 of 5)."
    )
    if record.withheld:
        print(record.text[0].upper() + record.text[1:] + ".")
    elif record.of < FEWEST:
        print(f"From {FEWEST} roasts on the coach widens its ranges by this, or advises no moves.")
    elif record.wider > 1.0:
        print(f"Ranges are {number(record.wider, 1)} times as wide from now on.")
    return 0
