"""``coach trust PROFILE``: how far the forecast could be trusted on your own roasts, as it was made then."""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from coach.app.commands import add_logbook, add_profile
from coach.roast.errors import printable

if TYPE_CHECKING:
    from coach.logbook.learning.hindcasts import AsMade, Progress
    from coach.roast.profile import Profile
    from coach.roast.units import TemperatureUnit
    from coach.session.journal_folder import StoredRoast
    from coach.verification.forecast_record import SaidFile


SHOWN: Final = 10
"""On the screen the page is made anew after so many roasts."""
BUDGET: Final = 1.2
"""Without --all no roast is begun to be worked out later than this after the command's start, s."""


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    p = commands.add_parser("trust", help="how far the forecast could be trusted on your own roasts")
    add_profile(p)
    add_logbook(p)
    p.add_argument("--last", type=int, default=0, metavar="N", help="the newest N roasts alone (0: all)")
    p.add_argument("--all", action="store_true", help="work out every roast, however long it takes")
    p.add_argument(
        "--recompute",
        "--anew",
        dest="recompute",
        action="store_true",
        help="as the present program would have said it, not as it was said",
    )
    p.add_argument("--json", action="store_true", help="the scores; every roast is worked out")
    p.add_argument("--screen", action="store_true", help="on a screen of its own, to scroll in; goes on meanwhile")
    p.add_argument("--plain", action="store_true", help="draw without braille dots")
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Score the forecasts of the roasts as they were made then."""
    import json
    from dataclasses import asdict

    begun = time.monotonic()
    from coach.app.printing import plainly, width
    from coach.app.printing import progress as said_so
    from coach.logbook.learning.trust_text import text
    from coach.roast.errors import CoachError
    from coach.session.profile_files import load_profile, logbook_folder
    from coach.session.settings import load_settings
    from coach.verification.aggregate import tally

    if args.last < 0:
        raise CoachError("--last needs a number of roasts.", "For example: --last 20")
    profile = load_settings().applied(load_profile(args.profile))
    folder = logbook_folder(args.logbook)
    found = judged_by(profile, folder, own=not args.logbook)
    if not found:
        raise CoachError("There is no finished roast of this profile to judge by.", "Roast first, then ask again.")
    said = {} if args.recompute else said_of([e.path for e in found])

    def made(stop: Callable[[], bool] | None = None, progress: Progress | None = None) -> AsMade:
        from coach.logbook.learning.cache import Worked
        from coach.logbook.learning.hindcasts import as_made

        with Worked.of_this_machine() as worked:
            return as_made(worked, profile, found, args.last, progress, said=said, stop=stop)

    def soon() -> bool:
        return time.monotonic() - begun > BUDGET

    if args.screen:
        return _on_screen(made, soon, plainly(args.plain), profile.unit)
    whole = args.all or args.json
    known = made(None, said_so("forecasting each roast from those before it")) if whole else made(soon)
    if args.json:
        print(json.dumps([asdict(s) for s in tally([r for x in known.learnt for r in x]) if s.n], allow_nan=False))
        return 0
    more = f"These too: coach trust {printable(args.profile)} --all"
    print("\n".join(text(known, width(), plainly(args.plain), more, profile.unit)))
    return 0


def _on_screen(made: Callable[..., AsMade], soon: Callable[[], bool], plain: bool, unit: TemperatureUnit) -> int:
    """The page on a screen; where roasts are left, they are worked out while it is read."""
    from coach.app.screens.reader import read
    from coach.logbook.learning.trust_text import text

    known = made(soon)
    share = [0, 0]

    def lines(wide: int, ascii_only: bool) -> list[str]:
        more = f"That is being done: {share[0]} of {share[1]}." if share[1] else ""
        return text(known, wide, ascii_only, more, unit)

    def rest(stop: Callable[[], bool], renew: Callable[[], None]) -> None:
        nonlocal known

        def progress(done: int, of: int) -> None:
            share[:] = [done, of]
            if done % SHOWN == 0:
                renew()

        known = made(stop, progress)
        renew()

    return read("trust", lines, "coach trust prints it.", ascii_only=plain, work=rest if known.left else None)


def said_of(files: Sequence[Path]) -> dict[int, SaidFile]:
    """What was kept of what was said, by the place of the journal."""
    from coach.verification.forecast_record import load_said

    return {i: kept for i, file in enumerate(files) if (kept := load_said(file)) is not None}


def judged_by(profile: Profile, folder: Path, *, own: bool) -> list[StoredRoast]:
    """The roasts to judge by, oldest first: of a person's own logbook those of this profile, else all of the folder.

    Raises JournalError when a folder that was named is none.
    """
    from coach.session.journal_folder import charged, roasts

    if own and not folder.is_dir():
        return []
    return roasts(
        folder,
        profile=profile.name if own else None,
        wanted=lambda r: charged(r) and ("first crack" in r.marks or "drop" in r.marks),
    )
