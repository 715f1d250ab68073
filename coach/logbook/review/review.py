"""Review of one roast: against its reference, by the clock and by its events.  Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isclose
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from coach.logbook.index.summary import Summary, summarise
from coach.roast.entries import EVENTS, Event
from coach.roast.profile import Profile, Step
from coach.roast.reading_checks import plausible
from coach.roast.roast import Roast
from coach.roast.units import TemperatureUnit, clock, from_celsius, from_kelvins, number
from coach.verification.aggregate import ScoredForecast

if TYPE_CHECKING:
    from coach.verification.advice_outcomes import AdviceOutcome
    from coach.verification.cue_outcomes import OutcomeLine

Array = NDArray[np.float64]
ON_TIME: Final = 15.0
"""Distance from its planned time up to which a move was made as planned, s."""
ALIGNED: Final = tuple(e for e in EVENTS if e not in ("charge", "second crack"))
"""Events on which roasts are aligned: most never reach the second crack."""
FAR: Final = 1e5
"""Time beyond all of a roast's, s."""
LEADS: Final = (
    *(("first crack", lead) for lead in (180, 120, 60)), *(("drop time", lead) for lead in (90, 60, 30)),
)  # fmt: skip
"""Forecasts that are shown, and their leads, s."""


@dataclass(frozen=True)
class ReviewMilestone:
    """One event: times in s, temperatures in °C; None where plan or roast has none."""

    event: Event
    planned: float | None
    actual: float | None
    planned_celsius: float | None
    celsius: float | None
    time_tolerance: float | None = None
    temperature_tolerance: float | None = None

    @property
    def late(self) -> float | None:
        """Seconds later (+) or earlier (-) than planned."""
        return None if self.planned is None or self.actual is None else self.actual - self.planned

    @property
    def hotter(self) -> float | None:
        """K above (+) or below (-) the plan."""
        if self.planned_celsius is None or self.celsius is None:
            return None
        return self.celsius - self.planned_celsius


@dataclass(frozen=True)
class PhaseSpan:
    """Length of a phase, planned and actual, s; None where its ends are not marked."""

    name: str
    planned: float | None
    actual: float | None


@dataclass(frozen=True)
class Review:
    """All that the review shows.

    ``t`` (n,) s and ``celsius`` (n,) are the readings without mistyped ones; the two ``off`` arrays are their
    difference (K) from the reference at the same time, and at the same place between events.
    """

    profile: Profile
    roast: Roast
    summary: Summary
    milestones: tuple[ReviewMilestone, ...]
    phases: tuple[PhaseSpan, ...]
    t: Array
    celsius: Array
    off_by_clock: Array
    off_by_events: Array
    differences: tuple[str, ...]
    forecasts: tuple[ScoredForecast, ...] = ()
    """Issued forecasts at the ``LEADS``."""
    cues: tuple[OutcomeLine, ...] = ()
    heard: bool = False
    """True if the cues are those that sounded, from the record; False if they are computed from the journal."""
    advised: tuple[AdviceOutcome, ...] = ()
    """The moves that were advised, computed from the journal."""
    proposal: str = ""
    learnt_from: int = 0
    """Number of earlier roasts that the coach had learnt from."""
    put_aside: int = 0
    """Number of earlier roasts that it had not learnt from, since learning made forecasts worse."""
    taught: str = ""
    """Effect of this roast's evidence, in a sentence; '' where there is none, or it was not computed."""

    @property
    def basis(self) -> str:
        """Inputs of the forecasts beside the profile, in words."""
        if self.put_aside:
            return f"{self.put_aside} earlier roasts not used: learning from them made forecasts worse"
        n = self.learnt_from
        return f"learnt from {n} earlier roast{'s' if n != 1 else ''}" if n else "without earlier roasts"


