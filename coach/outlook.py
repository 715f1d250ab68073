"""From a roast and a moment to estimate and forecast; the filter's state after each reading is kept for the next."""

from __future__ import annotations

from coach.estimate import Model, State, advance, observe, start, summarise
from coach.forecast import project
from coach.forecast_types import Estimate, Forecast
from coach.inputs import Plan, Schedule
from coach.knowledge import Knowledge
from coach.profile import Profile
from coach.roast import Roast


class Outlook:
    """The estimate and the forecast of one roast, at any moment since its charge."""

    def __init__(self, profile: Profile, knowledge: Knowledge, rounding: float) -> None:
        """``rounding``: the step in which readings are typed, K."""
        self.profile = profile
        self.knowledge = knowledge
        self.rounding = rounding
        self.plan = Plan(profile)
        self.model = Model(knowledge.bank, profile.curve, rounding)
        self.seen: Roast | None = None
        """The roast that the kept states were worked out from, where the caller wants it remembered."""
        self._states: list[State] = []

    def keep(self, count: int) -> None:
        """Forget the states after all but the first ``count`` readings: what lies behind them has changed."""
        del self._states[count:]

    def state(self, t: float, roast: Roast, schedule: Schedule) -> State:
        """The filter at roast time ``t`` (s)."""
        count = sum(1 for r in roast.readings if r.t <= t)
        for reading in roast.readings[len(self._states) : count]:
            state = self._states[-1] if self._states else start(self.model)
            self._states.append(observe(self.model, advance(self.model, state, schedule, reading.t), reading))
        state = self._states[count - 1] if count else start(self.model)
        return advance(self.model, state, schedule, t)

    def at(self, t: float, roast: Roast, forecast: Forecast | None = None) -> tuple[Estimate | None, Forecast]:
        """What holds at roast time ``t`` (s), from charge on; no estimate before the first reading.

        ``forecast`` is one made a little earlier that still holds.
        """
        end = min(t, roast.marks.get("drop", t))
        schedule = self.plan.schedule(roast, end)
        state = self.state(end, roast, schedule)
        if forecast is None and roast.phase == "cooling":
            forecast = Forecast(reasons=("dropped",))
        elif forecast is None:
            forecast = project(self.model, state, schedule, self.profile, roast, self.knowledge)
        return (summarise(self.model, state) if roast.readings else None), forecast
