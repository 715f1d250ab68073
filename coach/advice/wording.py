"""Text of a move, and of there being none, in the units of the person's own gauges.  Pure."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from coach.advice.advice_values import Aim
from coach.forecast.distribution import Distribution
from coach.roast.gauges import Gauge
from coach.roast.profile import Profile
from coach.roast.units import clock, from_celsius, from_kelvins, number


def move_text(
    profile: Profile,
    aim: Aim,
    gauge: Gauge,
    *,
    current: float,
    base: float,
    value: float,
    moment: float,
    deadline: float | None,
    bites: float | None,
    after: Distribution,
) -> str:
    """'gas 1.3 to 1.1 by 6:20; takes effect from 6:50; crack 8:05 to 8:26 (8:10-8:40), plan 8:30'.

    ``current`` and ``base``: the setting as it is, and as it would be by the plan when the move is made (core units);
    ``moment``: when that is; ``deadline`` (None: at that moment) and ``bites`` (takes effect): roast time, s;
    ``after``: the aim with it.
    """
    shown = number(gauge.shown(value), 2)
    instead = f", not {number(gauge.shown(base), 2)}," if base != current else ""
    if abs(value - current) < 1e-6:
        parts = [f"keep the {gauge.control} at {shown}{instead} past {clock(moment)}"]
    else:
        when = f"at {clock(moment)}" if deadline is None else f"by {clock(deadline)}"
        parts = [f"{gauge.control} {number(gauge.shown(current), 2)} to {shown}{instead} {when}"]
    if bites is not None:
        parts.append(f"takes effect from {clock(bites)}")
    parts.append(effect(profile, aim, after))
    return "; ".join(parts)


def effect(profile: Profile, aim: Aim, after: Distribution) -> str:
    """Projections of the aim without and with a move, and where the plan has it."""
    if aim.what == "crack":
        return f"crack {clock(aim.now.median)} to {span(after)}, plan {clock(aim.plan)}"
    unit = profile.unit
    show = [number(from_celsius(x, unit), 0) for x in (aim.now.median, after.median, after.q10, after.q90, aim.plan)]
    moved = f"{show[0]} to {show[1]} °{unit}"
    if show[0] == show[1]:
        little = from_kelvins(after.median - aim.now.median, unit)
        moved = f"{show[0]} °{unit}, {number(abs(little), 1)}° {'cooler' if little < 0 else 'hotter'}"
    return f"drop {moved} ({show[2]}-{show[3]}), plan {show[4]}"


def one_step(
    profile: Profile, aim: Aim, gauge: Gauge, change: Iterable[float], bites: float | None, until: float
) -> str:
    """'0.1 kPa of gas moves first crack about 4 s (2-7)'; ``change``: 10 %, median and 90 % of it, s or K."""
    step = f"{number(gauge.step, 3)} {gauge.unit}" if gauge.unit else number(gauge.step, 3)
    if aim.what == "crack":
        if bites is not None and bites >= until:
            return f"{step} of gas: too late to move first crack"
        low, middle, high = (f"{x:.0f}" for x in change)
        return f"{step} of gas moves first crack about {middle} s ({low}-{high})"
    low, middle, high = (number(from_kelvins(x, profile.unit), 1) for x in change)
    return f"{step} of gas moves the drop about {middle}° ({low}-{high})"


def span(d: Distribution) -> str:
    """'8:26 (8:18-8:35)': the median of a time, and its central 80 %."""
    return f"{clock(d.median)} ({clock(d.q10)}-{clock(d.q90)})"


_CRACK: Final = "First crack {span}, plan {plan}"
_LATE: Final = "Too late to move first crack"
REASONS: Final[dict[tuple[str, str], str]] = {
    ("on plan", "crack"): "First crack near plan: no move needed",
    ("on plan", "drop"): "Drop near plan: no move needed",
    ("on plan", "late"): f"{_LATE}; drop near plan",
    ("not surely off", "crack"): f"{_CRACK}: not surely off, no move yet",
    ("coming back", "crack"): f"{_CRACK}: the probe is back near the line, wait",
    ("coming back", "drop"): "Drop off plan, the probe is coming back: no move",
    ("coming back", "late"): f"{_LATE}; drop off plan, the probe is coming back: no move",
    ("less gas", "crack"): f"{_CRACK}: less gas would make it too late, wait",
    ("less gas", "drop"): "Drop near plan by the forecast: less gas would make it too cool, wait",
    ("more gas", "crack"): f"{_CRACK}: more gas would make it too early, wait",
    ("more gas", "drop"): "Drop near plan by the forecast: more gas would make it too hot, wait",
    ("no room", "crack"): f"{_CRACK}: the gas has no room that way; look to air and drop",
    ("no room", "drop"): "Drop off plan: the gas has no room that way; look to air and drop",
    ("too late", "crack"): f"{_LATE}; aim for the drop",
    ("too late", "drop"): "Too late to change; drop by eye",
}
"""Texts where no move is advised, by what the aim is ('late': the drop, while the crack is still to come)."""


def reason(why: str, aim: Aim) -> str:
    """Text where no move is advised, from ``REASONS``."""
    late = aim.late and (why, "late") in REASONS
    return REASONS[why, "late" if late else aim.what].format(span=span(aim.now), plan=clock(aim.plan))


def on_plan(aim: Aim) -> str:
    """Text where it is too little off for a move, or not surely off."""
    near = aim.what == "drop" or abs(aim.off) <= aim.tolerance
    return reason("on plan" if near else "not surely off", aim)
