"""Whether it can be said that a crack is best left alone: how likely no single step would do clearly better.  Pure.

Saying so is a claim like any other, and made only where it is as sure as a claim has to be.  Inside tolerance nothing
is advised either way; but that no move is advised doesn't mean that none would have helped, and it isn't said.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from coach.advice.candidates import Look, Pull

BETTER: Final = 5.0
"""A move does clearly better where it brings the crack nearer to the plan by more than this, s."""
LEVELS: Final = np.linspace(0.005, 0.995, 199)
"""The futures looked at: quantiles of the crack."""


def surely_left(look: Look, lever: Pull, largest: float, enough: float) -> float | None:
    """The probability that no step of a control, of all that its range allows and no larger than the share ``largest``
    of the highest planned setting, would bring the crack nearer to the plan by more than ``BETTER``; None if unknown.
    Below ``enough`` it is only looked at until that is known: the probability is then at most the one given back.

    A future is a quantile of the crack, and stays the same one whatever is moved.  What a setting does is worked out
    for one step either way and for the largest, and taken to lie on straight lines between, over the root of the
    pressure.
    """
    aim, gauge, scale = look.aim, lever.gauge, look.outlook.plan.scale
    if aim.what != "crack":
        return None
    start = gauge.steps(lever.ground.base)
    reach = max(largest * gauge.top / gauge.step + 1e-9, 1.0)
    low, high = int(np.ceil(gauge.low / gauge.step - 1e-6)), int(np.floor(gauge.high / gauge.step + 1e-6))
    steps = [n for n in range(low, high + 1) if 1e-6 < abs(n - start) <= reach]
    if not steps:
        return 1.0
    below, above = [n for n in steps if n < start], [n for n in steps if n > start]
    at = {n: scale.input(gauge.control, gauge.value(n)) for n in steps}
    x, crack = [scale.input(gauge.control, lever.ground.base)], [_at(aim.now.p, aim.now.x)]
    left, best = np.abs(crack[0] - aim.plan), np.full(len(LEVELS), np.inf)
    for n in dict.fromkeys((*below[-1:], *above[:1], *below[:1], *above[-1:])):
        found = look.judged(lever, gauge.value(n))
        if found is None:
            return None
        x.append(at[n])
        crack.append(_at(found.after.p, found.after.x))
        best = np.minimum(best, np.abs(crack[-1] - aim.plan))
        if np.mean(left - best <= BETTER) < enough:
            return float(np.mean(left - best <= BETTER))
    order = np.argsort(x)
    xs, ys = np.array(x)[order], np.array(crack)[order]
    for n in steps:
        i = int(np.clip(np.searchsorted(xs, at[n]), 1, len(xs) - 1))
        share = (at[n] - xs[i - 1]) / max(xs[i] - xs[i - 1], 1e-9)
        best = np.minimum(best, np.abs((1 - share) * ys[i - 1] + share * ys[i] - aim.plan))
    return float(np.mean(left - best <= BETTER))


def _at(p: np.ndarray, x: np.ndarray) -> np.ndarray:
    return np.asarray(np.interp(LEVELS, p, x))
