"""First crack called from taps: from stray pops to cracking, as a change in the rate of a Poisson process.

One tap is one pop heard.  The decision is a cumulative sum of log likelihood ratios in continuous time (Page 1954,
Biometrika 41:100; for counts Lucas 1985, Technometrics 27:129): between taps the sum falls by the difference of the
two rates, never under zero, and each tap adds the logarithm of their ratio.  At the threshold the crack is called, and
dated back to the first tap since the sum was zero (Page's estimate of the moment of change).  So the call comes a
little later than the crack, and the time it gives does not.

That estimate depends on one tap: whoever misses it, or adds a stray one, dates another moment.  So where a profile does
not ask for it the call is dated by growth: the rate is taken to grow exponentially, as the hottest beans go first, and
the onset is the moment at which it had come to half the cracking rate above the strays, by all taps around the call.
It settles half a minute after the call, by taps that go on.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from coach.roast.profile import Profile, Taps
from coach.roast.roast import Roast

CUE: Final = "tapped crack"
"""The cue whose answer 'not yet' undoes a call."""
BOUNCE: Final = 0.15
"""Shortest time between taps, s; closer ones are one key press, held or bounced: nobody taps seven times a second."""
SOONEST: Final = 0.75
"""Earliest yellow, as a share of the time that the plan has for it: key presses before that are no pops."""
GROWTH: Final = 20.0
"""Time constant of the growth of the rate, s.  Of 10 to 28 s, those about 20 made two simulated people agree most
often, whatever their hands and beans."""
SETTLES: Final = 30.0
"""Time after the call up to which taps count towards the onset by growth, s."""
LOOKS_BACK: Final = 60.0
"""Time before the call from which on taps count towards the onset by growth, s."""


@dataclass(frozen=True)
class Call:
    """First crack called: when it was called (``at``) and when it began (``onset``), on the axis of the taps, s."""

    at: float
    onset: float


def presses(taps: Iterable[float]) -> tuple[float, ...]:
    """The key presses in order of time: a press held down, or one that bounced, is one tap, s."""
    out: list[float] = []
    last = -math.inf
    for t in sorted(taps):
        if t - last >= BOUNCE - 1e-9:
            out.append(t)
        last = t
    return tuple(out)


def sums(taps: Iterable[float], settings: Taps) -> tuple[float, ...]:
    """The cumulative sum right after each tap, never cut off by a call.  ``taps`` in order of time, s.

    With rates l0 and l1 a second: S = max(0, S - (l1 - l0) dt) + ln(l1 / l0).
    """
    fall = (settings.cracking - settings.stray) / 60.0
    gain = math.log(settings.cracking / settings.stray)
    out: list[float] = []
    s, last = 0.0, 0.0
    for t in taps:
        s = max(0.0, s - fall * (t - last)) + gain
        last = t
        out.append(s)
    return tuple(out)


def first_call(taps: Iterable[float], settings: Taps) -> Call | None:
    """The first call by the taps; None as long as they may be strays.

    The cracking rate must lie above the stray rate: otherwise no number of taps tells one from the other, and nothing
    is called.
    """
    if settings.cracking <= settings.stray:
        return None
    pressed = presses(taps)
    gain = math.log(settings.cracking / settings.stray)
    onset = 0.0
    for t, s in zip(pressed, sums(pressed, settings), strict=True):
        if s <= gain:  # the sum was zero when this tap came
            onset = t
        if s >= settings.threshold:
            call = Call(t, onset)
            return call if settings.dated == "first tap" else replace(call, onset=_grown(pressed, t, settings))
    return None


def _grown(pressed: tuple[float, ...], at: float, settings: Taps) -> float:
    """The onset by growth for a call at ``at``, never after it, s."""
    taps = tuple(t for t in pressed if at - LOOKS_BACK <= t <= at + SETTLES)
    return min(round(growth_onset(taps, at - LOOKS_BACK, settings.stray, settings.cracking), 1), at)


@lru_cache(maxsize=32)
def growth_onset(taps: tuple[float, ...], start: float, stray: float, cracking: float) -> float:
    """The median of the onset, given taps (s, in order, at least one) since ``start`` (s) and rates a minute.

    The taps are a Poisson process of rate l0 + l1/2 exp((t - onset) / GROWTH) until the last of them: silence after it
    may only mean that nobody taps any more.  Its likelihood (Daley and Vere-Jones, An Introduction to the Theory of
    Point Processes, 2nd ed. 2003, section 7.2; from memory) is normalised over onsets on a grid, all equally likely.
    """
    l0, l1 = stray / 60.0, cracking / 120.0
    x = np.arange(start - 30.0, taps[-1] + 20.0, 0.5)
    expected = l1 * GROWTH * (np.exp((taps[-1] - x) / GROWTH) - np.exp((start - x) / GROWTH))
    log_p = np.log(l0 + l1 * np.exp((np.array(taps)[:, None] - x) / GROWTH)).sum(axis=0) - expected
    below = np.cumsum(np.exp(log_p - log_p.max()))
    return float(np.interp(0.5 * below[-1], below, x))


def call_by_taps(roast: Roast, profile: Profile) -> Call | None:
    """The call in force by the taps of a roast (roast time, s), whether first crack is marked or not.

    Taps count from yellow on, a crack before it being no first crack (where it is not marked, from ``SOONEST`` of its
    time in the plan on), and after the person's last 'not yet'.
    """
    yellow = profile.goals.get("yellow")
    after = [roast.marks.get("yellow", 0.0 if yellow is None else SOONEST * yellow.time)]
    after += [t for t, reply in roast.replies if reply.cue == CUE and reply.answer == "not yet"]
    return first_call((t for t in roast.pops if t > max(after)), profile.document.taps)


def settled(roast: Roast, profile: Profile, t: float) -> float | None:
    """Onset of first crack by the taps of a roast, once final; None before (roast times, s)."""
    call = call_by_taps(roast, profile)
    return None if call is None or t < call.at + SETTLES else call.onset
