"""What the coach foretold at 3, 2 and 1 minutes before an event, against what then happened.  Pure.

The forecast is the one that then stood on the screen: from what had been typed by then, seen in the step of the first
readings, and as old as the session lets it become (``session.EVERY``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import Final, Literal

from coach.forecast.knowledge import Knowledge
from coach.forecast.predictor import Outlook
from coach.forecast.values import Forecast
from coach.roast.entries import Entry, Header
from coach.roast.errors import EntryError
from coach.roast.profile import Profile
from coach.roast.roast import Numbered, Roast, dial_step, effective, fold
from coach.session.coach import EVERY

LEADS: Final = (180.0, 120.0, 60.0)
"""How long before the event, s."""
Event = Literal["first crack", "drop"]


@dataclass(frozen=True)
class Foretold:
    """One forecast: how long before (s), the median and the central 80 % interval of the time (roast time, s), the time
    that came, and the probe temperature foretold for it (°C).  ``why`` says why there was none."""

    event: Event
    lead: float
    actual: float
    median: float | None = None
    low: float | None = None
    high: float | None = None
    temperature: float | None = None
    why: str = ""

    @property
    def error(self) -> float | None:
        """Seconds by which the event came later (+) or earlier (-) than foretold."""
        return None if self.median is None else self.actual - self.median

    @property
    def inside(self) -> bool | None:
        """Whether it came inside the interval."""
        if self.low is None or self.high is None:
            return None
        return self.low <= self.actual <= self.high


def as_known(header: Header, entries: Sequence[Numbered], at: float) -> Roast | None:
    """The roast as far as it had been typed at ``at`` (s since the journal's start); None while it was none."""
    came: list[Numbered] = [n for n in entries if _came(n.entry) <= at]
    try:
        return fold(header, effective(came))
    except EntryError:
        return None


def _came(entry: Entry) -> float:
    return entry.came


def foretold(
    profile: Profile, header: Header, entries: Sequence[Numbered], roast: Roast, knowledge: Knowledge
) -> list[Foretold]:
    """The forecasts of first crack and drop as they stood then, from what had been typed by then."""
    out: list[Foretold] = []
    if roast.charge_at is None:
        return out
    events: tuple[Event, ...] = ("first crack", "drop")
    for event in events:
        actual = roast.marks.get(event)
        if actual is None:
            continue
        for lead in LEADS:
            t = actual - lead
            if t < 60:
                continue
            known = as_known(header, entries, roast.charge_at + t)
            if known is None or known.charge_at is None:
                out.append(Foretold(event, lead, actual, why="not charged yet"))
                continue
            t = renewed(known, t, [n.entry.came - roast.charge_at for n in entries])
            rounding = dial_step(known.readings[:6], header) if known.readings else known.rounding
            _, forecast = Outlook(profile, knowledge, rounding, needle=known.needle).at(t, known.until(t), asking=False)
            out.append(_read(event, lead, actual, forecast))
    return out


def renewed(roast: Roast, t: float, came: Sequence[float]) -> float:
    """When the forecast that stands at roast time ``t`` (s) was made: as an entry came in within this second (``came``,
    roast times, s), else on the last whole second of the session's rhythm or the first one after an entry."""
    n = floor(t + 1e-6)
    just = [x for x in came if n < x <= t]
    if just:
        return max(just)
    entered = [*(r.t for r in roast.readings), *(m.t for m in roast.moves), *roast.marks.values()]
    return float(max([n - n % EVERY, *(ceil(x) for x in entered if ceil(x) <= n)]))


def _read(event: Event, lead: float, actual: float, forecast: Forecast) -> Foretold:
    reason = "; ".join(forecast.reasons) or "can't say"
    if event == "first crack":
        crack = forecast.first_crack
        if crack is None:
            return Foretold(event, lead, actual, why=reason)
        return Foretold(event, lead, actual, crack.time.median, crack.time.q10, crack.time.q90, crack.temperature)
    drop = forecast.drop
    if drop is None:
        return Foretold(event, lead, actual, why=reason)
    return Foretold(event, lead, actual, drop.time.median, drop.time.q10, drop.time.q90, drop.temperature.median)
