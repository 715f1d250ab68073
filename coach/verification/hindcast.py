"""Hindcasts: forecasts of finished roasts, recomputed at each lead and compared with what happened.  Pure.

The *lead* is the time from a forecast to its event, s.  A forecast rests on the entries that had come in by then.
Beside it stand the reference forecasts: those that a person could make without the coach (``reference_forecasts``).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import takewhile
from math import ceil, floor
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.forecast.distribution import Distribution
from coach.forecast.estimator import climb
from coach.forecast.forecast_values import EVERY, READ_BEFORE
from coach.forecast.knowledge import Knowledge
from coach.forecast.predictor import Outlook
from coach.roast.curve import crossing
from coach.roast.entries import Header
from coach.roast.errors import EntryError
from coach.roast.profile import Profile
from coach.roast.roast import Numbered, Roast, effective, fold
from coach.session.issued_forecasts import IssuedForecast
from coach.verification.aggregate import ScoredForecast, What
from coach.verification.reference_forecasts import RoastOutcome, crack_others, drop_others, past_mean, trajectory

Array = NDArray[np.float64]
CRACK_LEADS: Final = (180, 150, 120, 90, 60, 30)
DROP_LEADS: Final = (90, 60, 30)
"""Leads at which forecasts are verified, s before the event."""


Issuer = Callable[[float, Roast], IssuedForecast]
"""Source of a forecast: called with a roast time (s) and the roast as it was known then, in the order of time."""


def cases(
    profile: Profile,
    knowledge: Knowledge,
    header: Header,
    entries: Sequence[Numbered],
    past: Sequence[Roast | RoastOutcome] | None = (),
    truth: tuple[Array, Array] | None = None,
    *,
    issue: Issuer | None = None,
    crack_leads: Sequence[int] = CRACK_LEADS,
    drop_leads: Sequence[int] = DROP_LEADS,
) -> list[ScoredForecast]:
    """Forecasts of one finished roast at each lead (s), beside what happened and the reference forecasts.

    ``issue`` gives the forecasts; without it they are hindcasts.  ``past`` None: without the past roasts' mean.
    ``truth`` is the probe's true trajectory (roast time s, °C), where it is known (a simulator); else the readings
    stand for it.
    """
    roast = fold(header, effective(entries))
    if roast.charge_at is None or len(roast.readings) < 4:
        return []
    issue = issue or _hindcaster(profile, knowledge, roast, entries)
    made = [r if isinstance(r, RoastOutcome) else RoastOutcome.of(r, profile.curve) for r in past or ()]
    went = truth if truth is not None else trajectory(roast, profile.curve)
    after = 0.0 if truth is not None else READ_BEFORE
    out: list[ScoredForecast] = []
    crack, drop = roast.marks.get("first crack"), roast.marks.get("drop")
    moments: list[tuple[float, int, str]] = []
    if crack is not None and "first crack" in profile.goals:
        moments += [(crack - lead, lead, "first crack") for lead in crack_leads]
    if drop is not None:
        moments += [(drop - lead, lead, "drop") for lead in drop_leads]
    floor = _floor(knowledge, went, after)
    for t, lead, event in sorted(moments, key=lambda m: (m[0], m[1], m[2] == "drop")):
        seen = _seen(header, entries, roast.charge_at + t)
        if seen is None or t < 30:
            continue
        issued = issue(t, seen)
        readings = [r for r in seen.readings if r.line not in issued.doubtful and r.t <= t]
        if len(readings) < 2:
            continue
        marked = seen.marks.get("first crack")
        rows: list[tuple[What, Distribution | None, float, dict[str, float]]] = []
        if event == "drop" and drop is not None:
            times, temperatures = drop_others(profile, readings, t, marked)
            hot = float(np.interp(drop + after, *went))
            rows = [
                ("drop time", issued.drop, drop, times),
                ("drop temperature", issued.temperature, hot, temperatures),
            ]
        elif crack is not None:
            rows = [("first crack", issued.crack, crack, crack_others(profile, readings, t))]
        for what, forecast, happened, others in rows:
            if past is not None:
                others["past roasts"] = past_mean(what, others, made, t, marked)
            if what == "first crack" and floor is not None:
                others["floor"] = floor
            out.append(ScoredForecast.of(what, lead, forecast, happened, others, issued.why))
    return out


def _hindcaster(profile: Profile, knowledge: Knowledge, roast: Roast, entries: Sequence[Numbered]) -> Issuer:
    """Source of hindcasts as the screen would have shown them: from what had been typed by then, and as old as a
    session lets them become."""
    outlook = Outlook(profile, knowledge, roast.first_rounding, needle=roast.needle)
    came = [n.entry.came - (roast.charge_at or 0.0) for n in entries]

    def issue(t: float, seen: Roast) -> IssuedForecast:
        stood = renewed(seen, t, came)
        view = seen.until(stood)
        outlook.keep(_alike(outlook, view))
        return IssuedForecast.of(stood, *outlook.at(stood, view, asking=False))

    return issue


def _seen(header: Header, entries: Sequence[Numbered], at: float) -> Roast | None:
    """The roast as it was known at ``at`` (s); None where the entries of then make no roast."""
    try:
        return fold(header, effective([n for n in entries if n.entry.came <= at]))
    except EntryError:
        return None


def _alike(outlook: Outlook, roast: Roast) -> int:
    """Number of cached states that still hold: those before anything that changed since they were computed."""
    before, outlook.seen = outlook.seen, roast
    if before is None:
        return 0
    changed = min((m.t for m in {*before.moves} ^ {*roast.moves}), default=np.inf)
    pairs = zip(before.readings, roast.readings, strict=False)
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1] and pair[1].t < changed, pairs))


def _floor(knowledge: Knowledge, went: tuple[Array, Array], after: float) -> float | None:
    """Crack time (roast time, s) forecast from the probe's whole trajectory, without knowledge of the beans.

    The levels were learnt from what was typed, so the trajectory counts as known ``after`` s later, as by a typist.
    """
    threshold = knowledge.thresholds.get("first crack")
    if threshold is None or len(went[0]) < 120:
        return None
    t, v = went
    rate = climb(lambda x: np.asarray(np.interp(x, t, v)), t, float(t[0]))
    late = t > 150.0
    if not late.any():  # the roast ended before any bean can crack
        return None
    gap = v[late] - threshold.level(rate[late])
    found = crossing(t[late], gap, 0.0)
    if found is not None:
        return found + after
    slope = max(float(rate[-1]), 0.02)
    return float(t[-1]) - float(gap[-1]) / slope + after


def renewed(roast: Roast, t: float, came: Sequence[float]) -> float:
    """Issue time (roast time, s) of the forecast in force at ``t`` (s): an entry that came in within this second
    (``came``, roast times, s), else the last whole second of the session's rhythm or the first one after an entry."""
    n = floor(t + 1e-6)
    just = [x for x in came if n < x <= t]
    if just:
        return max(just)
    entered = [*(r.t for r in roast.readings), *(m.t for m in roast.moves), *roast.marks.values()]
    return float(max([n - n % EVERY, *(ceil(x) for x in entered if ceil(x) <= n)]))
