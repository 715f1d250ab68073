"""The controls as inputs of the model: deviations of today's heat, air and drum speed from the reference's, over time.

Burner heat goes as the square root of gas pressure (flow through an orifice), so gas counts as
sqrt(p / p_highest); air and drum speed count as a share of the highest planned dial value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.roast.profile import Profile, Step
from coach.roast.roast import Roast, Turned
from coach.roast.units import Control

Array = NDArray[np.float64]
ORDER: Final[tuple[Control, ...]] = ("gas", "air", "drum")
OVERDUE: Final = 60.0
"""A planned move not made this long after its time counts as left out, s."""
NEAR: Final = 45.0
"""A move this close to a planned one's time is meant as that one, s."""
PRESUMED_DELAY: Final = 12.0
"""A planned move that is overdue by less is presumed to be made this much later than now, s."""


@dataclass(frozen=True)
class Scale:
    """Scale from settings to inputs: the highest planned value of each control (gas in kPa)."""

    gas: float
    air: float
    drum: float

    @classmethod
    def of(cls, profile: Profile) -> Scale:
        def top(control: Control) -> float:
            limits = getattr(profile.document.limits, control)
            values = [s.value for s in profile.steps if s.control == control]
            if not values and limits is not None:
                values = [limits[1]]
            return max([v for v in values if v > 0], default=1.0)

        return cls(top("gas"), top("air"), top("drum"))

    def input(self, control: Control, value: float) -> float:
        """The input for a setting (gas in kPa), about 0..1."""
        share = max(value, 0.0) / getattr(self, control)
        return float(np.sqrt(share)) if control == "gas" else float(share)


@dataclass(frozen=True)
class Due:
    """A planned move that is still to come: its time (s), its control's place in ORDER, by how much it changes the
    input, and when the control's next planned move comes after it (s; infinity if none does)."""

    time: float
    control: int
    change: float
    until: float


@dataclass(frozen=True)
class Schedule:
    """Input deviations of the three controls as steps: ``times`` (s, n) and ``values`` (n, 3), each holding until the
    next; before the first they are zero."""

    times: Array
    values: Array
    due: tuple[Due, ...] = ()
    gas: tuple[float, ...] = ()
    """Times at which gas was set by a logged move, in order, s."""

    def at(self, t: float) -> Array:
        """The deviation (3,) that holds from ``t`` (s) on."""
        i = int(np.searchsorted(self.times, t + 1e-9, side="right")) - 1
        return np.zeros(3) if i < 0 else np.asarray(self.values[i])

    def gas_before(self, t: float) -> float:
        """Time at which gas was last set by a logged move, until ``t`` (s); minus infinity if never."""
        return max((m for m in self.gas if m <= t + 1e-9), default=-np.inf)

    def between(self, t0: float, t1: float) -> list[tuple[float, Array]]:
        """Pieces of constant deviation that make up [t0, t1]: (start, deviation)."""
        inner = self.times[(self.times > t0 + 1e-9) & (self.times < t1 - 1e-9)]
        return [(float(s), self.at(float(s))) for s in (t0, *inner)]


def answered(profile: Profile, roast: Roast, step: Step, due: float, now: float) -> bool:
    """True if a move made until ``now`` counts as a planned one that is, or was, due at ``due`` (roast times, s).

    That is the move that was meant as it, or one of its control to any other setting from ``NEAR`` before it was due
    on, also while that has not come: the person has decided otherwise.  A move meant as another planned one decides
    nothing, nor does going back to what the plan has until then.  What is due at charge may have been set long before.
    """
    if any(r.answer == "left out" and r.step == step.key and t <= now + 1e-6 for t, r in roast.replies):
        return True
    mine = [m for m in roast.moves if m.control == step.control and m.t <= now]
    if due <= 1.0 and mine:
        return True
    decided, last = False, None
    for move in mine:
        back = last is not None and last != move.value and _in_force(profile, step, move)
        last = move.value
        planned = meant(profile, roast, move)
        if same_setting(step, move) and abs(move.t - due) <= NEAR and planned in (step, None):
            return True
        if move.t > due - NEAR and planned is None:
            decided = not back or move.t >= due
    return decided


def _in_force(profile: Profile, step: Step, move: Turned) -> bool:
    """True if a move set what the plan has until a planned one."""
    earlier = [s for s in profile.steps if s.control == step.control and s.time < step.time]
    return bool(earlier) and same_setting(earlier[-1], move)


def due_of(step: Step, roast: Roast) -> float:
    """Roast time at which a planned move was due, s: after its event where that is marked, when the readings
    first reached its temperature, else when the reference would make it."""
    if step.event is not None and step.event in roast.marks:
        return roast.marks[step.event] + step.after
    if step.temperature is not None:
        return next((r.t for r in roast.readings if r.t > 60 and r.celsius >= step.temperature), step.time)
    return step.time


def is_planned(profile: Profile, roast: Roast, move: Turned) -> bool:
    """True if a move is a planned one, made about its time: the same control and setting, within ``NEAR``."""
    return meant(profile, roast, move) is not None


