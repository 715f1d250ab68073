"""One moment looked at for a move: where a control stands, what a setting would do, and how well that is known.  Pure.

Every candidate is a what-if of the forecast itself, so advice and forecast can't disagree.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from scipy.special import ndtr

from coach.advice.objective import Aim
from coach.forecast.bank import GAIN_SD
from coach.forecast.control_inputs import NEAR, ORDER, OVERDUE, answered
from coach.forecast.distribution import Distribution
from coach.forecast.predictor import Outlook, WhatIf
from coach.roast.gauges import Gauge
from coach.roast.profile import Profile, Step
from coach.roast.roast import Roast

Lever = Literal["gas", "air"]

MADE_IN: Final = 10.0
"""How long after it is given a move is presumed to be made, s."""
SOON: Final = NEAR
"""A planned move that is due within this is part of what advice starts from, s: made now, the advised move stands for
it (``inputs.answered``)."""
BITE: Final = 0.4
"""A move is felt when it has changed the probe by this much, K."""
LEARNT: Final = 3
"""So many roasts must stand behind what the air does before a move of it is advised."""
TAUGHT: Final = 0.5
"""And they must have brought its uncertainty down to this share of what it is before the first."""


@dataclass(frozen=True)
class Ground:
    """Where an advised move starts from: the control as it stands and as it would stand without it (core units; another
    where a planned move is due just now), and the moment at which it is presumed to be made (roast time, s)."""

    stands: float
    base: float
    moment: float
    step: Step | None = None
    """The planned move that is due just now."""
    next_due: float = np.inf
    """When the control's next planned move after that is due (roast time, s)."""


def ground_of(profile: Profile, t: float, roast: Roast, control: Lever = "gas") -> Ground | None:
    """Where a control stands and is about to stand; None when it was never told."""
    current = roast.setting(control, t)
    if current is None:
        return None
    coming = [
        s
        for s in profile.steps
        if s.control == control and s.time > t - OVERDUE and not answered(profile, roast, s, s.time, t)
    ]
    later = next((s.time for s in coming if s.time > t + SOON), np.inf)
    if coming and coming[0].time <= t + SOON:
        step = coming[0]
        return Ground(current, step.value, max(step.time, t + MADE_IN), step, later)
    # so shortly before the next one's time that it isn't taken for it (``inputs.answered``)
    return Ground(current, current, max(min(t + MADE_IN, later - NEAR), t), None, later)


@dataclass(frozen=True)
class Pull:
    """A control that can be moved: its gauge, and where it stands."""

    gauge: Gauge
    ground: Ground


@dataclass(frozen=True)
class Judged:
    """A setting (core units), what the aim then comes to, how sure the sign of that is, and the what-if itself."""

    value: float
    after: Distribution
    gain: float
    sure: float
    what_if: WhatIf


@dataclass(frozen=True)
class Look:
    """One moment looked at for a move: what it is about, and what it must gain."""

    outlook: Outlook
    t: float
    roast: Roast
    aim: Aim
    asked: float
    least: float
    """What a move must gain where there won't be another chance."""

    def lever(self, control: Lever) -> Pull | None:
        """A control that can be moved; None where it has no gauge or was never told."""
        gauge = Gauge.of(self.outlook.profile, self.roast, control)
        ground = ground_of(self.outlook.profile, self.t, self.roast, control)
        return None if gauge is None or ground is None else Pull(gauge, ground)

    def judged(self, lever: Pull, value: float, moment: float | None = None) -> Judged | None:
        """What a setting would do, made at ``moment`` (roast time, s)."""
        at = lever.ground.moment if moment is None else moment
        control: Lever = lever.gauge.control
        what_if = self.outlook.what_if(
            self.t, self.roast, ((at, control, value),), crack_only=self.aim.what == "crack" and self.aim.drop is None
        )
        after, drop = self.aim.of(what_if.forecast), what_if.forecast.drop
        if after is None:
            return None
        gain = self.aim.gain(after, None if drop is None else drop.temperature)
        return Judged(value, after, gain, sure_of(what_if, control), what_if)


def sure_of(what_if: WhatIf, control: Lever) -> float:
    """How sure the sign of a control's gain is: the larger of the mixture's shares on either side of zero."""
    i = 2 + ORDER.index(control)
    gain, sd = what_if.state.x[:, i], np.sqrt(what_if.state.P[:, i, i])
    up = float(what_if.state.weights @ ndtr(gain / sd))
    return up if control == "gas" else max(up, 1.0 - up)


def learnt(outlook: Outlook, control: Lever) -> bool:
    """Whether the person's roasts have taught what a control does: enough of them, and it was moved otherwise than by
    the plan, so that little is left of what had to be presumed.  Moved by the plan it teaches nothing."""
    bank, i = outlook.knowledge.bank, ORDER.index(control)
    if outlook.knowledge.count < LEARNT:
        return False
    mean = float(bank.weights @ bank.gain[:, i])
    variance = float(bank.weights @ (bank.gain_cov[:, i, i] + (bank.gain[:, i] - mean) ** 2))
    return variance <= (TAUGHT * float(GAIN_SD[i])) ** 2


def bites(what_if: WhatIf) -> float | None:
    """When a move is felt on the probe (roast time, s); None if not within the time looked at."""
    change = np.abs(what_if.path.mean - what_if.without.mean) >= BITE
    return float(what_if.path.t[int(np.argmax(change))]) if change.any() else None
