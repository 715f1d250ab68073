"""Alignment of two roasts: by the clock, or by their events.  Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from coach.roast.entries import EVENTS, Event

Array = NDArray[np.float64]
USED: tuple[Event, ...] = tuple(e for e in EVENTS if e != "second crack")
"""Events that every roast passes; the second crack is left out, since most roasts never reach it."""


def knots(a: Mapping[Event, float], b: Mapping[Event, float]) -> tuple[Array, Array]:
    """Times (s) of the events that both have, in order, charge (0 s) first; events out of order in either are left
    out."""
    xs, ys = [0.0], [0.0]
    for event in USED:
        if event != "charge" and event in a and event in b and a[event] > xs[-1] and b[event] > ys[-1]:
            xs.append(a[event])
            ys.append(b[event])
    return np.array(xs), np.array(ys)


def warp(t: Array | float, a: Mapping[Event, float], b: Mapping[Event, float]) -> Array:
    """Times ``t`` (s) of roast a as times of roast b: straight between the events that both have, in step beyond the
    last (and everywhere, where they share none)."""
    xs, ys = knots(a, b)
    t = np.asarray(t, dtype=float)
    inside = np.interp(t, xs, ys)
    return np.asarray(np.where(t > xs[-1], ys[-1] + (t - xs[-1]), np.where(t < 0, t, inside)))


def mean_events(events: Sequence[Mapping[Event, float]]) -> dict[Event, float]:
    """The mean time (s) of each event that all of them have."""
    shared = [e for e in USED if e != "charge" and all(e in m for m in events)]
    return {e: float(np.mean([m[e] for m in events])) for e in shared}
