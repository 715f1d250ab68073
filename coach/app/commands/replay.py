"""``coach replay ROAST --profile P --json``: a roast through the coach without a screen, entry by entry."""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from coach.app.commands import check
from coach.app.commands._plain_lines import PlainLines
from coach.cues.evidence import drop_due
from coach.cues.situation import ActiveCue, Situation
from coach.forecast.distribution import Distribution
from coach.forecast.forecast_values import EventForecast
from coach.logbook.index.find import find_roast
from coach.logbook.learning.lessons import learn_from
from coach.logbook.profiles.kept_versions import profile_of
from coach.roast.entries import Header
from coach.roast.errors import CoachError, EntryError, FileError
from coach.roast.roast import Numbered, as_fed
from coach.roast.units import TemperatureUnit, from_celsius, from_kelvins
from coach.session.coach import Coach
from coach.session.journal import MAX_LINE, read_lines, read_text, whole_lines
from coach.session.profile_files import load_profile, logbook_folder


def run(args: argparse.Namespace) -> int:
    """Replay; print one object (or a line) for each entry, or show it on the screen."""
    check("--speed", args.speed, "Give 1 to 20.", 1, 20)
    if args.screen and (args.roast == "-" or args.json):
        raise CoachError("--screen goes with a journal's file, and without --json.", "Leave one of them out.")
    folder = logbook_folder(args.logbook)
    given = load_profile(args.profile) if args.profile else None
    path = None if args.roast == "-" else find_roast(args.roast, folder)
    name = "standard input" if path is None else str(path)

    def coach_of(header: Header) -> Coach:
        profile = given or profile_of(header, Path(name))
        return Coach(profile, header, learn_from(folder, profile, but=path) if args.logbook else None)

    if args.screen and path is not None:
        return _on_screen(path, coach_of, args.speed)
    coach: Coach | None = None
    lines = PlainLines()
    items = read_lines(_lines(path), name)
    for item in items if path is None else _fed(items):
        if not isinstance(item, Numbered):
            coach = coach_of(item)
            continue
        assert coach is not None
        sounded = coach.advance(item.entry.came)
        try:
            coach.receive(item.entry, item.line)
        except EntryError as error:
            raise FileError(name, error.message, error.hint, line=item.line) from None
        if args.json:
            print(json.dumps(answer(coach, {c.name for c in sounded}), allow_nan=False), flush=path is None)
        else:
            lines.entry(item.entry, coach)
    sys.stdout.flush()
    return 0


def _fed(items: Iterator[Header | Numbered]) -> Iterator[Header | Numbered]:
    """Yield a whole journal in the order in which a coach is fed.  An unreadable line raises FileError once the
    lines before it were given."""
    found: list[Header | Numbered] = []
    error: FileError | None = None
    try:
        found.extend(items)
    except FileError as raised:
        error = raised
    entries = iter(as_fed([x for x in found if isinstance(x, Numbered)]))
    for item in found:
        yield next(entries) if isinstance(item, Numbered) else item
    if error is not None:
        raise error


def _on_screen(path: Path, coach_of: Callable[[Header], Coach], speed: float) -> int:
    """Play the roast back on the screen."""
    from coach.app.screens.app import RoastApp
    from coach.app.screens.playback import replayed
    from coach.app.screens.terminal import check_terminal, show
    from coach.session.journal import read_journal
    from coach.session.settings import load_settings
    from coach.simulator.rehearsal.clock import RehearsalClock

    check_terminal("replay --screen", "Without --screen it prints a line for each entry.")
    journal = read_journal(path)
    watch = RehearsalClock(time.monotonic, speed)
    live, source = replayed(journal, coach_of(journal.header), watch)
    return show(RoastApp(live, source=source, sound=True, settings=load_settings()))


def _lines(path: Path | None) -> Iterator[str]:
    if path is None:
        for line, raw in enumerate(iter(lambda: sys.stdin.buffer.readline(MAX_LINE + 1), b""), 1):
            if len(raw) > MAX_LINE and not raw.endswith(b"\n"):
                raise FileError("standard input", "a line of over 100 kB is no entry.", "Remove it.", line=line)
            yield raw.decode("utf-8", "replace").rstrip("\n")
        return
    lines, torn = whole_lines(read_text(path))
    yield from lines
    if torn:
        print(f"coach: {path}: a torn last line was left out.", file=sys.stderr)


def _spread(d: Distribution, unit: TemperatureUnit | None) -> dict[str, float]:
    def show(x: float) -> float:
        return round(x if unit is None else from_celsius(x, unit), 2)

    return {"median": show(d.median), "q10": show(d.q10), "q25": show(d.q25), "q75": show(d.q75), "q90": show(d.q90)}


def _drop_time(s: Situation, forecast: Distribution) -> dict[str, float]:
    """The drop time (s) as on the screen: the forecast until first crack, then the profile's rule."""
    due = drop_due(s)
    if due is None or not due.ruled:
        return _spread(forecast, None)
    return dict.fromkeys(("median", "q10", "q25", "q75", "q90"), round(due.time, 2))


def _event(f: EventForecast | None, unit: TemperatureUnit) -> dict[str, Any] | None:
    if f is None:
        return None
    return {
        **_spread(f.time, None),
        "temperature": round(from_celsius(f.temperature, unit), 2),
        "p_early": None if f.p_early is None else round(f.p_early, 4),
        "p_late": None if f.p_late is None else round(f.p_late, 4),
    }


def _cue(c: ActiveCue, sounded: set[str]) -> dict[str, Any]:
    return {
        "name": c.name,
        "family": c.family,
        "priority": c.priority,
        "state": c.state,
        "sounds": c.sounds or c.name in sounded,
        "text": c.text,
    }


def answer(coach: Coach, sounded: set[str]) -> dict[str, Any]:
    """One object of the headless replay, in the unit of the roast."""
    s, unit = coach.situation, coach.header.unit
    e, f = s.estimate, s.forecast
    return {
        "at": round(s.t if s.t is not None else s.at, 3),
        "phase": s.roast.phase,
        "estimate": None
        if e is None
        else {
            "temperature": round(from_celsius(e.temperature, unit), 3),
            "sd": round(from_kelvins(e.temperature_sd, unit), 3),
            "rate_of_rise": round(from_kelvins(e.rate * 60, unit), 3),
            "rate_of_rise_sd": round(from_kelvins(e.rate_sd * 60, unit), 3),
        },
        "deviation": {
            "temperature": None if f.deviation is None else round(from_kelvins(f.deviation, unit), 3),
            "time": None if f.lag is None else round(f.lag, 2),
        },
        "first_crack": _event(f.first_crack, unit),
        "yellow": _event(f.yellow, unit),
        "drop": None
        if f.drop is None
        else {"time": _drop_time(s, f.drop.time), "temperature": _spread(f.drop.temperature, unit)},
        "cues": [_cue(c, sounded) for c in coach.cues],
        "advice": None if s.advice is None or s.advice.control is None else s.advice.text,
        "reasons": list(f.reasons),
        "doubtful": sorted(e.doubtful) if e is not None else [],
    }