def warp(t: Array | float, a: Mapping[Event, float], b: Mapping[Event, float]) -> Array:
    """Times ``t`` (s) of roast a as times of roast b: straight between charge and the events that both have, in step
    beyond the last; events out of order in either are left out."""
    xs, ys = [-FAR, 0.0], [-FAR, 0.0]
    for event in ALIGNED:
        if event in a and event in b and a[event] > xs[-1] and b[event] > ys[-1]:
            xs.append(a[event])
            ys.append(b[event])
    return np.asarray(np.interp(t, [*xs, xs[-1] + FAR], [*ys, ys[-1] + FAR]))


def review(profile: Profile, roast: Roast, file: str = "") -> Review:
    """Review a finished (or broken-off) roast against its profile."""
    summary = summarise(roast, file)
    readings = plausible(roast.readings)
    t = np.array([r.t for r in readings])
    celsius = np.array([r.celsius for r in readings])
    planned = plan_events(profile)
    happened = dict(roast.marks)
    if summary.turning_time is not None:
        happened.setdefault("turning point", summary.turning_time)
    rows = milestones(profile, summary)
    return Review(
        profile, roast, summary, rows, phases(planned, happened), t, celsius,
        celsius - profile.curve.at(t) if len(t) else t,
        celsius - profile.curve.at(warp(t, happened, planned)) if len(t) else t,
        tuple(differences(profile, roast, rows, t, celsius)[:3]),
    )  # fmt: skip


def shown(forecasts: Sequence[ScoredForecast]) -> tuple[ScoredForecast, ...]:
    """The forecasts at the ``LEADS``, in that order."""
    return tuple(r for wanted in LEADS for r in forecasts if (r.what, r.lead) == wanted)


def plan_events(profile: Profile) -> dict[Event, float]:
    """The times of the plan's events, s."""
    events: dict[Event, float] = {"charge": 0.0}
    events.update({e: g.time for e, g in profile.goals.items()})
    events.setdefault("turning point", profile.curve.turning_point[0])
    events.setdefault("drop", profile.drop_time)
    return events


def milestones(profile: Profile, s: Summary) -> tuple[ReviewMilestone, ...]:
    """The table of milestones that plan or roast has."""
    out = []
    for event, (time, celsius) in s.events.items():
        goal = profile.goals.get(event)
        if event == "charge":
            usual = profile.charge_temperature
            out.append(ReviewMilestone(event, 0.0, time, usual, celsius, None, profile.charge_tolerance))
        elif goal is not None:
            out.append(
                ReviewMilestone(
                    event, goal.time, time, goal.temperature, celsius, goal.time_tolerance, goal.temperature_tolerance
                )
            )
        elif time is not None:
            out.append(ReviewMilestone(event, None, time, None, celsius))
    return tuple(out)


def phases(planned: dict[Event, float], happened: dict[Event, float]) -> tuple[PhaseSpan, ...]:
    """Drying, browning and development, planned and actual."""
    spans: tuple[tuple[str, Event, Event], ...] = (
        ("drying", "charge", "yellow"),
        ("browning", "yellow", "first crack"),
        ("development", "first crack", "drop"),
    )

    def long(events: dict[Event, float], a: Event, b: Event) -> float | None:
        return events[b] - events[a] if a in events and b in events else None

    return tuple(PhaseSpan(name, long(planned, a, b), long(happened, a, b)) for name, a, b in spans)


def differences(profile: Profile, roast: Roast, rows: Sequence[ReviewMilestone], t: Array, celsius: Array) -> list[str]:
    """Deviations from the plan in words, the largest (in tolerances) first."""
    unit = roast.header.unit
    found: list[tuple[float, str]] = []
    for m in rows:
        late, hotter = m.late, m.hotter
        if late is not None and m.time_tolerance and m.actual is not None and m.planned is not None and abs(late) >= 1:
            text = f"{m.event} came {clock(abs(late))} {'later' if late > 0 else 'earlier'} than planned"
            found.append((abs(late) / m.time_tolerance, f"{text} ({clock(m.actual)}, plan {clock(m.planned)})"))
        if hotter is not None and m.temperature_tolerance and m.celsius is not None and m.planned_celsius is not None:
            what = f"{degrees(m.celsius, unit)}, plan {degrees(m.planned_celsius, unit)}"
            word = "hotter" if hotter > 0 else "cooler"
            text = f"the probe read {number(from_kelvins(abs(hotter), unit))} °{unit} {word} at {m.event} ({what})"
            if abs(hotter) >= 0.5:
                found.append((abs(hotter) / m.temperature_tolerance, text))
    found += _development(profile, roast)
    found += _farthest(profile, roast, t, celsius)
    found += [(1.2 if off is None else abs(off) / 30.0, text) for _, off, text in moves_off(profile, roast)]
    return [text[0].upper() + text[1:] + "." for _, text in sorted(found, key=lambda f: -f[0])]


