"""The record of advice: each advised move as it was given, whether it was followed, and whether it did what was said.
Pure: a journal gone through once more gives it back, so nothing of it needs to be stored.

A move that was followed as said, with nothing else done after it, is held to the interval that was stated.  One that
was followed only partly, or after which the person moved on, is held to what the coach would have foretold then for the
moves as they were really made.  One that was not followed promised nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from coach.advice.advise import ground_of
from coach.advice.objective import aim_of
from coach.forecast.control_inputs import is_planned
from coach.forecast.knowledge import Knowledge
from coach.forecast.learning import from_profile
from coach.forecast.predictor import Outlook
from coach.roast.entries import Header
from coach.roast.gauges import Gauge
from coach.roast.profile import Profile
from coach.roast.roast import Numbered, Roast, Turned, dial_step
from coach.session.coach import Coach
from coach.verification.replay import walk

How = Literal["followed", "partly", "beyond", "otherwise", "not followed", "replaced"]
Interval = tuple[float, float, float]
"""10 %, median and 90 %, s (crack) or °C (drop)."""

GRACE: Final = 15.0
"""A move this long after the deadline still followed the advice, s."""
AS_SAID: Final = 0.25
"""Within this share of the advised change, or half a step of the gauge, a move is the advised one."""
NOTHING: Final = 0.1
"""A move of less than this share of it, in either direction, leaves the advice unfollowed."""


@dataclass(frozen=True)
class Given:
    """One advised move as given at roast time ``t`` (s): control and setting (core units, and as shown), the setting
    that it changes (as it stood, or would stand by the plan), deadline and bite (s), and the crack (s) or drop (°C)
    foretold without and with it."""

    t: float
    control: Literal["gas"]
    value: float
    shown: float
    base: float
    moment: float
    """When it was presumed to be made, s."""
    deadline: float
    bites: float | None
    about: Literal["crack", "drop"]
    without: Interval
    stated: Interval
    text: str
    step: float
    """A step of the gauge, as shown."""


@dataclass(frozen=True)
class Told:
    """An advised move and what came of it.

    ``share`` is how much of the advised change was made and ``delay`` how long after it was given (s), None where none
    was; ``held_to`` is the interval it is held to, ``as_said`` whether that is the stated one; ``came`` when crack came
    (s), or the temperature at drop (°C).  ``inside`` is None where nothing can be said.
    """

    given: Given
    how: How
    share: float | None = None
    delay: float | None = None
    held_to: Interval | None = None
    as_said: bool = False
    came: float | None = None

    @property
    def inside(self) -> bool | None:
        """Whether it came inside the interval."""
        if self.held_to is None or self.came is None:
            return None
        return self.held_to[0] <= self.came <= self.held_to[2]


class AdviceSeen:
    """The moves advised while a roast is replayed: ``look`` after every step, ``told`` at the end."""

    def __init__(self, profile: Profile) -> None:
        self.profile = profile
        self._found: list[tuple[Given, Roast]] = []
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
        view = coach.roast.until(s.t)
        aim, gauge = aim_of(self.profile, view, s.forecast), Gauge.of(self.profile, view, a.control)
        ground = ground_of(self.profile, s.t, view)
        if aim is None or gauge is None or ground is None or a.crack_before is None or a.crack_after is None:
            return
        g = Given(
            s.t, a.control, a.value, gauge.shown(a.value), ground.base, ground.moment, a.deadline or s.t, a.bites,
            aim.what, a.crack_before, a.crack_after, a.text, gauge.step,
        )  # fmt: skip
        self._found.append((g, view))

    def told(self, header: Header, roast: Roast, knowledge: Knowledge) -> tuple[Told, ...]:
        """Moves in order, each with what came of it in the whole ``roast``; ``knowledge`` is what the coach knew."""
        outlook = Outlook(self.profile, knowledge, dial_step(roast.readings[:6], header), needle=roast.needle)
        ends = [*(g.t for g, _ in self._found[1:]), float("inf")]
        return tuple(_judged(outlook, g, then, roast, end) for (g, then), end in zip(self._found, ends, strict=False))


def advised(
    profile: Profile, header: Header, entries: Sequence[Numbered], knowledge: Knowledge | None = None
) -> tuple[Told, ...]:
    """The advised moves of a finished roast, in order, each with what came of it.

    ``knowledge`` is what the coach knew then.  Raises EntryError when the entries don't make a roast.
    """
    knowledge = from_profile(profile) if knowledge is None else knowledge
    seen = AdviceSeen(profile)
    return seen.told(header, walk(profile, header, entries, knowledge, each=seen.look).roast, knowledge)


# -- what came of it ---------------------------------------------------------------------------------------------------


def _judged(outlook: Outlook, g: Given, then: Roast, roast: Roast, following: float) -> Told:
    how, share, move = followed(g, roast, following)
    told = Told(g, how, share, None if move is None else max(move.t - g.t, 0.0))
    came = roast.marks.get("first crack") if g.about == "crack" else _at_drop(roast)
    if came is None or how in ("not followed", "replaced"):
        return replace(told, came=came)
    since = g.t if move is None else move.t
    later = [m for m in own_moves(outlook.profile, roast, since) if move is None or m.line != move.line]
    end = came if g.about == "crack" else roast.marks["drop"]
    if how == "followed" and all(m.t > end for m in later):
        return replace(told, came=came, held_to=g.stated, as_said=True)
    made = tuple((m.t, m.control, m.value) for m in roast.moves if g.t < m.t <= end)
    forecast = outlook.what_if(g.t, then, made, crack_only=g.about == "crack").forecast
    aim = aim_of(outlook.profile, then, forecast)
    if aim is None or aim.what != g.about:
        return replace(told, came=came)
    return replace(told, came=came, held_to=(aim.now.q10, aim.now.median, aim.now.q90))


def followed(g: Given, roast: Roast, following: float) -> tuple[How, float | None, Turned | None]:
    """How an advised move was answered: the share of the advised change that was made, and the move.

    ``following`` is when the next advice came, s: what is done after that answers the next one.
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


def _shown(g: Given) -> float:
    """The setting that an advice changes, as on the gauge."""
    return g.base * g.shown / g.value if g.value else g.base


def own_moves(profile: Profile, roast: Roast, since: float) -> list[Turned]:
    """The moves of gas and air after a roast time (s) that are not planned ones made about their time."""
    return [m for m in roast.moves if m.t > since and m.control != "drum" and not is_planned(profile, roast, m)]


def _at_drop(roast: Roast) -> float | None:
    """The probe at drop, °C: the last reading, if it is young enough, carried on along the last two."""
    drop = roast.marks.get("drop")
    last = [r for r in roast.readings if drop is not None and drop - 45.0 <= r.t <= drop + 5.0][-2:]
    if drop is None or not last or last[-1].t < drop - 20.0:
        return None
    if len(last) < 2 or last[1].t - last[0].t < 5.0:
        return last[-1].celsius
    slope = (last[1].celsius - last[0].celsius) / (last[1].t - last[0].t)
    return last[-1].celsius + slope * (drop - last[-1].t)
