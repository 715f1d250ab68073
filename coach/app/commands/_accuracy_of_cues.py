"""``coach accuracy --of cues``: outcomes of the cues of the last roasts."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from coach.app.printing import plain_values, print_json, progress
from coach.roast.errors import CoachError, printable
from coach.roast.units import clock, parse_clock

if TYPE_CHECKING:
    from coach.roast.profile import Profile
    from coach.verification.cue_outcomes import OutcomeLine
    from coach.verification.cue_precision import Sum


def run(args: argparse.Namespace) -> int:
    """Print the ledger."""
    from coach.session.profile_files import load_profile, logbook_folder

    if args.last < 1:
        raise CoachError("--last needs a number of roasts.", "For example: --last 20")
    if args.judge and not args.roast:
        raise CoachError("--judge needs a roast.", "For example: --roast last --judge 'crack early' false")
    profile = load_profile(args.profile)
    folder = logbook_folder(args.logbook)
    if args.roast:
        return _one(args, folder, profile)
    return _all(args, folder, profile)


# -- all roasts ----------------------------------------------------------------------------------------------------


def _all(args: argparse.Namespace, folder: Path, profile: Profile) -> int:
    from coach.logbook.cue_history import pages
    from coach.verification.cue_precision import sums

    if not folder.is_dir() and not args.logbook:
        print("No roasts yet: the ledger begins with your first.")
        return 0
    say = progress()
    found = pages(folder, profile, most=args.last, progress=lambda done, of: say(done + 1, of))
    totals = sums(p.lines for p in found)
    if args.json:
        print_json([{**plain_values(s), "demoted": s.demoted or None} for s in totals.values()])
        return 0
    print(f"{profile.name}: {len(found)} finished roasts")
    if not found:
        return 0
    print(table(totals))
    missed = [(p, m) for p in found for m in p.missed]
    if missed:
        warned = sum(1 for p, m in missed if any(x.cue == m.cue and x.heard for x in p.lines))
        print(f"Crack outside its window: {len(missed)} of {len(found)} roasts, {warned} of them warned of.")
    print("Right: 'useful' of useful, late and false, over each cue's last 20. Silent below 0.70 of 10 or more.")
    return 0


def table(totals: dict[str, Sum]) -> str:
    """Precision and lead by cue, as a person reads it."""
    out = [f"{'cue':18} {'times':>5} {'scored':>6} {'right':>5} {'lead':>6}"]
    for s in totals.values():
        right = "–" if s.precision is None else f"{s.precision:.2f}"
        lead = "–" if s.lead is None else f"{s.lead:.0f} s"
        note = f"   SILENT: {s.demoted}" if s.demoted else ""
        out.append(f"{s.cue:18} {s.lines:5} {s.scored:6} {right:>5} {lead:>6}{note}")
    return "\n".join(out)


# -- one roast -----------------------------------------------------------------------------------------------------


def _one(args: argparse.Namespace, folder: Path, profile: Profile) -> int:
    from coach.logbook.cue_history import page_of
    from coach.logbook.index.find import find_roast

    path = find_roast(args.roast, folder)
    if args.judge:
        judge(path, args.judge[0], args.judge[1], args.time)
    page = page_of(path, profile, folder)
    if args.json:
        print_json(page.lines)
    else:
        print("\n".join(row(line) for line in page.lines) or "No cue stood in this roast.")
    return 0


def row(line: OutcomeLine) -> str:
    """One line of the ledger."""
    heard = "silent" if not line.heard else "heard" if line.heard == 1 else f"heard {line.heard}x"
    if line.demoted:
        heard += ", kept silent"
    reply = line.reply or "no reply"
    if line.delay is not None:
        reply += f" after {line.delay:.0f} s"
    lead = "" if line.lead is None else f", {abs(line.lead):.0f} s {'before' if line.lead >= 0 else 'after'} it"
    text = f"{clock(line.when):>6}  {line.cue} ({line.priority}, {heard}): {printable(line.text)}"
    return f"{text}\n        {line.outcome}: {line.why}{lead}; {reply}"


def judge(path: Path, cue: str, outcome: str, time: str | None) -> None:
    """Put the person's own word on a cue into the journal.  Raises CoachError on an unknown word or cue."""
    from coach.cues.table import CUES
    from coach.logbook.index.results import append, entry_time
    from coach.roast.entries import OUTCOMES, Reply
    from coach.session.journal import read_journal

    if cue not in CUES:
        raise CoachError(f"No cue is called '{cue[:40]}'.", "coach cues lists them all.")
    if outcome not in OUTCOMES:
        raise CoachError(f"'{outcome[:40]}' is no outcome.", "Say " + ", ".join(OUTCOMES) + ".")
    journal = read_journal(path)
    at = typed = entry_time(journal, datetime.now(UTC))
    if time is not None:
        try:
            at = (journal.roast.charge_at or 0.0) + parse_clock(time)
        except ValueError:
            raise CoachError(f"'{time[:20]}' is no time.", "Write m:ss.") from None
    append(path, [Reply(at=min(at, typed), typed=typed, cue=cue, answer=outcome)])
