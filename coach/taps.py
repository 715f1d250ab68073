"""First crack called from taps: from stray pops to cracking, as a change in the rate of a Poisson process.

One tap is one pop heard.  The decision is a cumulative sum of log likelihood ratios in continuous time (Page 1954,
Biometrika 41:100; for counts Lucas 1985, Technometrics 27:129): between taps the sum falls by the difference of the
two rates, never under zero, and each tap adds the logarithm of their ratio.  At the threshold the crack is called, and
dated back to the first tap since the sum was zero (Page's estimate of the moment of change).  So the call comes a
little later than the crack, and the time it gives does not.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from coach.profile import Taps
from coach.roast import Roast

CUE: Final = "tapped crack"
"""The cue whose answer 'not yet' undoes a call."""
BOUNCE: Final = 0.15
"""Taps closer together than this are one key press, held or bounced: nobody taps seven times a second, s."""


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
    """The first call that taps amount to; None as long as they may be strays.

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
            return Call(t, onset)
    return None


def tapped_call(
    pops: Iterable[float], settings: Taps, not_yet: Iterable[float] = (), earliest: float = -math.inf
) -> Call | None:
    """The call that stands, after the person's 'not yet' (times, s): taps up to the last of these count no more.

    Taps before ``earliest`` (s) do not count either: a crack before yellow is no first crack.
    """
    after = max([earliest, *not_yet], default=-math.inf)
    return first_call((t for t in pops if t > after), settings)


def tapped_onset(
    pops: Iterable[float], settings: Taps, not_yet: Iterable[float] = (), earliest: float = -math.inf
) -> float | None:
    """When first crack began by the taps, s; None while it is not called.  See ``tapped_call``."""
    call = tapped_call(pops, settings, not_yet, earliest)
    return None if call is None else call.onset


def call_from(roast: Roast, settings: Taps) -> Call | None:
    """The call that stands in a roast (roast time, s); None once first crack is marked: the mark overrides."""
    if "first crack" in roast.marks:
        return None
    not_yet = [t for t, reply in roast.replies if reply.cue == CUE and reply.answer == "not yet"]
    return tapped_call(roast.pops, settings, not_yet, roast.marks.get("yellow", 0.0))
