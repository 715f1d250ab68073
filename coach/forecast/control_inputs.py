"""The controls as inputs of the model: deviations of today's heat, air and drum speed from the reference's, over time.

Burner heat goes as the square root of gas pressure (flow through an orifice), so gas counts as
sqrt(p / p_highest); air and drum speed count as a share of the highest planned dial value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
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


def input_of(control: Control, share: float) -> float:
    """The input for a setting, 0..1, given as a share of the highest planned one."""
    return float(np.sqrt(max(share, 0.0))) if control == "gas" else max(share, 0.0)


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


def unanswered(profile: Profile, roast: Roast, control: Control, now: float) -> list[Step]:
    """The planned moves of a control that are still to be made at ``now`` (s), or overdue."""
    steps = [s for s in profile.steps if s.control == control and s.time > now - OVERDUE]
    return [s for s in steps if not answered(profile, roast, s, s.time, now)]


Moves = list[tuple[float, float]]
"""Times (s) and inputs."""


class Plan:
    """The reference's own settings over time, as inputs."""

    def __init__(self, profile: Profile) -> None:
        self.profile = profile
        self._top = {c: self._highest(c) for c in ORDER}
        self._steps = {c: [(s.time, self.input(c, s.value)) for s in profile.steps if s.control == c] for c in ORDER}

    def _highest(self, control: Control) -> float:
        limits = getattr(self.profile.document.limits, control)
        values = [s.value for s in self.profile.steps if s.control == control] or list(limits or ())[1:]
        return max([v for v in values if v > 0], default=1.0)

    def input(self, control: Control, value: float) -> float:
        """The input for a setting (gas in kPa), about 0..1."""
        return input_of(control, value / self._top[control])

    def schedule(self, roast: Roast, now: float, what_if: Sequence[tuple[float, Control, float]] = ()) -> Schedule:
        """Deviations so far and from ``now`` on: planned moves are presumed made, what is off plan stays off until
        the control's next planned move.  ``what_if`` adds future moves (time s, control, setting in core units)."""
        due: list[Due] = []
        today: dict[Control, Moves] = {}
        for c in ORDER:
            done = [(m.t, self.input(c, m.value)) for m in roast.moves if m.control == c and m.t <= now]
            extra = [(t, self.input(c, v)) for t, control, v in what_if if control == c]
            if extra:  # it counts as what is overdue, too
                coming = self._after(c, roast, [m for m in what_if if m[1] == c], now)
            else:
                coming = self._coming(c, roast, now) if done else []
            today[c] = sorted([*done, *extra, *coming])
            due += _due(ORDER.index(c), [*(extra or done)[-1:], *coming])
        changes = {max(t, 0.0) for c in ORDER for t, _ in (*today[c], *self._steps[c])}
        times = np.array(sorted(changes | {0.0}))
        values = np.stack([self._deviations(c, today[c], times) for c in ORDER], axis=1)
        gas = tuple(sorted(m.t for m in roast.moves if m.control == "gas" and m.t <= now))
        return Schedule(times, values, tuple(due), gas)

    def _deviations(self, control: Control, moves: Moves, times: Array) -> Array:
        """Today's input less the plan's at times (n,), s; none until the control was first set.  What the plan never
        sets has its first reported setting in the reference, too."""
        if not moves:
            return np.zeros(len(times))
        planned = _held(self._steps[control] or moves[:1], times)
        return np.where(times + 1e-9 < moves[0][0], 0.0, _held(moves, times) - planned)

    def _coming(self, control: Control, roast: Roast, now: float) -> Moves:
        """The planned moves still to come; the last one that is overdue is presumed to be made soon."""
        steps = unanswered(self.profile, roast, control, now)
        late = [(now + PRESUMED_DELAY, self.input(control, s.value)) for s in steps if s.time <= now]
        return [*late[-1:], *((s.time, self.input(control, s.value)) for s in steps if s.time > now)]

    def _after(
        self, control: Control, roast: Roast, asked: Sequence[tuple[float, Control, float]], now: float
    ) -> Moves:
        """The planned moves of a control that would still come after the moves asked about."""
        moved = tuple(Turned(t, c, v, 0, v) for t, c, v in sorted(asked))
        then, last = replace(roast, moves=(*roast.moves, *moved)), max(moved[-1].t, now)
        steps = unanswered(self.profile, then, control, last)
        return [(s.time, self.input(control, s.value)) for s in steps if s.time > last]


def _held(moves: Moves, times: Array) -> Array:
    """The input that holds at times (n,), s: that of the last move, before the first one that of the first."""
    last = np.searchsorted([t for t, _ in moves], times + 1e-9, side="right") - 1
    return np.array([value for _, value in moves])[np.maximum(last, 0)]


def _due(control: int, moves: Moves) -> list[Due]:
    """The moves of a control after the first of these, which are still to come, as far as they change anything."""
    ends = [*(t for t, _ in moves[2:]), np.inf]
    pairs = zip(moves, moves[1:], ends, strict=False)
    return [Due(t, control, value - before, end) for (_, before), (t, value), end in pairs if value != before]
