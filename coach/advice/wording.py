"""What is said of a move, and of there being none, in the units of the person's own gauges.  Pure."""

from __future__ import annotations

from coach.advice.objective import Aim
from coach.forecast.distribution import Distribution
from coach.roast.gauges import Gauge
from coach.roast.profile import Profile
from coach.roast.units import clock, from_celsius, number


def move_text(
    profile: Profile,
    aim: Aim,
    gauge: Gauge,
    *,
    stands: float,
    base: float,
    value: float,
    moment: float,
    deadline: float,
    bites: float | None,
    after: Distribution,
) -> str:
    """'gas 1.3 to 1.1 by 7:10; bites from 7:40; crack 8:05 to 8:26 (8:18-8:35), plan 8:30'.

    ``stands`` and ``base``: the setting as it is, and as it would be by the plan when the move is made (core units);
    ``moment``: when that is; ``deadline`` and ``bites`` roast time, s; ``after``: what the aim comes to.
    """
    shown = number(gauge.shown(value), 2)
    instead = f", not {number(gauge.shown(base), 2)}," if base != stands else ""
    if abs(value - stands) < 1e-6:
        parts = [f"keep the {gauge.control} at {shown}{instead} past {clock(moment)}"]
    else:
        parts = [f"{gauge.control} {number(gauge.shown(stands), 2)} to {shown}{instead} by {clock(deadline)}"]
    if bites is not None:
        parts.append(f"bites from {clock(bites)}")
    parts.append(effect(profile, aim, after))
    return "; ".join(parts)


def effect(profile: Profile, aim: Aim, after: Distribution) -> str:
    """Where the aim is projected without and with a move, and where the plan has it."""
    if aim.what == "crack":
        return f"crack {clock(aim.now.median)} to {span(after)}, plan {clock(aim.plan)}"
    unit = profile.unit
    show = [number(from_celsius(x, unit), 0) for x in (aim.now.median, after.median, after.q10, after.q90, aim.plan)]
    return f"drop {show[0]} to {show[1]} °{unit} ({show[2]}-{show[3]}), plan {show[4]}"


def within(aim: Aim) -> str:
    """Too little off for a move; whether one would help is not said."""
    if aim.what == "drop":
        return "drop near plan: no move advised"
    return "crack near plan: no move advised" if abs(aim.off) <= aim.tolerance else likely(aim)


def likely(aim: Aim) -> str:
    """Where the crack is projected, and that no move is advised."""
    return f"crack {span(aim.now)}, plan {clock(aim.plan)}: no move advised"


def small(aim: Aim) -> str:
    """No move gains what one has to; whether one would help a little is not said."""
    return likely(aim) if aim.what == "crack" else "no move advised: none gains enough at drop"


def none_helps(aim: Aim) -> str:
    """The claim that no step would do clearly better."""
    return f"leave it: crack {clock(aim.now.median)}, no step of the gas brings it 5 s nearer to plan"


def coming_back(aim: Aim, *, surely: bool) -> str:
    """Off the band, and back by itself; ``surely`` with the claim that no step would do clearly better."""
    return f"{'leave it: ' if surely else ''}coming back by itself, crack {span(aim.now)}, plan {clock(aim.plan)}"


def then(due: float) -> str:
    """Nearly time for a planned move: advice takes its place or leaves it, once it is near."""
    return f"advice with the planned move of {clock(due)}"


def span(d: Distribution) -> str:
    """'8:26 (8:18-8:35)': the median of a time, and where it comes in four of five cases."""
    return f"{clock(d.median)} ({clock(d.q10)}-{clock(d.q90)})"


def too_late(aim: Aim) -> str:
    """No move bites in time."""
    return "too late for crack; look after drop" if aim.what == "crack" else "too late to change; drop by eye and nose"


def no_room(aim: Aim) -> str:
    """The gauge ends there."""
    what = f"crack {clock(aim.now.median)}, plan {clock(aim.plan)}" if aim.what == "crack" else "drop off plan"
    return f"{what}: the gas has no room that way; look to air and drop"
