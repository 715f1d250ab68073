"""How far the forecast can be trusted: forecasts as they were made, against what then happened.  Pure.

A forecast is made at some time (the *lead*) before the event, from the entries that had come in by then.  Beside it
stand what a person could say without the coach: the plan, the mean of past roasts, the reference shifted by today's
lag, lag and pace, and a straight line through the last two readings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.curve import Curve, crossing
from coach.distribution import Distribution
from coach.entries import Header
from coach.errors import EntryError
from coach.estimate import CLIMB
from coach.forecast import READ_BEFORE
from coach.knowledge import Knowledge
from coach.learn import HISTORY, Lesson, from_lessons, from_profile, lessons_of
from coach.outlook import Outlook
from coach.profile import Profile
from coach.roast import Numbered, Probe, Roast, effective, fold
from coach.scores import crps
from coach.tally import BASELINES, Row, Said, Score, What, sentences, tally

__all__ = [
    "BASELINES", "Case", "Finished", "Row", "Score", "cases", "learning_pays", "left_out", "row", "scores", "sentences",
]  # fmt: skip
Array = NDArray[np.float64]
CRACK_LEADS: Final = (180, 150, 120, 90, 60, 30)
DROP_LEADS: Final = (90, 60, 30)
"""Seconds before the event at which forecasts are looked at."""
LEARNING_LEADS: Final = tuple(lead for lead in CRACK_LEADS if lead <= 150)
"""Those by which it is checked whether learning pays."""
FAR: Final = 30.0
"""A reading further from the reference than this is taken for a mistype when a finished roast is looked back on, K."""
CHECKED_FROM: Final = 6
"""From so many roasts on it is checked whether learning pays."""
WORSE: Final = 1.05
"""Learning is put aside when it makes the mean CRPS larger than without it by more than this factor."""


@dataclass(frozen=True)
class Case:
    """One forecast and what happened, s of roast time or °C; ``others`` are the baselines' and the floor's points."""

    what: What
    lead: int
    said: Distribution | None
    happened: float
    others: Mapping[str, float]


def cases(
    profile: Profile,
    knowledge: Knowledge,
    header: Header,
    entries: Sequence[Numbered],
    past: Sequence[Roast] = (),
    truth: tuple[Array, Array] | None = None,
    *,
    crack_leads: Sequence[int] = CRACK_LEADS,
    drop_leads: Sequence[int] = DROP_LEADS,
) -> list[Case]:
    """The forecasts of one finished roast at each lead (s before).  ``truth`` is the probe's true way (roast time s,
    °C), where it is known (a simulator); else the readings stand for it."""
    roast = fold(header, effective(entries))
    if roast.charge_at is None or len(roast.readings) < 4:
        return []
    way = truth if truth is not None else _way(roast, profile.curve)
    after = 0.0 if truth is not None else READ_BEFORE
    out: list[Case] = []
    outlook = Outlook(profile, knowledge, roast.rounding)
    crack, drop = roast.marks.get("first crack"), roast.marks.get("drop")
    moments: list[tuple[float, int, bool]] = []
    if crack is not None and "first crack" in profile.goals:
        moments += [(crack - lead, lead, False) for lead in crack_leads]
    if drop is not None:
        moments += [(drop - lead, lead, True) for lead in drop_leads]
    for t, lead, at_drop in sorted(moments):
        seen = _seen(header, entries, roast.charge_at + t)
        if seen is None or t < 30:
            continue
        outlook.keep(_alike(outlook, seen))
        estimate, forecast = outlook.at(t, seen, asking=False)
        doubtful = estimate.doubtful if estimate else {}
        readings = [r for r in seen.readings if r.line not in doubtful and r.t <= t]
        if len(readings) < 2:
            continue
        if not at_drop and crack is not None:
            said = forecast.first_crack.time if forecast.first_crack else None
            others = _crack_others(profile, readings, t, past)
            floor = _floor(knowledge, way)
            out.append(Case("first crack", lead, said, crack, others if floor is None else {**others, "floor": floor}))
        elif drop is not None:
            d = forecast.drop
            times, heats = _drop_others(profile, readings, t, seen, past)
            out.append(Case("drop time", lead, d.time if d else None, drop, times))
            hot = float(np.interp(drop + after, *way))
            out.append(Case("drop temperature", lead, d.temperature if d else None, hot, heats))
    return out


def _seen(header: Header, entries: Sequence[Numbered], at: float) -> Roast | None:
    """The roast as it was known at ``at``."""
    try:
        return fold(header, effective([n for n in entries if n.entry.came <= at]))
    except EntryError:
        return None


def _alike(outlook: Outlook, roast: Roast) -> int:
    """How many of the states kept still hold: those before anything that changed since they were worked out."""
    before = outlook.seen
    outlook.seen = roast
    if before is None:
        return 0
    count = 0
    for a, b in zip(before.readings, roast.readings, strict=False):
        if a != b:
            break
        count += 1
    late = [m.t for m in roast.moves if m not in before.moves] + [m.t for m in before.moves if m not in roast.moves]
    if late:
        count = min(count, sum(1 for r in roast.readings[:count] if r.t < min(late)))
    return count


def _way(roast: Roast, curve: Curve) -> tuple[Array, Array]:
    """The roast's own readings as the way the probe went (roast time s, °C), up to its drop, without mistyped ones."""
    points: dict[float, float] = {}
    for r in roast.readings:
        if abs(r.celsius - curve.value(r.t)) <= FAR:
            points[r.t] = r.celsius
    t, v = np.array(list(points)), np.array(list(points.values()))
    if len(t) < 2:
        return np.zeros(1), np.full(1, np.nan)
    end = max(roast.marks.get("drop", t[-1]) + READ_BEFORE, float(t[-1]))
    if end > t[-1]:
        slope = float(np.polyfit(t[-4:], v[-4:], 1)[0])
        t, v = np.append(t, end), np.append(v, v[-1] + slope * (end - t[-1]))
    grid = np.arange(t[0], end + 0.5, 1.0)
    return grid, np.interp(grid, t, v)


