"""``coach accuracy PROFILE``: errors of forecasts, cues and advice on your own roasts."""

from __future__ import annotations

import argparse
from typing import Final

from coach.app.commands import add_json, add_logbook, add_profile
from coach.roast.errors import CoachError

PARTS: Final = ("forecasts", "cues", "advice")


def add(p: argparse.ArgumentParser) -> None:
    """Take the arguments."""
    add_profile(p)
    p.add_argument("--of", choices=PARTS, help="one of these alone (without it: all three)")
    p.add_argument("--last", type=int, metavar="N", help="the newest N roasts (forecasts: all, cues: 20, advice: 10)")
    add_logbook(p)
    p.add_argument("--all", action="store_true", help="forecasts: compute every roast, however long it takes")
    p.add_argument("--recompute", action="store_true", help="forecasts: by this version, not as they were issued")
    p.add_argument("--roast", metavar="ROAST", help="every cue of one roast: a file, a name, or last")
    p.add_argument(
        "--judge", nargs=2, metavar=("CUE", "OUTCOME"),
        help="with --roast: your own word on a cue: useful, late, 'already acting', false or unknown",
    )  # fmt: skip
    p.add_argument("--time", metavar="M:SS", help="with --judge: which one, where the cue came more than once")
    p.add_argument("--screen", action="store_true", help="forecasts on a screen of their own; computing goes on there")
    p.add_argument("--plain", action="store_true", help="draw without braille dots")
    add_json(p, "as JSON; with --of")


def run(args: argparse.Namespace) -> int:
    """Print the requested parts."""
    from coach.app.commands import _accuracy_of_advice, _accuracy_of_cues, _accuracy_of_forecasts

    if args.roast or args.judge:
        args.of = args.of or "cues"
    if args.screen:
        args.of = args.of or "forecasts"
    if args.json and not args.of:
        raise CoachError("--json needs to know of what.", "Add --of forecasts, --of cues or --of advice")
    last, code = args.last, 0
    parts = {
        "forecasts": (_accuracy_of_forecasts.run, 0), "cues": (_accuracy_of_cues.run, 20),
        "advice": (_accuracy_of_advice.run, 10),
    }  # fmt: skip
    for part in [args.of] if args.of else PARTS:
        begin, usual = parts[part]
        args.last = usual if last is None else last
        if not args.of:
            print(f"{'' if part == PARTS[0] else chr(10)}{part.upper()}", flush=True)
        code = begin(args) or code
    return code
