"""``coach result ROAST out=0.69 score=85``: results after drop, added to the journal."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from coach.app.printing import in_words, print_json
from coach.logbook.index.copies import bring
from coach.logbook.index.find import find_roast
from coach.logbook.index.index import load_summary
from coach.logbook.index.one_roast import roast_text
from coach.logbook.index.results import add_results, moisture_remark, parse_results, remark
from coach.roast.errors import printable
from coach.session.folders import logbook_folder
from coach.session.journal import read_journal
from coach.session.journal_folder import same_roast
from coach.session.profile_files import load_profile


def run(args: argparse.Namespace) -> int:
    """Append the results, and print them all."""
    say = in_words(args.json)
    words = [w for w in args.given if w != "copies"]
    given, doubts = parse_results(words)
    folder = logbook_folder(args.logbook)
    path = find_roast(args.roast, folder)
    if len(words) < len(args.given):
        path = _from_copies(path, folder, say)
    if "profile" in given:
        document = load_profile(given["profile"]).document
        given |= {"profile": document.name, "profile_version": document.version}
    if words:
        add_results(path, given, doubts, datetime.now(UTC))
    say("\n".join(roast_text(read_journal(path))))
    summary = load_summary(path, path.name)
    said = remark(summary.loss) if given.keys() & {"weight_in", "weight_out"} else ""
    remarks = [line for line in (said, moisture_remark(given.get("moisture"))) if line]
    for line in remarks:
        say(line)
    if args.json:
        print_json({"file": path, "roast": summary, "remarks": remarks})
    return 0


def _from_copies(path: Path, folder: Path, say: Callable[[str], None]) -> Path:
    """Bring the results and notes of a roast's copies into the file that counts; return that file."""
    counts, *others = same_roast(path, folder)
    name = printable(counts.stem)
    if not others:
        say(f"{name} is the only file of this roast.")
        return counts
    found = bring(counts, others)
    where = ", ".join(printable(p.stem) for p in others)
    lines = (
        "nothing" if not found.entries else "1 entry" if len(found.entries) == 1 else f"{len(found.entries)} entries"
    )
    say(f"{name} counts; {lines} brought from {where} (which stay as they are)")
    for field, here, there in found.older:
        say(f"  {field.replace('_', ' ')}: {printable(str(here))} stays, entered later than {printable(str(there))}")
    if found.else_there:
        say(f"  {found.else_there} other lines are only there: coach log {printable(others[0].stem)}")
    return counts