def _floor(knowledge: Knowledge, way: tuple[Array, Array]) -> float | None:
    """When the crack would have been said to come by someone who knew the probe's whole way, and not the beans."""
    threshold = knowledge.thresholds.get("first crack")
    if threshold is None or len(way[0]) < 120:
        return None
    t, v = way
    before = np.maximum(t - CLIMB, t[0])
    rate = (v - np.interp(before, t, v)) / np.maximum(t - before, 1.0)
    late = t > 150.0
    gap = v[late] - threshold.level(rate[late])
    found = crossing(t[late], gap, 0.0)
    if found is not None:
        return found
    slope = max(float(rate[-1]), 0.02)
    return float(t[-1]) - float(gap[-1]) / slope


# -- what a person could say -------------------------------------------------------------------------------------------


def _on_reference(curve: Curve, readings: Sequence[Probe]) -> float | None:
    """The reference's time at the temperature of the last reading."""
    return curve.when(readings[-1].celsius)


def _pace(curve: Curve, readings: Sequence[Probe]) -> float:
    """How fast today goes along the reference, by the last three readings: 1 as it did, 2 twice as fast."""
    first, last = readings[max(-3, -len(readings))], readings[-1]
    a, b = curve.when(first.celsius), curve.when(last.celsius)
    if a is None or b is None or last.t - first.t < 5:
        return 1.0
    return float(np.clip((b - a) / (last.t - first.t), 0.5, 2.0))


def _line(readings: Sequence[Probe]) -> tuple[float, float, float]:
    """Time, temperature and slope (K/s, at least 0.01) of the line through the last two readings."""
    a, b = readings[-2], readings[-1]
    return b.t, b.celsius, max((b.celsius - a.celsius) / max(b.t - a.t, 1.0), 0.01)


def _crack_others(profile: Profile, readings: Sequence[Probe], now: float, past: Sequence[Roast]) -> dict[str, float]:
    goal = profile.goals["first crack"]
    then = _on_reference(profile.curve, readings)
    last = readings[-1].t
    t, v, slope = _line(readings)
    made = [r.marks["first crack"] for r in past if "first crack" in r.marks]
    plain = goal.time if then is None else goal.time + last - then
    paced = goal.time if then is None else last + (goal.time - then) / _pace(profile.curve, readings)
    return {
        "plan": goal.time,
        "past roasts": float(np.mean([*made, goal.time])),
        "lag": max(plain, now),
        "lag and pace": max(paced, now),
        "straight line": max(t + (goal.temperature - v) / slope, now),
    }


