"""The record of advice: each advised move as issued, its adherence, and its outcome against the stated interval.
Pure: a replay of the journal gives it back, so nothing of it needs to be stored.

A move that was followed as advised, with nothing else done after it, is judged by the interval that was stated.  One
that was followed only in part, or with other moves after it, is judged by the coach's forecast of then for the moves
that were really made.  One that was not followed promised nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

from coach.advice.advice_values import aim_of
from coach.advice.advise import ground_of
from coach.forecast.control_inputs import is_planned
from coach.forecast.predictor import Outlook
from coach.roast.gauges import Gauge
from coach.roast.profile import Profile
from coach.roast.roast import Roast, Turned
from coach.roast.units import TemperatureUnit, clock, from_celsius, number
from coach.session.coach import Coach

How = Literal["followed", "partly", "beyond", "otherwise", "not followed", "replaced"]
Interval = tuple[float, float, float]
"""Quantiles: 10 %, median and 90 %, s (crack) or °C (drop)."""

GRACE: Final = 15.0
"""Time after the deadline within which a move still follows the advice, s."""
AS_SAID: Final = 0.25
"""Share of the advised change within which, or within half a step of the gauge, a move is the advised one."""
NOTHING: Final = 0.1
"""Share of the advised change below which a move, in either direction, leaves the advice unfollowed."""


@dataclass(frozen=True)
class GivenAdvice:
    """One advised move as issued at roast time ``t`` (s): control and setting (core units, and as ``shown``), the
    setting that it changes (``base``: the present one, or the plan's), the deadline and the time at which the move
    takes effect (``bites``), both s, and the forecast of crack (s) or drop (°C) without and with it."""

    t: float
    control: Literal["gas"]
    value: float
    shown: float
    base: float
    moment: float
    """Time at which the move was presumed to be made, roast time, s."""
    deadline: float
    bites: float | None
    about: Literal["crack", "drop"]
    without: Interval
    stated: Interval
    text: str
    step: float
    """Step of the gauge, in the unit shown."""


@dataclass(frozen=True)
class AdviceOutcome:
    """An advised move and its outcome.

    ``share`` is the part of the advised change that was made and ``delay`` the time from the advice to the move (s),
    None where none was made; ``held_to`` is the interval by which it is judged, ``as_said`` True if that is the stated
    one; ``came`` the time of crack (s), or the temperature at drop (°C).  ``inside`` is None where unknown.
    """

    given: GivenAdvice
    how: How
    share: float | None = None
    delay: float | None = None
    held_to: Interval | None = None
    as_said: bool = False
    came: float | None = None

    @property
    def inside(self) -> bool | None:
        """True if the outcome came inside the interval; None where there is none."""
        if self.held_to is None or self.came is None:
            return None
        return self.held_to[0] <= self.came <= self.held_to[2]

    @property
    def reach(self) -> float | None:
        """Distance of the outcome from the median, as a share of the interval on that side: inside up to 1; None where
        there is no interval or outcome."""
        if self.held_to is None or self.came is None:
            return None
        low, middle, high = self.held_to
        side = high - middle if self.came > middle else middle - low
        return abs(self.came - middle) / side if side > 0 else 1.0 if self.came == middle else float("inf")


class AdviceSeen:
    """The moves advised while a roast is replayed: ``look`` after every step, ``outcomes`` at the end."""

    def __init__(self) -> None:
        self._found: list[tuple[GivenAdvice, Roast]] = []
        """Each with the roast as it was then."""
        self._active: tuple[Literal["gas"], float] | None = None

    def look(self, coach: Coach) -> None:
        """Take down the move that is advised, where another was until now."""
        s, a = coach.situation, coach.situation.advice
        if s.t is None or a is None or a.kind != "move" or a.control is None or a.value is None:
            self._active = None
            return
        if self._active == (a.control, a.value):
            return
        self._active = (a.control, a.value)
        view, profile = coach.roast.until(s.t), coach.profile
        aim, gauge = aim_of(profile, view, s.forecast, s.t), Gauge.of(profile, view, a.control)
        ground = ground_of(profile, s.t, view)
        if aim is None or gauge is None or ground is None or a.crack_before is None or a.crack_after is None:
            return
        g = GivenAdvice(
            s.t, a.control, a.value, gauge.shown(a.value), ground.base, ground.moment, a.deadline or s.t, a.bites,
            aim.what, a.crack_before, a.crack_after, a.text, gauge.step,
        )  # fmt: skip
        self._found.append((g, view))

    def outcomes(self, coach: Coach) -> tuple[AdviceOutcome, ...]:
        """Moves in order, each with its outcome in the whole roast of the ``coach`` that was looked at."""
        roast = coach.roast
        outlook = Outlook(coach.profile, coach.knowledge, roast.first_rounding, needle=roast.needle)
        ends = [*(g.t for g, _ in self._found[1:]), float("inf")]
        return tuple(_judged(outlook, g, then, roast, end) for (g, then), end in zip(self._found, ends, strict=False))


# -- the outcome -------------------------------------------------------------------------------------------------------


def _judged(outlook: Outlook, g: GivenAdvice, then: Roast, roast: Roast, following: float) -> AdviceOutcome:
    how, share, move = followed(g, roast, following)
    told = AdviceOutcome(g, how, share, None if move is None else max(move.t - g.t, 0.0))
    came = roast.marks.get("first crack") if g.about == "crack" else _at_drop(roast)
    if came is None or how in ("not followed", "replaced"):
        return replace(told, came=came)
    since = g.t if move is None else move.t
    later = [m for m in own_moves(outlook.profile, roast, since) if move is None or m.line != move.line]
    end = came if g.about == "crack" else roast.marks["drop"]
    if how == "followed" and all(m.t > end for m in later):
        return replace(told, came=came, held_to=g.stated, as_said=True)
    made = tuple((m.t, m.control, m.value) for m in roast.moves if g.t < m.t <= end)
    forecast = outlook.what_if(g.t, then, made, crack_only=g.about == "crack")
    aim = aim_of(outlook.profile, then, forecast, g.t)
    if aim is None or aim.what != g.about:
        return replace(told, came=came)
    return replace(told, came=came, held_to=(aim.now.q10, aim.now.median, aim.now.q90))


def followed(g: GivenAdvice, roast: Roast, following: float) -> tuple[How, float | None, Turned | None]:
    """Answer to an advised move: its kind, the share of the advised change that was made, and the move.

    ``following`` is the time of the next advice, s: a move after that answers the next one.
    """
    until = max(g.deadline, g.moment) + GRACE
    moves = [m for m in roast.moves if m.control == g.control and g.t < m.t <= min(until, following)]
    change = g.value - g.base
    stood = roast.setting(g.control, g.t)
    if not moves:
        keeps = stood is not None and abs(stood - g.value) < 1e-6 < abs(g.base - g.value)
        if keeps and following > until:  # the planned move was left out, as advised
            return "followed", 1.0, None
        return ("replaced" if following <= until else "not followed"), None, None
    move = moves[-1]
    share = (move.value - g.base) / change if change else 0.0
    slack = max(AS_SAID, 0.5 * abs(g.step / (g.shown - _shown(g)) if g.shown != _shown(g) else 0.0))
    if abs(share - 1.0) <= slack + 1e-9:
        return "followed", share, move
    if abs(share) <= NOTHING:
        return "not followed", None, None
    return ("beyond" if share > 1 else "partly" if share > 0 else "otherwise"), share, move


def _shown(g: GivenAdvice) -> float:
    """The setting that an advice changes, in the unit of the gauge."""
    return g.base * g.shown / g.value if g.value else g.base


def own_moves(profile: Profile, roast: Roast, since: float) -> list[Turned]:
    """Moves of gas and air after a roast time (s) that are not planned ones made near their time."""
    return [m for m in roast.moves if m.t > since and m.control != "drum" and not is_planned(profile, roast, m)]


def _at_drop(roast: Roast) -> float | None:
    """Probe temperature at drop, °C: extrapolated from the last two readings; None where the last is too old."""
    drop = roast.marks.get("drop")
    last = [r for r in roast.readings if drop is not None and drop - 45.0 <= r.t <= drop + 5.0][-2:]
    if drop is None or not last or last[-1].t < drop - 20.0:
        return None
    if len(last) < 2 or last[1].t - last[0].t < 5.0:
        return last[-1].celsius
    slope = (last[1].celsius - last[0].celsius) / (last[1].t - last[0].t)
    return last[-1].celsius + slope * (drop - last[-1].t)


# -- in words ---------------------------------------------------------------------------------------------------------

HOW: Final[dict[How, str]] = {
    "followed": "followed",
    "partly": "followed in part",
    "beyond": "more than advised",
    "otherwise": "moved the other way",
    "not followed": "not followed",
    "replaced": "changed before it was due",
}


def line(told: AdviceOutcome, unit: TemperatureUnit) -> str:
    """One line: '3:20 gas to 1.3: crack 8:05 to 8:26 (8:18 to 8:35); followed after 12 s; came 8:24: inside'."""
    g = told.given
    out = (
        f"{clock(g.t)} {g.control} to {number(g.shown, 2)}: {g.about} {_value(told, g.without[1], unit)} to "
        f"{_interval(told, g.stated, unit)}; {HOW[told.how]}"
    )
    if told.how in ("partly", "beyond") and told.share is not None:
        out += f" ({100 * told.share:.0f} %)"
    if told.delay is not None:
        out += f" after {told.delay:.0f} s"
    if told.how in ("not followed", "replaced") or told.came is None:
        return out
    out += f"; came {_value(told, told.came, unit)}"
    if told.held_to is None or told.inside is None:
        return out
    out += ": inside" if told.inside else ": OUTSIDE"
    if not told.as_said:
        out += f" the forecast for the moves that were made ({_interval(told, told.held_to, unit)})"
    return out


def _value(told: AdviceOutcome, x: float, unit: TemperatureUnit) -> str:
    """The quantity that a move was about: a time of the crack (m:ss), or a temperature at drop (in ``unit``)."""
    return clock(x) if told.given.about == "crack" else f"{number(from_celsius(x, unit), 0)} °{unit}"


def _interval(told: AdviceOutcome, i: Interval, unit: TemperatureUnit) -> str:
    return f"{_value(told, i[1], unit)} ({_value(told, i[0], unit)} to {_value(told, i[2], unit)})"
