"""Moments made by hand, and a watch led through them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path

import numpy as np
from scipy.stats import norm

from coach.cues.annunciator import Heard
from coach.cues.situation import ActiveCue, Situation
from coach.cues.watch import WatchState, announce, judge
from coach.forecast.distribution import Distribution
from coach.forecast.forecast_values import DropForecast, Estimate, EventForecast, Forecast
from coach.roast.entries import Entry, Header, Mark, Move, Reading, Reply
from coach.roast.roast import Numbered, Roast, effective, fold
from coach.session.profile_files import load_profile

PROFILE = load_profile(str(Path(__file__).parents[2] / "profiles" / "larch-hill.toml"))
"""Crack due at 487 s ± 20 s, drop 88 s after it (± 15 s), band 6 / 4 / 3 K, safety limit 235 °C, charge at 222 °C."""
CHARGE = 60.0
PLANNED = ((0.0, 1.6), (335.0, 1.2), (484.0, 0.8))


def normal(mean: float, sd: float) -> Distribution:
    """A normal distribution as the forecast holds one."""
    x = np.linspace(mean - 6 * sd, mean + 6 * sd, 241)
    p = norm.cdf(x, mean, sd)
    p[-1] = 1.0
    return Distribution(x, p)


def crack(mean: float, sd: float, plan: float = 487.0, tolerance: float = 20.0) -> EventForecast:
    """First crack, with the probabilities of coming before and after the plan's window."""
    early = float(norm.cdf(plan - tolerance, mean, sd))
    late = 1.0 - float(norm.cdf(plan + tolerance, mean, sd))
    return EventForecast(normal(mean, sd), 197.0, early, late)


def drop(mean: float = 575.0, sd: float = 5.0) -> DropForecast:
    return DropForecast(normal(mean, sd), normal(208.6, 1.0))


def entries(
    marks: Mapping[str, float], readings: Sequence[tuple[float, float]], gas: Sequence[tuple[float, float]],
    replies: Sequence[tuple[float, str, str]] = (), charged: bool = True,
) -> list[Entry]:  # fmt: skip
    """Entries of a roast charged at 60 s; times roast times (s), temperatures °C, gas kPa."""
    base = CHARGE if charged else 0.0
    out: list[Entry] = [Mark(at=CHARGE, event="charge")] if charged else []
    out += [Mark(at=base + t, event=e) for e, t in marks.items()]  # type: ignore[arg-type]
    out += [Reading(at=base + t, temperature=v) for t, v in readings]
    out += [Move(at=base + t, control="gas", value=v) for t, v in gas]
    out += [Reply(at=base + t, cue=c, answer=a) for t, c, a in replies]  # type: ignore[arg-type]
    return sorted(out, key=lambda e: e.at)


def plan(t: float, off: float = 0.0) -> tuple[float, float]:
    """A reading on the reference, ``off`` K beside it."""
    return t, round(PROFILE.curve.value(t) + off, 2)


@dataclass(frozen=True)
class Story:
    """A roast as it unfolds: what is asked at any moment is made from what was entered by then.

    ``forecasts``: (from roast time on, forecast).  ``estimate``: the probe as it is, °C, by roast time; None for the
    reference.  ``typing``: spans in which something is being typed.  ``mistyped``: times of readings on which how
    the roast rises does not rest.
    """

    marks: Mapping[str, float] = field(default_factory=dict)
    readings: Sequence[tuple[float, float]] = ()
    gas: Sequence[tuple[float, float]] = PLANNED
    replies: Sequence[tuple[float, str, str]] = ()
    forecasts: Sequence[tuple[float, Forecast]] = ()
    doubtful: Mapping[float, str] = field(default_factory=dict)
    mistyped: Sequence[float] = ()
    off: float = 0.0
    typing: Sequence[tuple[float, float]] = ()
    tapped: tuple[float, float] | None = None
    more: Mapping[str, object] = field(default_factory=dict)
    charged: bool = True

    @cached_property
    def _told(self) -> list[Numbered]:
        told = entries(self.marks, self.readings, self.gas, self.replies, self.charged)
        return [Numbered(i + 2, e) for i, e in enumerate(told)]

    @cached_property
    def _roasts(self) -> dict[int, Roast]:
        return {}

    def _roast(self, count: int) -> Roast:
        if count not in self._roasts:
            header = Header(id="story", started="2026-01-05T08:00:00+00:00")
            self._roasts[count] = fold(header, effective(self._told[:count]))
        return self._roasts[count]

    def at(self, t: float) -> Situation:
        """The moment at roast time ``t`` (before charge: on the ``at`` axis)."""
        base = CHARGE if self.charged else 0.0
        roast = self._roast(sum(1 for n in self._told if n.entry.at <= base + t + 1e-9))
        kept_out = {r.line: self.doubtful[r.t] for r in roast.readings if r.t in self.doubtful}
        used = [r for r in roast.readings if r.line not in kept_out]
        estimate = None
        if self.charged and roast.readings:
            value = PROFILE.curve.value(t) + self.off
            estimate = Estimate(t, value, 0.5, 0.1, 0.01, used[-1].t if used else None, kept_out)
        forecast = Forecast()
        for since, f in self.forecasts:
            forecast = f if since <= t else forecast
        rests = [r.line for r in roast.readings if r.t not in self.mistyped]
        forecast = replace(forecast, risen_by=rests[-1] if rests else None)
        made = Situation(base + t, t if self.charged else None, PROFILE, roast, estimate, forecast)
        typing = any(a <= t <= b for a, b in self.typing)
        onset = self.tapped[1] if self.tapped is not None and t >= self.tapped[0] else None
        return replace(made, typing=typing, tapped_onset=onset, **self.more)  # type: ignore[arg-type]


@dataclass(frozen=True)
class Led:
    """What a watch did over a story: the sounds (roast time, cue) and what stood at each second."""

    sounds: list[tuple[float, str]]
    shown: dict[float, tuple[ActiveCue, ...]]

    def of(self, cue: str) -> list[float]:
        """When a cue was heard, roast time, s."""
        return [t for t, n in self.sounds if n == cue]

    def cue(self, cue: str, t: float) -> ActiveCue | None:
        """How a cue stood at a time."""
        return next((c for c in self.shown[t] if c.name == cue), None)


def review(
    state: WatchState, heard: Heard, s: Situation, demoted: Mapping[str, str] | None = None
) -> tuple[WatchState, Heard, tuple[ActiveCue, ...]]:
    """``judge`` and ``announce`` in one."""
    state = judge(state, s)
    return state, *announce(state, heard, s, demoted)


def lead(story: Story, start: float, end: float, demoted: Mapping[str, str] | None = None) -> Led:
    """The watch from one roast time to another, second by second."""
    state, heard = WatchState(), Heard()
    sounds, shown = [], {}
    t = start
    while t <= end:
        state, heard, cues = review(state, heard, story.at(t), demoted)
        sounds += [(t, c.name) for c in cues if c.sounds]
        shown[t] = cues
        t += 1.0
    return Led(sounds, shown)
