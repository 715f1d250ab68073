"""Flame-off pulses through the crack: their effects, in words and a small table.  Pure."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

from coach.cues.evidence import clock_due, crack_of
from coach.logbook.review.review_plots import bar
from coach.logbook.text.text_table import signed, table
from coach.roast.units import clock, from_celsius, from_kelvins, from_kpa, number

if TYPE_CHECKING:
    from coach.advice.advise import Pulse
    from coach.cues.situation import Situation

CAUTION: Final = (
    "Whether a flame may be put out and lit again in a roast is for the pilot, the maker's manual and local codes to "
    "say. The coach proposes and controls nothing."
)
NARROW: Final = 74
WIDE: Final = 84
"""Width of a terminal below which the table has fewer columns, cells."""


def name_of(p: Pulse) -> str:
    """A choice in words: 'not at all', '20 s once', '10 s twice'."""
    if not p.off:
        return "not at all"
    long = number(p.on[0] - p.off[0], 0)
    return f"{long} s {'once' if len(p.off) == 1 else 'twice' if len(p.off) == 2 else f'{len(p.off)} times'}"


def lines(s: Situation, choices: list[Pulse], width: int, dot: str = "·") -> list[str]:
    """The page for a terminal of ``width`` cells: each choice beside the present gas."""
    unit, roast = s.roast.header.unit, s.roast
    title = "THROUGH THE CRACK: THE FLAME OUT FOR A WHILE"
    head = textwrap.wrap(title + ("" if s.t is None else f", now {clock(s.t)}"), width)
    caution = textwrap.wrap(CAUTION, width)
    if not choices:
        return [*head, *textwrap.wrap(_why_not(s), width), "", *caution]
    out = [*head]
    crack = crack_of(s)
    forecast = s.forecast.first_crack
    begun = crack if crack is not None else forecast.time.median if forecast is not None else None
    gas = roast.setting("gas", s.t or 0.0)
    if gas is not None:
        sign = roast.header.pressure_unit
        out += textwrap.wrap(f"The gas stands at {number(from_kpa(gas, sign), 3)} {sign}, and goes back to it.", width)
    if begun is not None:
        foretold = crack is None and forecast is not None
        between = f" ({clock(forecast.time.q10)}-{clock(forecast.time.q90)}) as forecast" if foretold else ""  # type: ignore[union-attr]
        out += textwrap.wrap(f"First crack {clock(begun)}{between}. {_plan(s)}", width)
    by_rule = clock_due(s)  # no pulse moves a drop that is due by the clock
    due = None if by_rule is None else by_rule[0]
    rows = [_row(p, begun, due, unit, whole=width >= NARROW) for p in choices]
    columns = ("flame out", "off at", f"drop °{unit}", "4 in 5", "at", "develops", "stalls", "races")
    spare = (
        ()
        if width >= WIDE
        else ("at",)
        if width >= NARROW
        else ("4 in 5", "at")
        if width >= 56
        else ("off at", "4 in 5", "at", "races")
    )
    keep = [i for i, c in enumerate(columns) if c not in spare]
    body = [[row[i] for i in keep] for row in rows]
    right = frozenset(k for k, i in enumerate(keep) if i > 1)
    cells = max(min(width - 20, 25), 9)
    out += table([columns[i] for i in keep], body, right)
    out.append(f"{'':12}drop, [ ] tolerance of the plan")
    tolerance = s.profile.drop_tolerance
    for p in choices:
        off = p.temperature.median - s.profile.drop_temperature
        out.append(
            f"{name_of(p):<11} {bar(off, tolerance, cells - 1 + cells % 2, dot)} {signed(from_kelvins(off, unit)):>5}"
        )
    return [*out, *textwrap.wrap(_nearest(s, choices), width), *textwrap.wrap(MEANING, width), *caution]


MEANING: Final = "stalls, races: how likely the rise falls far below, or stays far above, the reference's before drop."


def _row(p: Pulse, begun: float | None, due: float | None, unit: str, *, whole: bool) -> tuple[str, ...]:
    def show(celsius: float) -> str:
        return number(from_celsius(celsius, unit), 0)  # type: ignore[arg-type]

    spans = ", ".join(clock(a) for a in p.off)
    t = p.temperature
    after = clock(due - begun) if due is not None and begun is not None else _developed(p, begun, whole=whole)
    return (
        name_of(p), spans, show(t.median), f"{show(t.q10)}-{show(t.q90)}", clock(p.time.median if due is None else due),
        after, f"{p.stall:.0%}", f"{p.racing:.0%}",
    )  # fmt: skip


def _developed(p: Pulse, begun: float | None, *, whole: bool) -> str:
    """The development, and its range in four of five cases."""
    d = p.development
    if d is None:
        return "–" if begun is None else clock(max(p.time.median - begun, 0.0))
    return clock(d.median) + (f" ({clock(d.q10)}-{clock(d.q90)})" if whole else "")


def _plan(s: Situation) -> str:
    unit = s.roast.header.unit
    hot = number(from_celsius(s.profile.drop_temperature, unit), 0)
    d = s.profile.development
    return f"Plan: drop at {hot} °{unit}" + (f" after {clock(d)} of development." if d is not None else ".")


def _nearest(s: Situation, choices: list[Pulse]) -> str:
    """The choice that comes nearest to the plan's drop, in words; no pulse where none is clearly nearer."""
    plan, unit = s.profile.drop_temperature, s.roast.header.unit
    off = {name_of(p): abs(p.temperature.median - plan) for p in choices}
    best = min(choices, key=lambda p: off[name_of(p)])
    without = next((p for p in choices if not p.off), None)
    if not best.off or (without is not None and off[name_of(without)] - off[name_of(best)] < 0.5):
        return "No pulse comes clearly nearer to the plan's drop than leaving the flame as it is."
    hot = number(from_celsius(best.temperature.median, unit), 0)
    risk = f"; it stalls in {best.stall:.0%} of such cases" if best.stall >= 0.1 else ""
    return f"Nearest to the plan: {name_of(best)}, off at {clock(best.off[0])}: drop {hot} °{unit}{risk}."


def _why_not(s: Situation) -> str:
    if s.t is None:
        return "Before charge there is nothing to say."
    if s.roast.phase == "cooling":
        return "The beans are out."
    if s.roast.setting("gas", s.t) is None:
        return "Log the gas as it stands first: g VALUE."
    if not s.roast.setting("gas", s.t):
        return "The flame is out: g VALUE when it burns again."
    return "Can't say now: " + ("; ".join(s.forecast.reasons) or "there is no forecast of the drop yet") + "."