def _drop_others(
    profile: Profile, readings: Sequence[Probe], now: float, roast: Roast, past: Sequence[Roast]
) -> tuple[dict[str, float], dict[str, float]]:
    """Baselines of the drop's time and temperature.  All but the plan know the planned development."""
    curve = profile.curve
    then = _on_reference(curve, readings)
    last = readings[-1].t
    lag = 0.0 if then is None else last - then
    pace = _pace(curve, readings)
    crack = roast.marks.get("first crack")
    planned, development = profile.drop_time, profile.development or 90.0
    made = [r for r in past if "drop" in r.marks and "first crack" in r.marks]
    mean_time = float(np.mean([*(r.marks["drop"] for r in made), planned]))
    mean_heat = float(np.mean([*(float(np.interp(r.marks["drop"], *_way(r, curve))) for r in made if r.readings),
                               profile.drop_temperature]))  # fmt: skip
    level = profile.goals["first crack"].temperature if "first crack" in profile.goals else profile.drop_temperature
    t, v, slope = _line(readings)
    ends = {
        "plan": planned,
        "past roasts": mean_time,
        "lag": planned + lag,
        "lag and pace": planned if then is None else last + (planned - then) / pace,
        "straight line": t + (level - v) / slope + development,
    }
    times = {k: max(crack + development if crack is not None and k != "plan" else e, now) for k, e in ends.items()}
    dev = readings[-1].celsius - curve.value(last)
    end = times["lag"]
    heats = {
        "plan": profile.drop_temperature,
        "past roasts": mean_heat,
        "lag": curve.value(end) + dev,
        "lag and pace": v if then is None else curve.value(then + (times["lag and pace"] - last) * pace),
        "straight line": v + slope * (times["straight line"] - t),
    }
    return times, heats


def row(case: Case) -> Row:
    """A case reduced to the numbers that scores need."""
    said = None if case.said is None else Said.of(case.said, case.happened)
    return Row(case.what, case.lead, said, case.happened, case.others)


def scores(found: Sequence[Case]) -> list[Score]:
    """All cases, by kind and lead."""
    return tally([row(c) for c in found])


# -- a person's own roasts ---------------------------------------------------------------------------------------------


Finished = tuple[Header, Sequence[Numbered], Roast]


def left_out(
    profile: Profile,
    roasts: Sequence[Finished],
    lessons: Mapping[int, Lesson] | None = None,
    *,
    crack_leads: Sequence[int] = CRACK_LEADS,
    drop_leads: Sequence[int] = DROP_LEADS,
) -> list[Case]:
    """The cases of each roast, forecast with what all the others (the newest of them) teach.

    ``lessons``: those of the roasts, by their place, where they are worked out already.
    """
    folded = [r for _, _, r in roasts]
    if lessons is None:
        lessons = lessons_of(profile, folded)
    out: list[Case] = []
    for i, (header, entries, _) in enumerate(roasts):
        others = [j for j in lessons if j != i][-HISTORY:]
        knowledge = from_lessons(profile, [lessons[j] for j in others])
        past = [folded[j] for j in others]
        out += cases(profile, knowledge, header, entries, past, crack_leads=crack_leads, drop_leads=drop_leads)
    return out


def learning_pays(profile: Profile, roasts: Sequence[Finished], lessons: Mapping[int, Lesson] | None = None) -> bool:
    """Whether what the roasts teach makes forecasts of first crack better, not worse, each roast left out in turn.

    Below ``CHECKED_FROM`` roasts chance decides, and learning is trusted.
    """
    if len(roasts) < CHECKED_FROM:
        return True
    with_it = left_out(profile, roasts, lessons, crack_leads=LEARNING_LEADS, drop_leads=())
    nothing = from_profile(profile)
    without = [
        c for h, e, _ in roasts for c in cases(profile, nothing, h, e, crack_leads=LEARNING_LEADS, drop_leads=())
    ]
    return _crack_crps(with_it) <= WORSE * _crack_crps(without)


def _crack_crps(found: Sequence[Case]) -> float:
    told = [crps(c.said, c.happened) for c in found if c.said is not None]
    return float(np.mean(told)) if told else 0.0
