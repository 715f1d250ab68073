"""A rehearsal without a terminal: the simulated person works, and each event is printed as a plain line."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from coach.roast.entries import Entry, Mark, Move, Note, Pop, Reading
from coach.roast.units import clock, from_celsius, number

if TYPE_CHECKING:
    from coach.app.live import LiveRoast
    from coach.session.coach import Coach
    from coach.simulator.rehearsal.rehearsal import Rehearsal

LONGEST: Final = 2400.0
"""Longest time from the start of the rehearsal, s."""
AHEAD: Final = 90.0
"""Lead of the forecast that is printed at first crack, s."""


class Teller:
    """Prints each event once, as it comes: entries with the forecast after them, cues, advice."""

    def __init__(self, say: Callable[[str], object] = print) -> None:
        self._say = say
        self._active: set[str] = set()
        self._advice = ""
        self._forecasts: list[tuple[float, float]] = []
        self._pops = 0

    def entry(self, entry: Entry, coach: Coach) -> None:
        """Print the newest entry, with the forecast after it."""
        t = coach.roast.time(entry.at) if coach.roast.charge_at is not None else None
        unit = coach.header.unit
        if isinstance(entry, Reading):
            self._line(t, f"{number(entry.temperature, 1)} °{unit}{self._ahead(t, coach)}")
        elif isinstance(entry, Move):
            shown = f" {coach.header.pressure_unit}" if entry.control == "gas" else ""
            self._line(t, f"{entry.control} {number(entry.value, 2)}{shown}")
        elif isinstance(entry, Mark):
            self._line(t, entry.event.upper() + (self._came(t) if entry.event == "first crack" else ""))
        elif isinstance(entry, Pop):
            self._pops += 1
            if self._pops == 1:
                self._line(t, "the first pop")
        elif isinstance(entry, Note):
            self._line(t, f"note: {entry.text}")
        self.situation(coach)

    def situation(self, coach: Coach) -> None:
        """Print new cues and new advice."""
        t = coach.situation.t
        now = {c.name for c in coach.cues}
        for cue in coach.cues:
            if cue.name not in self._active:
                self._line(t, f"  cue {cue.priority}: {cue.text}")
        self._active = now
        advice = coach.situation.advice
        text = advice.text if advice is not None and advice.control is not None else ""
        if text and text != self._advice:
            self._line(t, f"  advice: {text}")
        self._advice = text

    def _ahead(self, t: float | None, coach: Coach) -> str:
        f, out = coach.situation.forecast, ""
        if t is not None and f.first_crack is not None and "first crack" not in coach.roast.marks:
            d = f.first_crack.time
            self._forecasts.append((t, d.median))
            out += f"   crack about {clock(d.median)} ({clock(d.q10)}-{clock(d.q90)})"
        if f.drop is not None and "drop" not in coach.roast.marks:
            hot = from_celsius(f.drop.temperature.median, coach.header.unit)
            out += f"   drop about {clock(f.drop.time.median)} at {number(hot, 0)} °{coach.header.unit}"
        return out

    def _came(self, t: float | None) -> str:
        before = [f for at, f in self._forecasts if t is not None and at <= t - AHEAD]
        return f"   forecast {AHEAD:.0f} s before: {clock(before[-1])}" if before else ""

    def _line(self, t: float | None, text: str) -> None:
        self._say(f"{'' if t is None else clock(t):>6}  {text}")


def carry_through(live: LiveRoast, source: Rehearsal, put: Callable[[float], None], teller: Teller) -> None:
    """Let the simulated person roast to the drop, second by second.  ``put`` sets the clock of the roast."""
    coach = live.coach
    t = 0.0
    while t < LONGEST and coach.roast.phase != "cooling" and not source.stopped:
        t += 1.0
        put(t)
        coach.advance(t)
        teller.situation(coach)
        for entry in source.advance(t, coach):
            live.enter(entry)
            source.hear(entry, coach)
            teller.entry(entry, coach)
