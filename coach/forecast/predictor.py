"""Predictor: from a roast and a moment to estimate and forecast, with the filter's state cached after each reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from coach.forecast.control_inputs import Plan, Schedule
from coach.forecast.distribution import Distribution
from coach.forecast.estimator import BankState, Model, advance, observe, start, summarise
from coach.forecast.forecast_values import Estimate, EventForecast, Forecast
from coach.forecast.gas_answer import GasAnswer, evidence
from coach.forecast.knowledge import Knowledge
from coach.forecast.projection import project
from coach.forecast.reading_requests import gas_moved, next_reading, odd, stuck
from coach.forecast.stall_and_race import BACK, MOST, chances
from coach.roast.entries import Event
from coach.roast.profile import Profile
from coach.roast.roast import Roast, until
from coach.roast.units import Control

ODD_WIDER: Final = 1.3
"""Factor on the spread of all times on a day unlike those of the history."""
STUCK_WIDER: Final = 3.0
"""The same after the crack, where the probe is stuck: a roast that has stalled looks alike."""
FURTHEST: Final = 300.0
"""Longest time ahead to a drop for which a stall or race is forecast, s: no cue warns of one further ahead."""


def widened(forecast: Forecast, factor: float, profile: Profile) -> Forecast:
    """The forecast with the spread of its events' times multiplied, about their medians, but never before now."""

    def wider(f: EventForecast | None, event: Event) -> EventForecast | None:
        if f is None:
            return None
        d = f.time
        x = np.maximum.accumulate(np.maximum(d.median + factor * (d.x - d.median), d.x[0]))
        time = Distribution(x + 1e-6 * np.arange(len(x)), d.p)
        goal = profile.goals.get(event)
        if goal is None:
            return replace(f, time=time)
        early, late = time.cdf(goal.time - goal.time_tolerance), 1.0 - time.cdf(goal.time + goal.time_tolerance)
        return replace(f, time=time, p_early=early, p_late=late)

    drop = forecast.drop
    if drop is not None:
        t = drop.temperature
        heat = Distribution(t.median + factor * (t.x - t.median), t.p)
        drop = replace(drop, temperature=heat)
    crack, yellow = wider(forecast.first_crack, "first crack"), wider(forecast.yellow, "yellow")
    return replace(forecast, first_crack=crack, yellow=yellow, drop=drop)


