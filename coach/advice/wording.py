"""Text of a move, and of there being none, in the units of the person's own gauges.  Pure."""

from __future__ import annotations

from collections.abc import Iterable

from coach.advice.objective import Aim
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
    return f"drop {show[0]} to {show[1]} °{unit} ({show[2]}-{show[3]}), plan {show[4]}"


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


def on_plan(aim: Aim) -> str:
    """Text where it is too little off for a move."""
    if aim.late:
        return "Too late to move first crack; drop near plan"
    if aim.what == "drop":
        return "Drop near plan: no move needed"
    if abs(aim.off) <= aim.tolerance:
        return "First crack near plan: no move needed"
    return f"First crack {span(aim.now)}, plan {clock(aim.plan)}: not surely off, no move yet"


def coming_back(aim: Aim) -> str:
    """Text where it is off the plan, and the probe returns by itself."""
    if aim.what == "drop":
        late = "Too late to move first crack; drop" if aim.late else "Drop"
        return f"{late} off plan, the probe is coming back: no move"
    return f"First crack {span(aim.now)}, plan {clock(aim.plan)}: the probe is back near the line, wait"


def past_plan(aim: Aim, *, less: bool) -> str:
    """Text where the probe asks for a move that by the forecast would lead away from the plan."""
    gas = "less gas" if less else "more gas"
    if aim.what == "drop":
        return f"Drop near plan by the forecast: {gas} would make it too {'cool' if less else 'hot'}, wait"
    what = f"First crack {span(aim.now)}, plan {clock(aim.plan)}"
    return f"{what}: {gas} would make it too {'late' if less else 'early'}, wait"


def still_acting(aim: Aim, moved: float, until: float) -> str:
    """Text where the person made a move of their own just now: ``moved`` and ``until`` roast time, s."""
    return f"Wait: the gas change of {clock(moved)} has yet to take effect; next look {clock(until)}"


def then(aim: Aim, due: float) -> str:
    """Text where a planned move is nearly due: advice replaces it or leaves it, once near (``due``, roast time, s)."""
    return f"Wait: the {clock(due)} gas change comes first; its size is looked at then"


def span(d: Distribution) -> str:
    """'8:26 (8:18-8:35)': the median of a time, and its central 80 %."""
    return f"{clock(d.median)} ({clock(d.q10)}-{clock(d.q90)})"


def too_late(aim: Aim) -> str:
    """Text where no move takes effect in time."""
    return (
        "Too late to move first crack; aim for the drop" if aim.what == "crack" else "Too late to change; drop by eye"
    )


def no_room(aim: Aim) -> str:
    """Text where the gauge ends there."""
    what = f"First crack {span(aim.now)}, plan {clock(aim.plan)}" if aim.what == "crack" else "Drop off plan"
    return f"{what}: the gas has no room that way; look to air and drop"