def meant(profile: Profile, roast: Roast, move: Turned) -> Step | None:
    """The planned move that a move is, made about its time: of the same control and setting within ``NEAR``, the
    nearest in time; None if there is none."""
    near = [(abs(move.t - due_of(s, roast)), s) for s in profile.steps if same_setting(s, move)]
    late, step = min(near, key=lambda x: x[0], default=(np.inf, None))
    return step if late <= NEAR else None


def same_setting(step: Step, move: Turned) -> bool:
    """True if a move set what was planned, of the same control."""
    return step.control == move.control and abs(move.value - step.value) <= 1e-6 * max(1.0, abs(step.value))


def _due(control: int, last: Sequence[tuple[float, float]], coming: Sequence[tuple[float, float]]) -> list[Due]:
    """The planned moves to come (time s, input) of one control, after the last made or assumed."""
    out = []
    moves = [*last, *coming]
    for i in range(len(last), len(moves)):
        until = moves[i + 1][0] if i + 1 < len(moves) else np.inf
        if i and moves[i][1] != moves[i - 1][1]:
            out.append(Due(moves[i][0], control, moves[i][1] - moves[i - 1][1], until))
    return out


class Plan:
    """The reference's own settings over time, as inputs."""

    def __init__(self, profile: Profile) -> None:
        self.profile = profile
        self.scale = Scale.of(profile)

    @cached_property
    def _steps(self) -> dict[Control, list[tuple[float, float]]]:
        return {
            c: [(s.time, self.scale.input(c, s.value)) for s in self.profile.steps if s.control == c] for c in ORDER
        }

    def reference(self, control: Control, t: float) -> float | None:
        """The reference's input at ``t`` (s); None where the plan never sets the control."""
        steps = self._steps[control]
        if not steps:
            return None
        found = steps[0][1]
        for time, value in steps:
            if time <= t + 1e-9:
                found = value
        return found

    def schedule(self, roast: Roast, now: float, what_if: Sequence[tuple[float, Control, float]] = ()) -> Schedule:
        """Deviations so far and from ``now`` on: planned moves are presumed made, what is off plan stays off until
        the control's next planned move.  ``what_if`` adds future moves (time s, control, setting in core units)."""
        changes: set[float] = {0.0}
        due: list[Due] = []
        today: dict[Control, list[tuple[float, float | None]]] = {}
        for c in ORDER:
            done = [(m.t, self.scale.input(c, m.value)) for m in roast.moves if m.control == c and m.t <= now]
            coming = self._coming(c, roast, now)
            extra = [(t, self.scale.input(c, v)) for t, control, v in what_if if control == c]
            if extra:  # it counts as what is overdue, too
                coming = self._after(c, roast, [m for m in what_if if m[1] == c], now)
            today[c] = sorted([*done, *extra, *coming])
            due += _due(ORDER.index(c), (extra or done)[-1:], coming)
            changes.update(max(t, 0.0) for t, _ in today[c])
            changes.update(max(t, 0.0) for t, _ in self._steps[c])
        times = np.array(sorted(changes))
        values = np.zeros((len(times), 3))
        for j, c in enumerate(ORDER):
            if not today[c]:
                continue
            for i, t in enumerate(times):
                values[i, j] = self._deviation(c, today[c], float(t))
        gas = tuple(sorted(m.t for m in roast.moves if m.control == "gas" and m.t <= now))
        return Schedule(times, values, tuple(due), gas)

    def _deviation(self, control: Control, moves: list[tuple[float, float | None]], t: float) -> float:
        planned = self.reference(control, t)
        actual = None
        for time, value in moves:
            if time <= t + 1e-9:
                actual = value
        if actual is None:
            return 0.0
        if planned is None:  # never planned: the first setting reported is the reference's
            planned = moves[0][1]
        return actual - (planned or 0.0)

    def _coming(self, control: Control, roast: Roast, now: float) -> list[tuple[float, float]]:
        out: list[tuple[float, float]] = []
        if not any(m.control == control and m.t <= now for m in roast.moves):
            return out
        for step in self.profile.steps:
            if step.control != control or step.time <= now - OVERDUE:
                continue
            if answered(self.profile, roast, step, step.time, now):
                continue
            value = self.scale.input(control, step.value)
            if step.time > now:
                out.append((step.time, value))
            else:
                out = [(now + PRESUMED_DELAY, value)]
        return out

    def _after(
        self, control: Control, roast: Roast, asked: Sequence[tuple[float, Control, float]], now: float
    ) -> list[tuple[float, float]]:
        """The planned moves of a control that would still come after the moves asked about."""
        moved = tuple(Turned(t, c, v, 0, v) for t, c, v in sorted(asked))
        then, last = replace(roast, moves=(*roast.moves, *moved)), max(moved[-1].t, now)
        return [
            (s.time, self.scale.input(control, s.value))
            for s in self.profile.steps
            if s.control == control and s.time > last and not answered(self.profile, then, s, s.time, last)
        ]
