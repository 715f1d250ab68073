"""A roast in plain lines: each entry with the forecast after it, new cues and new advice."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from coach.app.screens.entryline import short_name
from coach.logbook.text.text_table import noted
from coach.roast.entries import Entry, Mark, Note, Pop, Reading
from coach.roast.errors import printable
from coach.roast.units import clock, from_celsius, number
from coach.session.coach import Coach

AHEAD: Final = 90.0
"""Lead of the forecast that is printed at first crack, s."""


class PlainLines:
    """Prints each event once, as it comes."""

    def __init__(self, say: Callable[[str], object] = print) -> None:
        self._say = say
        self._active: set[str] = set()
        self._advice = ""
        self._forecasts: list[tuple[float, float]] = []
        self._pops = 0

    def entry(self, entry: Entry, coach: Coach) -> None:
        """Print the newest entry, with the forecast after it; of pops only the first."""
        t = None if coach.roast.charge_at is None else coach.roast.time(entry.at)
        words = short_name(entry)
        if isinstance(entry, Reading):
            words = f"{number(entry.temperature, 1)} °{coach.header.unit}{self._ahead(t, coach)}"
        elif isinstance(entry, Mark):
            words = entry.event.upper()
            before = [f for at, f in self._forecasts if t is not None and at <= t - AHEAD]
            if entry.event == "first crack" and before:
                words += f"   forecast {AHEAD:.0f} s before: {clock(before[-1])}"
        elif isinstance(entry, Note):
            words = f"note: {entry.text}"
        elif isinstance(entry, Pop):
            self._pops += 1
            words = "the first pop" if self._pops == 1 else ""
        if words:
            self._line(t, words, coach.roast.marks.get("drop"))
        self.situation(coach)

    def situation(self, coach: Coach) -> None:
        """Print new cues and new advice."""
        t, advice = coach.situation.t, coach.situation.advice
        for cue in coach.cues:
            if cue.name not in self._active:
                self._line(t, f"  cue {cue.priority}: {cue.text}")
        self._active = {c.name for c in coach.cues}
        text = advice.text if advice is not None and advice.control is not None else ""
        if text and text != self._advice:
            self._line(t, f"  advice: {text}")
        self._advice = text

    def _ahead(self, t: float | None, coach: Coach) -> str:
        f, out = coach.situation.forecast, ""
        if t is not None and f.first_crack is not None and "first crack" not in coach.roast.marks:
            d = f.first_crack.time
            self._forecasts.append((t, d.median))
            out += f"   crack about {clock(d.median)} ({clock(d.q10)} to {clock(d.q90)})"
        if f.drop is not None and "drop" not in coach.roast.marks:
            hot = from_celsius(f.drop.temperature.median, coach.header.unit)
            out += f"   drop about {clock(f.drop.time.median)} at {number(hot, 0)} °{coach.header.unit}"
        return out

    def _line(self, t: float | None, text: str, drop: float | None = None) -> None:
        when = "" if t is None else clock(t) if drop is None else noted(t, drop)
        self._say(printable(f"{when:>6}  {text}"))
