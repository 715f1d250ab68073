"""Read-back by the incoming person: three facts of the profile; and its rule for drop, in words.  Pure."""

from __future__ import annotations

from dataclasses import dataclass

from coach.logbook.review.review import degrees
from coach.roast.profile import Profile
from coach.roast.units import clock, from_celsius, number, parse_clock


@dataclass(frozen=True)
class Fact:
    """A fact that the incoming person says back: the question, the answer in words, its number (``value``), and the
    tolerance of an answer (``within``); ``time``: the number is a time, s."""

    question: str
    answer: str
    value: float
    within: float
    time: bool = False

    def fits(self, said: str) -> bool:
        """True if an answer holds the number (a time as m:ss or seconds)."""
        text = said.strip().lower().rstrip("°cfkgps ").replace(",", ".").strip()
        try:
            value = parse_clock(text) if self.time or ":" in text else float(text)
        except ValueError:
            return False
        return abs(value - self.value) <= self.within


def drop_rule(profile: Profile) -> str:
    """The rule for drop, in words."""
    d, unit = profile.document.drop, profile.unit
    hot = degrees(profile.drop_temperature, unit)
    if d.by == "temperature":
        return f"drop at {hot} (± {number(d.temperature_tolerance)} °{unit})"
    if d.by == "ratio" and d.ratio is not None:
        return f"drop when development is {100 * d.ratio:.1f} % of the roast, about {hot}"
    return f"drop {clock(profile.development or 0.0)} after first crack, about {hot}"


def facts_of(profile: Profile) -> tuple[Fact, ...]:
    """Three facts that the incoming person says back before charge."""
    unit, d = profile.unit, profile.document
    charge = from_celsius(profile.charge_temperature, unit)
    limit = from_celsius(profile.safety, unit)
    first = Fact(
        f"At which temperature do you charge, in °{unit}?", f"{number(charge)} °{unit}", charge, d.charge_tolerance / 2
    )
    last = Fact(f"At which temperature is the heat off at once, in °{unit}?", f"{number(limit)} °{unit}", limit, 0.6)
    if d.drop.by == "development" and profile.development is not None:
        text = clock(profile.development)
        middle = Fact("How long after first crack do you drop (m:ss)?", text, profile.development, 2.0, time=True)
    else:
        hot = from_celsius(profile.drop_temperature, unit)
        middle = Fact(f"At about which temperature do you drop, in °{unit}?", f"{number(hot)} °{unit}", hot, 1.0)
    return first, middle, last
