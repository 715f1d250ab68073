"""``coach trust PROFILE``: how far the forecast could be trusted on your own roasts, as it was made then."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from coach.earlier import Earlier
    from coach.logbook.asmade import AsMade
    from coach.profile import Profile


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    p = commands.add_parser("trust", help="how far the forecast could be trusted on your own roasts")
    p.add_argument("profile", metavar="PROFILE")
    p.add_argument("--logbook", metavar="DIR", help="a folder of journals of this profile (default: your own logbook)")
    p.add_argument("--last", type=int, default=20, metavar="N", help="the newest N roasts (20; 0: all)")
    p.add_argument("--json", action="store_true")
    p.add_argument("--screen", action="store_true", help="on a screen of its own, to scroll in")
    p.add_argument("--plain", action="store_true", help="draw without braille dots")
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Score the forecasts of the last roasts, each made from what the roasts before it taught."""
    import json
    from dataclasses import asdict

    from coach.errors import CoachError
    from coach.library import load_profile, logbook_folder
    from coach.logbook.trust_text import text
    from coach.printing import plainly, width
    from coach.tally import tally

    if args.last < 0:
        raise CoachError("--last needs a number of roasts.", "For example: --last 20")
    profile = load_profile(args.profile)
    folder = Path(args.logbook).expanduser() if args.logbook else logbook_folder()
    found = roasts(profile, folder, own=not args.logbook)
    if not found:
        raise CoachError("There is no finished roast of this profile to judge by.", "Roast first, then ask again.")
    made = worked_out(profile, found, args.last)
    if args.json:
        print(json.dumps([asdict(s) for s in tally([r for rows in made.learnt for r in rows]) if s.n], allow_nan=False))
        return 0
    if args.screen:
        from coach.screens.reader import read

        return read("trust", lambda w, p: text(made, w, p), "coach trust prints it.", ascii_only=plainly(args.plain))
    print("\n".join(text(made, width(), plainly(args.plain))))
    return 0


def roasts(profile: Profile, folder: Path, *, own: bool) -> list[Earlier]:
    """The roasts to judge by, oldest first: of a person's own logbook those of this profile, else all of the folder.
    Raises JournalError when a folder that was named is none."""
    from coach.commands.log import ready
    from coach.earlier import Earlier, earlier
    from coach.errors import CoachError
    from coach.journal import read_journal
    from coach.roast import effective, fold

    if not own:
        return earlier(folder)
    if not folder.is_dir():
        return []
    with ready(folder) as index:
        rows = index.rows("profile = ? AND run <> 'rehearsal'", (profile.name,))
        files = [r.file for r in rows if r.readings and (r.crack_time is not None or r.drop_time is not None)]
    out = []
    for file in reversed(files):
        try:
            journal = read_journal(folder / file, check=False)
            roast = fold(journal.header, effective(journal.entries))
        except CoachError:
            continue
        if roast.charge_at is not None and roast.readings:
            out.append(Earlier(journal.header, journal.entries, roast))
    return out


def worked_out(profile: Profile, found: list[Earlier], last: int) -> AsMade:
    """The forecasts as made; what takes long shows its progress on standard error."""
    import sys
    import time

    from coach.logbook.asmade import as_made
    from coach.logbook.worked import Worked

    begun = time.monotonic()
    shown = False

    def progress(done: int, of: int) -> None:
        nonlocal shown
        if sys.stderr.isatty() and (shown or time.monotonic() - begun > 2.0):
            shown = True
            print(f"\rforecasting each roast from those before it: {done} of {of}", end="", file=sys.stderr, flush=True)

    with Worked.of_this_machine() as worked:
        made = as_made(worked, profile, found, last, progress)
    if shown:
        print(file=sys.stderr)
    return made
