"""``coach accuracy --of forecasts``: errors of the issued forecasts on your own roasts."""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable
from dataclasses import asdict
from typing import TYPE_CHECKING, Final

from coach.app.printing import plainly, width
from coach.app.printing import progress as show_progress
from coach.roast.errors import CoachError, printable
from coach.roast.units import TemperatureUnit

if TYPE_CHECKING:
    from coach.logbook.learning.hindcasts import PastForecasts, Progress

SHOWN: Final = 10
"""Number of roasts after which the page on the screen is renewed."""
BUDGET: Final = 1.2
"""Time after the command's start beyond which no other roast is computed without --all, s."""


def run(args: argparse.Namespace) -> int:
    """Score the issued forecasts of the roasts, or their hindcasts."""
    begun = time.monotonic()
    from coach.logbook.learning.accuracy_text import text
    from coach.session.profile_files import load_profile, logbook_folder
    from coach.verification.aggregate import tally

    if args.last < 0:
        raise CoachError("--last needs a number of roasts.", "For example: --last 20")
    profile = load_profile(args.profile)
    folder = logbook_folder(args.logbook)

    def forecasts(stop: Callable[[], bool] | None = None, progress: Progress | None = None) -> PastForecasts:
        from coach.logbook.learning.cache import ResultCache
        from coach.logbook.learning.hindcasts import judgeable, past_forecasts
        from coach.logbook.learning.replays import Replays

        with ResultCache.of_this_machine() as cache:
            found, places = Replays(cache, profile, ()), list[int]()
            if args.logbook or folder.is_dir():
                found, places = Replays.of(cache, profile, folder, most=args.last, wanted=judgeable)
            if not places:
                what = "There is no finished roast of this profile to judge by (but the one it was made of)."
                raise CoachError(what, "Roast first, then ask.")
            if args.recompute:
                found.records = {}
            return past_forecasts(found, places, progress, stop=stop)

    def out_of_time() -> bool:
        return time.monotonic() - begun > BUDGET

    if args.screen:
        return _on_screen(forecasts, out_of_time, plainly(args.plain), profile.unit)
    whole = args.all or args.json
    known = forecasts(None if whole else out_of_time, show_progress("forecasting each roast from those before it"))
    if args.json:
        print(json.dumps([asdict(s) for s in tally([r for x in known.learnt for r in x]) if s.n], allow_nan=False))
        return 0
    more = f"These too: coach accuracy {printable(args.profile)} --all"
    print("\n".join(text(known, width(), plainly(args.plain), more, profile.unit)))
    return 0


def _on_screen(
    forecasts: Callable[..., PastForecasts], out_of_time: Callable[[], bool], plain: bool, unit: TemperatureUnit
) -> int:
    """Show the page on a screen; where roasts are left, they are computed while it is read."""
    from coach.app.screens.reader import read
    from coach.logbook.learning.accuracy_text import text

    known = forecasts(out_of_time)
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

        known = forecasts(stop, progress)
        renew()

    return read("accuracy", lines, "coach accuracy prints it.", ascii_only=plain, work=rest if known.left else None)
