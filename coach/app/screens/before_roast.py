"""The page before the roast: recipe, planned moves, cautions, checklist, the sound check, and an unfinished roast."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from typing import TYPE_CHECKING, Final

from coach.cues.table import CUES, SOUNDS
from coach.roast.profile import PlannedMove, ProfileDocument
from coach.roast.units import TemperatureUnit, clock, from_celsius, number, to_celsius
from coach.session.offers import described

if TYPE_CHECKING:
    from coach.session.offers import Choice, Offer

CAUTIONS: Final = (
    "CAUTION: fire, gas, carbon monoxide and burns. The maker's manual, local",
    "codes and licensed practice come first. Never leave a running roaster. The",
    "coach advises and controls nothing; in an emergency follow your own plan.",
)
IN_SHORT: Final = (
    "CAUTION: fire, gas, carbon monoxide, burns. The maker's manual comes first. Never leave a running roaster."
)
"""The cautions in short, for a screen with little room; the page below has them in full."""
IN_FULL: Final = (78, 20)
"""Columns and rows from which on the cautions are above the page in full."""
TWO: Final = 120
"""Columns from which on the page has two columns."""
AUDIBLE: Final = tuple(s for s in SOUNDS if s != "none")
"""The sounds that the sound check plays, one after the other."""
BETWEEN: Final = 3.0
"""Time from one sound of the check to the next, s."""


def in_full(columns: int, rows: int) -> bool:
    """True if a screen has room for all cautions above the page."""
    return columns >= IN_FULL[0] and rows >= IN_FULL[1]


def column(columns: int) -> int:
    """Width of what a roast is handed on with: a second column where there is room for one, in cells."""
    return (columns - 4) // 2 - 1 if columns >= TWO else max(columns - 3, 20)


def brief(
    d: ProfileDocument,
    unit: TemperatureUnit | None = None,
    *,
    cautions: bool = True,
    ticked: Collection[int] = (),
) -> list[str]:
    """Recipe, moves, checklist with its ``ticked`` items (from 1 on), and the cautions unless they are elsewhere;
    temperatures in ``unit`` (the profile's if none is given)."""
    shown = unit or d.unit

    def degrees(value: float) -> str:
        return f"{number(from_celsius(to_celsius(value, d.unit), shown))} °{shown}"

    version = f"version {d.version}" if d.version > 1 else ""
    head = [d.name, version, d.coffee, f"{d.batch_kg:g} kg", d.machine, "invented data" if d.invented else ""]
    out = ["   ".join(h for h in head if h), *(CAUTIONS if cautions else ()), ""]
    if shown != d.unit:
        out += [f"Readings are typed in °{shown}; the profile was written in °{d.unit}.", ""]
    out.append(f"Charge at {degrees(d.charge_temperature)}. Milestones:")
    out += [f"  {clock(m.time):>6}  {m.event:14} {degrees(m.temperature)}" for m in d.milestones]
    if d.moves:
        out.append(f"Planned moves (gas in {d.pressure_unit}):")
    out += [
        f"  {_when(m, degrees):>12}  {m.control} {number(m.value, 2)}{'  ' + m.note if m.note else ''}" for m in d.moves
    ]
    out.append(_drop(d, degrees(d.drop.temperature)))
    out.append(f"Safety limit {degrees(d.limits.safety)}: heat off, and your own emergency plan.")
    if d.checklist:
        left = sum(n not in ticked for n in range(1, len(d.checklist) + 1))
        out.append("Check before charge" + (f" ({left} left; its digit ticks each):" if left else ": all ticked"))
        out += [f"  [{'x' if n in ticked else ' '}] {n}  {c}" for n, c in enumerate(d.checklist, 1)]
    out += [f"{e}: {text}" for e, text in d.calls.items()]
    return [*out, *d.notes]


def _when(move: PlannedMove, degrees: Callable[[float], str]) -> str:
    if move.at_time is not None:
        return clock(move.at_time)
    if move.at_temperature is not None:
        return f"at {degrees(move.at_temperature)}"
    return f"{move.at_event}" + (f" +{clock(move.after)}" if move.after else "")


def _drop(d: ProfileDocument, temperature: str) -> str:
    if d.drop.by == "development" and d.drop.development is not None:
        return f"Drop {clock(d.drop.development)} after first crack (about {temperature})."
    if d.drop.by == "ratio" and d.drop.ratio is not None:
        return f"Drop when development is {d.drop.ratio:.0%} of the roast (about {temperature})."
    return f"Drop at {temperature}."


def offer_lines(offers: Sequence[Offer], found: Sequence[Choice], chosen: int, profile: str) -> list[str]:
    """The unfinished roasts that were found, newest first, and the keys for them."""
    out = []
    for n, offer in enumerate(offers, 1):
        key = f"{'>' if n - 1 == chosen else ' '}{n}  " if len(offers) > 1 else ""
        out.append(f"{key}unfinished roast: {described(offer, profile)}")
    keys = [f"{c.key.replace('enter', 'Enter')}  {c.text}" for c in found if c.act != "choose"]
    return [*out, *keys, ""] if out else []


def sounds_of(sound: str) -> str:
    """The cues that a sound stands for, in words."""
    return ", ".join(name for name, cue in CUES.items() if cue.sound == sound)


class HearingCheck:
    """The sound check: each sound in turn, then the question if they were heard.

    ``state`` is "off", "playing", "asking" or "done".
    """

    def __init__(self) -> None:
        self.state = "off"
        self.heard: bool | None = None
        self._next = 0.0
        self._count = 0

    def start(self, now: float) -> None:
        """Begin (again)."""
        self.state, self._count, self._next = "playing", 0, now

    def due(self, now: float) -> str | None:
        """The sound to be played at ``now`` (s); None where there is none."""
        if self.state != "playing" or now < self._next:
            return None
        if self._count == len(AUDIBLE):
            self.state = "asking"
            return None
        self._count += 1
        self._next = now + BETWEEN
        return AUDIBLE[self._count - 1]

    def answer(self, heard: bool) -> None:
        """Take the person's answer."""
        self.state, self.heard = "done", heard

    def line(self, way: str) -> str:
        """The line about it on the page; ``way`` is the way out of the sounds."""
        if self.state == "playing" and self._count:
            name = AUDIBLE[self._count - 1]
            return f"Sound {self._count} of {len(AUDIBLE)}: {name} ({sounds_of(name)})"
        if self.state == "asking":
            return "Were all of them heard?  y yes   n no   h once more"
        if self.state == "done":
            return (
                f"Sound check: {'heard' if self.heard else 'NOT HEARD: keep the screen in view'} ({way}).  h once more"
            )
        return f"h  plays every cue's sound, so that you know them ({way})"
