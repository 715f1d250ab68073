"""The page before the roast: recipe, planned moves, cautions, checklist, and an unfinished roast."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING, Final

from coach.roast.profile import Profile, ProfileDocument
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


def in_full(columns: int, rows: int) -> bool:
    """True if a screen has room for all cautions above the page."""
    return columns >= IN_FULL[0] and rows >= IN_FULL[1]


def column(columns: int) -> int:
    """Width of what a roast is handed on with: a second column where there is room for one, in cells."""
    return (columns - 4) // 2 - 1 if columns >= TWO else max(columns - 3, 20)


def brief(
    profile: Profile, unit: TemperatureUnit | None = None, *, cautions: bool = True, ticked: Collection[int] = ()
) -> list[str]:
    """Plan in order of time, checklist with its ``ticked`` items (from 1 on), and the cautions unless they are
    elsewhere; temperatures in ``unit`` (the profile's if none is given)."""
    d = profile.document
    shown = unit or d.unit
    version = f"version {d.version}" if d.version > 1 else ""
    invented = "invented data" if d.invented and "invented" not in d.name.lower() else ""
    head = [x for x in (d.name, version, f"{d.batch_kg:g} kg", invented) if x]
    out = [*(CAUTIONS if cautions else ()), "PLAN   " + "   ".join(head)]
    if where := "   ".join(x for x in (d.coffee, d.machine) if x):
        out.append(where)
    if shown != d.unit:
        out.append(f"Readings are typed in °{shown}; the profile was written in °{d.unit}.")
    out += _plan(profile, shown)
    safety = number(from_celsius(to_celsius(d.limits.safety, d.unit), shown))
    out.append(f"Safety limit {safety} °{shown}: heat off, and your own emergency plan.")
    if d.checklist:
        left = sum(n not in ticked for n in range(1, len(d.checklist) + 1))
        out.append(f"CHECK BEFORE CHARGE   {f'{left} left, its digit ticks each' if left else 'all ticked'}")
        out += [f"  [{'x' if n in ticked else ' '}] {n}  {c}" for n, c in enumerate(d.checklist, 1)]
    out += [f"{e}: {text}" for e, text in d.calls.items() if e not in profile.goals]
    return [*out, *d.notes]


def _plan(profile: Profile, unit: TemperatureUnit) -> list[str]:
    """Milestones and moves in order of time; beside each what to do, or how to tell it."""
    d = profile.document

    def degrees(celsius: float) -> str:
        return f"{number(from_celsius(celsius, unit), 0)} °{unit}"

    rows: dict[tuple[float, str], tuple[str, list[str]]] = {(0.0, ""): (degrees(profile.charge_temperature), [])}
    for event, goal in profile.goals.items():
        told = [d.calls.get(event, ""), _drop(d) if event == "drop" else ""]
        rows[(goal.time, event)] = (degrees(goal.temperature), [x for x in told if x])
    for s in profile.steps:
        by = f" at {degrees(s.temperature)}" if s.temperature is not None else ""
        by = f" at {s.event}{' +' + clock(s.after) if s.after else ''}" if s.event is not None else by
        pressure = f" {d.pressure_unit}" if s.control == "gas" else ""
        text = f"{s.control} {number(s.shown, 2)}{pressure}{by}{'  ' + s.note if s.note else ''}"
        rows.setdefault((s.time, "" if s.time == 0 else "~"), ("", []))[1].append(text)
    names = {"": "charge", "~": ""}
    return [
        f" {clock(time):>5}  {names.get(event, event):13} {hot:>8}   {'   '.join(told)}".rstrip()
        for (time, event), (hot, told) in sorted(rows.items())
    ]


def _drop(d: ProfileDocument) -> str:
    """The rule for the drop; '' where that is its temperature."""
    if d.drop.by == "development" and d.drop.development is not None:
        return f"{clock(d.drop.development)} after first crack"
    if d.drop.by == "ratio" and d.drop.ratio is not None:
        return f"when development is {d.drop.ratio:.0%} of the roast"
    return ""


def offer_lines(offers: Sequence[Offer], found: Sequence[Choice], chosen: int, profile: str) -> list[str]:
    """The unfinished roasts that were found, newest first, and the keys for them."""
    out = []
    for n, offer in enumerate(offers, 1):
        key = f"{'>' if n - 1 == chosen else ' '}{n}  " if len(offers) > 1 else ""
        out.append(f"{key}unfinished roast: {described(offer, profile)}")
    keys = [f"{c.key.replace('enter', 'Enter')}  {c.text}" for c in found if c.act != "choose"]
    return [*out, *keys, ""] if out else []
