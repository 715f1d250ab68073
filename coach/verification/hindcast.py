"""How far the forecast can be trusted: forecasts as they were made, against what then happened.  Pure.

A forecast is made at some time (the *lead*) before the event, from the entries that had come in by then.  Beside it
stands what a person could say without the coach (``baselines``).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.forecast.distribution import Distribution
from coach.forecast.estimator import climb
from coach.forecast.knowledge import Knowledge
from coach.forecast.learning import HISTORY, Lesson, from_lessons, from_profile, lessons_of
from coach.forecast.predictor import Outlook
from coach.forecast.values import READ_BEFORE, Estimate, Forecast
from coach.roast.curve import crossing
from coach.roast.entries import Header
from coach.roast.errors import EntryError
from coach.roast.profile import Profile
from coach.roast.roast import Numbered, Roast, effective, fold
from coach.verification.aggregate import BASELINES, Row, Said, Score, What, sentences, tally
from coach.verification.reference_forecasts import Made, crack_others, drop_others, past_mean, way
from coach.verification.scores import crps

__all__ = [
    "BASELINES", "Case", "Finished", "Row", "Score", "cases", "learning_pays", "left_out", "row", "scores", "sentences",
]  # fmt: skip
Array = NDArray[np.float64]
CRACK_LEADS: Final = (180, 150, 120, 90, 60, 30)
DROP_LEADS: Final = (90, 60, 30)
"""Seconds before the event at which forecasts are looked at."""
LEARNING_LEADS: Final = tuple(lead for lead in CRACK_LEADS if lead <= 150)
"""Those by which it is checked whether learning pays."""
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


@dataclass(frozen=True)
class Spoken:
    """What was said at one moment (None: nothing), and the lines of the readings that were kept out by then."""

    crack: Distribution | None = None
    drop: Distribution | None = None
    heat: Distribution | None = None
    doubtful: Collection[int] = ()

    @classmethod
    def of(cls, estimate: Estimate | None, forecast: Forecast) -> Spoken:
        """What an estimate and a forecast say."""
        crack, drop = forecast.first_crack, forecast.drop
        return cls(
            None if crack is None else crack.time,
            None if drop is None else drop.time,
            None if drop is None else drop.temperature,
            estimate.doubtful if estimate is not None else (),
        )


Speaker = Callable[[float, Roast], Spoken]
"""Asked at a roast time (s), with the roast as it was known then, in the order of time."""


def cases(
    profile: Profile,
    knowledge: Knowledge,
    header: Header,
    entries: Sequence[Numbered],
    past: Sequence[Roast | Made] = (),
    truth: tuple[Array, Array] | None = None,
    *,
    crack_leads: Sequence[int] = CRACK_LEADS,
    drop_leads: Sequence[int] = DROP_LEADS,
) -> list[Case]:
    """The forecasts of one finished roast at each lead (s before).  ``truth`` is the probe's true way (roast time s,
    °C), where it is known (a simulator); else the readings stand for it."""
    roast = fold(header, effective(entries))
    outlook = Outlook(profile, knowledge, roast.rounding, needle=roast.needle)

    def speak(t: float, seen: Roast) -> Spoken:
        outlook.keep(_alike(outlook, seen))
        return Spoken.of(*outlook.at(t, seen, asking=False))

    made = [r if isinstance(r, Made) else Made.of(r, profile.curve) for r in past]
    return compared(profile, knowledge, header, entries, speak, made, truth,
                    crack_leads=crack_leads, drop_leads=drop_leads)  # fmt: skip


def compared(
    profile: Profile,
    knowledge: Knowledge,
    header: Header,
    entries: Sequence[Numbered],
    speak: Speaker,
    past: Sequence[Made] | None,
    truth: tuple[Array, Array] | None = None,
    *,
    crack_leads: Sequence[int] = CRACK_LEADS,
    drop_leads: Sequence[int] = DROP_LEADS,
) -> list[Case]:
    """What somebody said of one finished roast at each lead, against what happened and what others would have said.

    ``past`` None: the past roasts' mean is left out.  ``knowledge`` is for the floor alone.
    """
    roast = fold(header, effective(entries))
    if roast.charge_at is None or len(roast.readings) < 4:
        return []
    went = truth if truth is not None else way(roast, profile.curve)
    after = 0.0 if truth is not None else READ_BEFORE
    out: list[Case] = []
    crack, drop = roast.marks.get("first crack"), roast.marks.get("drop")
    moments: list[tuple[float, int, bool]] = []
    if crack is not None and "first crack" in profile.goals:
        moments += [(crack - lead, lead, False) for lead in crack_leads]
    if drop is not None:
        moments += [(drop - lead, lead, True) for lead in drop_leads]
    floor = _floor(knowledge, went, after)
    for t, lead, at_drop in sorted(moments):
        seen = _seen(header, entries, roast.charge_at + t)
        if seen is None or t < 30:
            continue
        spoken = speak(t, seen)
        readings = [r for r in seen.readings if r.line not in spoken.doubtful and r.t <= t]
        if len(readings) < 2:
            continue

        def beside(what: What, others: dict[str, float], t: float = t, seen: Roast = seen) -> dict[str, float]:
            if past is not None:
                others["past roasts"] = past_mean(what, others, past, t, seen.marks.get("first crack"))
            return others

        if not at_drop and crack is not None:
            others = beside("first crack", crack_others(profile, readings, t))
            if floor is not None:
                others["floor"] = floor
            out.append(Case("first crack", lead, spoken.crack, crack, others))
        elif drop is not None:
            times, heats = drop_others(profile, readings, t, seen.marks.get("first crack"))
            out.append(Case("drop time", lead, spoken.drop, drop, beside("drop time", times)))
            hot = float(np.interp(drop + after, *went))
            out.append(Case("drop temperature", lead, spoken.heat, hot, beside("drop temperature", heats)))
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


def _floor(knowledge: Knowledge, went: tuple[Array, Array], after: float) -> float | None:
    """When the crack would have been said to come by someone who knew the probe's whole way, and not the beans.

    The levels were learnt from what was typed, so that the way is that of a typist who knows it ``after`` so long, s.
    """
    threshold = knowledge.thresholds.get("first crack")
    if threshold is None or len(went[0]) < 120:
        return None
    t, v = went
    rate = climb(lambda x: np.asarray(np.interp(x, t, v)), t, float(t[0]))
    late = t > 150.0
    if not late.any():  # it ended before any bean can crack
        return None
    gap = v[late] - threshold.level(rate[late])
    found = crossing(t[late], gap, 0.0)
    if found is not None:
        return found + after
    slope = max(float(rate[-1]), 0.02)
    return float(t[-1]) - float(gap[-1]) / slope + after


def row(case: Case) -> Row:
    """A case reduced to the numbers that scores need."""
    said = None if case.said is None else Said.of(case.said, case.happened)
    return Row(case.what, case.lead, said, case.happened, case.others)


def scores(found: Sequence[Case]) -> list[Score]:
    """All cases, by kind and lead."""
    return tally([row(c) for c in found])


# -- a person's own roasts ---------------------------------------------------------------------------------------------


Finished = tuple[Header, Sequence[Numbered], Roast]
Failed = Callable[[int, Exception], None]
"""Told the place of a roast that can't be computed, and why."""


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
    if lessons is None:
        lessons = lessons_of(profile, [r for _, _, r in roasts])
    found = _each_left_out(profile, roasts, lessons, crack_leads, drop_leads, None)
    return [c for one in found.values() for c in one]