class Outlook:
    """The estimate and the forecast of one roast, at any moment since its charge."""

    def __init__(self, profile: Profile, knowledge: Knowledge, rounding: float, *, needle: bool = False) -> None:
        """``rounding``: the step in which readings are typed, K; ``needle``: True if they are read off a needle."""
        self.profile = profile
        self.knowledge = knowledge
        self.rounding = rounding
        self.plan = Plan(profile)
        self.model = Model(knowledge.bank, knowledge.reference or profile.curve, rounding, needle=needle)
        self.seen: Roast | None = None
        """The roast that the cached states were computed from, where the caller wants it remembered."""
        self._states: list[BankState] = []
        self._asked: tuple[BankState, float | None] | None = None
        self._gas: tuple[float, Roast, GasAnswer] | None = None

    def keep(self, count: int) -> None:
        """Forget the states after all but the first ``count`` readings: what lies behind them has changed."""
        del self._states[count:]

    def state(self, t: float, roast: Roast, schedule: Schedule) -> BankState:
        """The filter at roast time ``t`` (s)."""
        count = until(roast.readings, t)
        for reading in roast.readings[len(self._states) : count]:
            state = self._states[-1] if self._states else start(self.model, suspicious=True)
            self._states.append(observe(self.model, advance(self.model, state, schedule, reading.t), reading))
        state = self._states[count - 1] if count else start(self.model, suspicious=True)
        return advance(self.model, state, schedule, t)

    def at(
        self, t: float, roast: Roast, forecast: Forecast | None = None, *, asking: bool = True
    ) -> tuple[Estimate | None, Forecast]:
        """Estimate and forecast at roast time ``t`` (s), from charge on; no estimate before the first reading.

        ``forecast`` is one made a little earlier that still holds.  Without ``asking`` the time at which the
        next reading would matter isn't computed, which costs as much as all the rest.
        """
        end = min(t, roast.marks.get("drop", t))
        schedule = self.plan.schedule(roast, end)
        state = self.state(end, roast, schedule)
        if forecast is None and roast.phase == "cooling":
            forecast = Forecast(reasons=("dropped",))
        elif forecast is None:
            forecast = project(self.model, state, schedule, self.profile, roast, self.knowledge)
            forecast = self._risky(forecast, end, roast, schedule)
            strange = odd(self.profile, roast, state, forecast)
            still = stuck(self.profile, roast, end)
            if still:
                strange = (*strange, still)
            if still and "first crack" not in roast.marks:
                forecast = Forecast(reasons=(still,))
            elif strange:
                forecast = widened(forecast, STUCK_WIDER if still else ODD_WIDER, self.profile)
            forecast = replace(
                forecast,
                odd=strange,
                gas_moved=gas_moved(state, schedule),
                next_reading=self._wanted(roast, end) if asking else None,
            )
        return (summarise(self.model, state) if roast.readings else None), forecast

    def _risky(self, forecast: Forecast, t: float, roast: Roast, schedule: Schedule) -> Forecast:
        """Add the probabilities that the roast stalls or races before the drop that is forecast."""
        if forecast.drop is None or "first crack" not in self.profile.goals:
            return forecast
        if forecast.drop.time.median - t > FURTHEST:
            return forecast
        count = until(roast.readings, t)
        least = max(count - MOST, 0)
        first = max(min(until(roast.readings, t - BACK), count - 1), least)
        while first > least and self._states[first - 1].held is not None:  # it may be right about what was rejected
            first -= 1
        base = self._states[first - 1] if first > 0 else start(self.model)
        model = self.model.cracked(roast.marks.get("first crack"))
        seen = roast.readings[first:count]
        risen = chances(model, base, schedule, seen, t, self.profile, forecast.drop.time)
        return replace(forecast, stall=risen.stall, racing=risen.racing, risen_by=risen.newest)

    def _wanted(self, roast: Roast, t: float) -> float | None:
        """Roast time at which the next reading matters, s, as seen right after the last one, until that has come."""
        count = until(roast.readings, t)
        if not count or "first crack" in roast.marks:
            return None
        last = self._states[count - 1]
        if self._asked is None or self._asked[0] is not last:
            then = roast.until(last.t)
            schedule = self.plan.schedule(then, last.t)
            said = project(self.model, last, schedule, self.profile, then, self.knowledge, crack_only=True)
            self._asked = (last, next_reading(self.model, last, schedule, said, self.profile))
        return self._asked[1]

    def gas_answer(self, t: float, roast: Roast) -> GasAnswer:
        """This machine's response to gas as known at ``t`` (s): from earlier roasts, and from the moves of this one;
        computed once for a moment and a roast."""
        if self._gas is None or self._gas[0] != t or self._gas[1] is not roast:
            seen = roast.readings[: until(roast.readings, t)]
            today = evidence(self.model.curve, self.plan.schedule(roast, t), seen)
            self._gas = (t, roast, self.knowledge.gas.after([today]))
        return self._gas[2]

    def what_if(
        self, t: float, roast: Roast, moves: Sequence[tuple[float, Control, float]], *, crack_only: bool = False
    ) -> Forecast:
        """The forecast at ``t`` (s) if moves (roast time, control, setting in core units) were made from then on.

        Nothing of it stays: the roast and the cached states are as before.
        """
        state = self.state(t, roast, self.plan.schedule(roast, t))
        schedule = self.plan.schedule(roast, t, moves)
        forecast = project(self.model, state, schedule, self.profile, roast, self.knowledge, crack_only=crack_only)
        strange = odd(self.profile, roast, state, forecast)
        return widened(forecast, ODD_WIDER, self.profile) if strange else forecast
