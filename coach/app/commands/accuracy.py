"""``coach accuracy PROFILE``: errors of forecasts, cues and advice on your own roasts."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from pathlib import Path

from coach.app.commands import check, tell
from coach.app.printing import in_words, plain_values, plainly, progress, width
from coach.cues.table import CUES
from coach.logbook.index.find import find_roast
from coach.logbook.index.results import append, entry_time
from coach.logbook.learning.accuracy_text import text
from coach.logbook.learning.cache import ResultCache
from coach.logbook.learning.lessons import NOT_ITS_SOURCE
from coach.logbook.learning.replays import Replays, advice_of_roasts, judgeable, page_of, pages, past_forecasts
from coach.roast.entries import OUTCOMES, Reply
from coach.roast.errors import CoachError
from coach.roast.profile import Profile
from coach.roast.units import clock, number, parse_clock
from coach.session.journal import read_journal
from coach.session.profile_files import load_profile, logbook_folder
from coach.verification.advice_outcomes import line
from coach.verification.advice_reliability import FEWEST, WINDOW, counted, trust
from coach.verification.aggregate import tally
from coach.verification.cue_outcomes import OutcomeLine, sums

Part = tuple[object, list[str]]
"""Values for JSON, and lines to read."""


def run(args: argparse.Namespace) -> int:
    """Print the requested parts."""
    if args.judge and not args.roast:
        raise CoachError("--judge needs a roast.", "For example: --roast last --judge 'crack early' false")
    check("--last", args.last, "For example: --last 20", 1)
    profile, folder = load_profile(args.profile), logbook_folder(args.logbook)
    if args.roast:
        return one_roast(args, folder, profile)
    if not args.logbook and not folder.is_dir():
        raise CoachError("There is no finished roast of this profile to judge by.", "Roast first, then ask.")
    parts = {"forecasts": forecasts, "cues": cues, "advice": advice}
    if args.of:
        return tell(args, *parts[args.of](args, folder, profile))
    values = {}
    for name, part in parts.items():
        values[name], lines = part(args, folder, profile)
        in_words(args.json)("\n".join([name.upper(), *lines, ""]))
    return tell(args, values, ())


# -- forecasts -----------------------------------------------------------------------------------------------------


def forecasts(args: argparse.Namespace, folder: Path, profile: Profile) -> Part:
    """The scores of the issued forecasts of the roasts, or of their hindcasts."""
    with ResultCache.of_this_machine() as cache:
        found, places = Replays.of(cache, profile, folder, most=args.last, wanted=judgeable)
        if not places:
            raise CoachError(
                "There is no finished roast of this profile to judge by.", f"Roast first. {NOT_ITS_SOURCE}"
            )
        if args.recompute:
            found.records = {}
        known = past_forecasts(found, places, progress("forecasting each roast from those before it"))
    scores = [s for s in tally([r for x in known.rows for r in x]) if s.n]
    return scores, text(known, width(), plainly(), profile.unit)


# -- cues ----------------------------------------------------------------------------------------------------------


def cues(args: argparse.Namespace, folder: Path, profile: Profile) -> Part:
    """The times that each cue came and was right."""
    found = pages(folder, profile, most=args.last, progress=progress())
    totals = sums(p.lines for p in found)
    values = [{**plain_values(s), "demoted": s.demoted or None} for s in totals.values()]
    lines = [f"{profile.name}: {len(found)} finished roasts"]
    if not found:
        return values, lines
    lines.append(f"{'cue':18} {'times':>5} {'scored':>6} {'right':>5} {'lead':>6}")
    for s in totals.values():
        right = "–" if s.precision is None else f"{s.precision:.2f}"
        lead = "–" if s.lead is None else f"{s.lead:.0f} s"
        note = f"   SILENT: {s.demoted}" if s.demoted else ""
        lines.append(f"{s.cue:18} {s.lines:5} {s.scored:6} {right:>5} {lead:>6}{note}")
    missed = [p for p in found if p.missed]
    if missed:
        warned = sum(any(x.cue == p.missed and x.heard for x in p.lines) for p in missed)
        lines.append(f"Crack outside its window: {len(missed)} of {len(found)} roasts, {warned} of them warned of.")
    lines.append("Right: 'useful' of useful, late and false, over each cue's last 20. Silent below 0.70 of 10 or more.")
    return values, lines


def one_roast(args: argparse.Namespace, folder: Path, profile: Profile) -> int:
    """Print every cue of one roast, once the person's own word on one was added."""
    path = find_roast(args.roast, folder)
    if args.judge:
        judge(path, args.judge[0], args.judge[1], args.time)
    page = page_of(path, profile, folder)
    lines = [text for line in page.lines for text in row(line)]
    return tell(args, page.lines, lines or ["No cue stood in this roast."])


def row(line: OutcomeLine) -> list[str]:
    """A cue, its outcome, and the reply to it."""
    heard = "silent" if not line.heard else "heard" if line.heard == 1 else f"heard {line.heard}x"
    if line.demoted:
        heard += ", kept silent"
    reply = line.reply or "no reply"
    if line.delay is not None:
        reply += f" after {line.delay:.0f} s"
    lead = "" if line.lead is None else f", {abs(line.lead):.0f} s {'before' if line.lead >= 0 else 'after'} it"
    head = f"{clock(line.when):>6}  {line.cue} ({line.priority}, {heard}): {line.text}"
    return [head, f"        {line.outcome}: {line.why}{lead}; {reply}"]


def judge(path: Path, cue: str, outcome: str, time: str | None) -> None:
    """Put the person's own word on a cue into the journal.  Raises CoachError on an unknown word or cue."""
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


# -- advice --------------------------------------------------------------------------------------------------------


def advice(args: argparse.Namespace, folder: Path, profile: Profile) -> Part:
    """Each advised move of the last roasts, and the share of cracks inside the stated intervals."""
    found = advice_of_roasts(folder, profile, most=max(args.last, WINDOW), progress=progress())
    record = trust(counted([advised for _, advised in found]))
    shown = found[-args.last :]
    roasts = [
        {"roast": e.header.id, "advised": [{**plain_values(t), "inside": t.inside} for t in advised]}
        for e, advised in shown
    ]
    values = {"inside": record.inside, "of": record.of, "withheld": record.withheld, "wider": record.wider,
              "roasts": roasts}  # fmt: skip
    lines = []
    for e, advised in shown:
        lines += [f"{e.name}{'' if advised else ': nothing was advised'}"]
        lines += [f"  {line(t, e.header.unit)}" for t in advised]
    lines.append(
        f"In {record.inside} of {record.of} roasts first crack fell in the range given with the last move that was "
        "followed (goal 4 of 5)."
    )
    if record.withheld:
        lines.append(record.text[0].upper() + record.text[1:] + ".")
    elif record.of < FEWEST:
        lines.append(f"From {FEWEST} roasts on the coach widens its ranges by this, or advises no moves.")
    elif record.wider > 1.0:
        lines.append(f"Ranges are {number(record.wider, 1)} times as wide from now on.")
    return values, lines