def _each_left_out(
    profile: Profile,
    roasts: Sequence[Finished],
    lessons: Mapping[int, Lesson],
    crack_leads: Sequence[int],
    drop_leads: Sequence[int],
    failed: Failed | None,
) -> dict[int, list[Case]]:
    """See ``left_out``, by the place of the roast.  One that can't be computed is told to ``failed`` and is not there;
    without that the fault is raised."""
    made = [Made.of(r, profile.curve) for _, _, r in roasts]
    out: dict[int, list[Case]] = {}
    for i, (header, entries, _) in enumerate(roasts):
        others = [j for j in lessons if j != i][-HISTORY:]
        knowledge = from_lessons(profile, [lessons[j] for j in others]) if others else from_profile(profile)
        past = [made[j] for j in others]
        try:
            out[i] = cases(profile, knowledge, header, entries, past, crack_leads=crack_leads, drop_leads=drop_leads)
        except Exception as error:
            if failed is None:
                raise
            failed(i, error)
    return out


def learning_pays(
    profile: Profile,
    roasts: Sequence[Finished],
    lessons: Mapping[int, Lesson] | None = None,
    failed: Failed | None = None,
) -> bool:
    """Whether what the roasts teach makes forecasts of first crack better, not worse, each roast left out in turn.

    Below ``CHECKED_FROM`` roasts chance decides, and learning is trusted.  A roast that can't be computed is told to
    ``failed`` and left out; without that the fault is raised.
    """
    if len(roasts) < CHECKED_FROM:
        return True
    if lessons is None:
        lessons = lessons_of(profile, [r for _, _, r in roasts])
    with_it = _each_left_out(profile, roasts, lessons, LEARNING_LEADS, (), failed)
    without = _each_left_out(profile, roasts, {}, LEARNING_LEADS, (), failed)
    both = with_it.keys() & without.keys()
    learnt, plain = ([c for i in sorted(both) for c in found[i]] for found in (with_it, without))
    return _crack_crps(learnt) <= WORSE * _crack_crps(plain)


def _crack_crps(found: Sequence[Case]) -> float:
    told = [crps(c.said, c.happened) for c in found if c.said is not None]
    return float(np.mean(told)) if told else 0.0
