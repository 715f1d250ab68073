"""``coach plan PROFILE[xN] ...``: several batches in a row."""

from __future__ import annotations

import argparse
import re
from datetime import datetime, timedelta
from statistics import median

from coach.app.commands import check, tell
from coach.app.commands.log import ready
from coach.app.printing import hung, width
from coach.logbook.brief.batch_plan import gaps_before, loss_of, plan_batches, text
from coach.logbook.index.summary import Summary
from coach.roast.errors import CoachError, FileError
from coach.roast.profile import Profile, in_unit
from coach.roast.units import clock, parse_clock
from coach.session.profile_files import find_profile, last_profile, load_profile, logbook_folder
from coach.session.settings import load_settings

USUAL_GAP = 600.0
"""Time from a drop to the next charge where the logbook shows none, s (common practice, no source)."""


def run(args: argparse.Namespace) -> int:
    """Compute the plan, and print it."""
    check("--loss", args.loss, "Give percent from 0 to 40.", 0, 40)

    typed_in = load_settings().unit
    batches = [parse_batch(x) for x in args.batches or [last_profile()]]
    wanted = [(in_unit(p, typed_in or batches[0][0].unit), n) for p, n in batches]  # one unit in one table
    if sum(n for _, n in wanted) > 60:
        raise CoachError("More than 60 batches.", "Plan one day.")
    folder = logbook_folder(args.logbook)
    rows: list[Summary] = []
    if folder.is_dir():
        with ready(folder) as index:
            rows = list(index.rows("run = 'live' AND ended = 'dropped'", limit=2000))
    try:
        gap = parse_clock(args.gap) if args.gap else None
        start = _start(args.start, datetime.now())
    except ValueError as error:
        raise CoachError(f"{error}.", "Write --start 8:30 and --gap 10:00") from None
    usual = gaps_before(rows)
    why = ""
    if gap is None:
        gap = round(median(usual) / 30) * 30 if len(usual) >= 5 else USUAL_GAP
        why = f"median of {len(usual)} in the logbook" if len(usual) >= 5 else "a guess: common practice, no source"
    if not 0 <= gap <= 7200:
        raise CoachError(f"--gap {clock(gap)} is not possible.", "Give up to two hours.")
    losses = [(p, n, loss_of([r for r in rows if r.profile == p.name], args.loss)) for p, n in wanted]
    wide = width(120)
    found = plan_batches(losses, start, gap)
    lines = text(found, wide) + ([f"Gap: {why}."] if why else [])
    if start < datetime.now() - timedelta(minutes=1):
        lines.append(f"{start:%H:%M} has passed today.")
    return tell(args, found, hung(lines, wide))


def parse_batch(word: str) -> tuple[Profile, int]:
    """Parse a profile and the number of its batches.  Raises CoachError."""
    match = re.fullmatch(r"(.+?)[x×](\d{1,3})", word)
    if match:
        try:
            find_profile(word)
        except FileError:
            if int(match[2]) < 1:
                raise CoachError(f"'{word[:40]}': no batch at all.", "Write larch-hillx4 for four.") from None
            return load_profile(match[1]), int(match[2])
    return load_profile(word), 1


def _start(text: str, now: datetime) -> datetime:
    """The first charge today at H:MM; the next full quarter of an hour where none is given.  Raises ValueError."""
    base = now.replace(second=0, microsecond=0)
    if not text:
        return base + timedelta(minutes=15 - base.minute % 15)
    match = re.fullmatch(r"(\d{1,2}):(\d\d)", text)
    if not match or int(match[1]) > 23 or int(match[2]) > 59:
        raise ValueError(f"'{text[:20]}' is no time of day")
    return base.replace(hour=int(match[1]), minute=int(match[2]))