def _development(profile: Profile, roast: Roast) -> list[tuple[float, str]]:
    actual, planned = roast.development, profile.development
    if actual is None or planned is None or abs(actual - planned) < 1:
        return []
    word = "longer" if actual > planned else "shorter"
    text = f"development was {clock(abs(actual - planned))} {word} ({clock(actual)}, plan {clock(planned)})"
    return [(abs(actual - planned) / profile.document.drop.time_tolerance, text)]


def _farthest(profile: Profile, roast: Roast, t: Array, celsius: Array) -> list[tuple[float, str]]:
    """The reading farthest outside the band, past the turning point."""
    late = t > profile.curve.turning_point[0] + 30
    if not late.any():
        return []
    off = (celsius - profile.curve.at(t))[late]
    band = profile.bands(t[late])
    i = int(np.argmax(np.abs(off) / band))
    unit = roast.header.unit
    text = (
        f"at {clock(float(t[late][i]))} the probe was {number(from_kelvins(abs(float(off[i])), unit))} °{unit} "
        f"{'above' if off[i] > 0 else 'below'} the reference"
    )
    return [(abs(float(off[i])) / float(band[i]), text)]


def moves_off(profile: Profile, roast: Roast) -> list[tuple[Step, float | None, str]]:
    """Planned moves made at another time (s later, earlier negative), or not at all (None), in words."""
    out: list[tuple[Step, float | None, str]] = []
    end = roast.marks.get("drop", roast.readings[-1].t if roast.readings else 0.0)
    for step in profile.steps:
        due = step.time
        if step.event in ("first crack", "yellow") and step.event in roast.marks:
            due = roast.marks[step.event] + step.after
        if due <= 1 or due > end or step.temperature is not None:
            continue
        name = setting(profile, step)
        same = [
            m.t - due for m in roast.moves if m.control == step.control and isclose(m.value, step.value, abs_tol=1e-6)
        ]
        off = min((t for t in same if abs(t) < 150), key=abs, default=None)
        if off is None:
            out.append((step, None, f"{name}, planned for {clock(due)}, was not set"))
        elif abs(off) > ON_TIME:
            word = "later" if off > 0 else "earlier"
            out.append((step, off, f"{name} was set {clock(abs(off))} {word} than planned ({clock(due)})"))
    return out


def setting(profile: Profile, step: Step) -> str:
    """A planned setting in words."""
    unit = f" {profile.document.pressure_unit}" if step.control == "gas" else ""
    return f"{step.control} {number(step.shown, 3)}{unit}"


def unplanned(profile: Profile, roast: Roast) -> list[str]:
    """Moves that were not made as planned, in words."""
    said = [text[0].upper() + text[1:] + "." for _, _, text in moves_off(profile, roast)]
    for m in roast.moves:
        known = [s for s in profile.steps if s.control == m.control and isclose(s.value, m.value, abs_tol=1e-6)]
        if not known:
            unit = f" {roast.header.pressure_unit}" if m.control == "gas" else ""
            said.append(
                f"{m.control} {number(m.shown, 3)}{unit} was set at {clock(m.t)}; the plan has no such setting."
            )
    return said


def degrees(celsius: float, unit: TemperatureUnit) -> str:
    """A temperature with its unit."""
    return f"{number(from_celsius(celsius, unit), 0)} °{unit}"
