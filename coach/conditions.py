"""When each cue is true: pure judgements of one situation, with the text that gives the evidence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from coach.forecast_types import EventForecast
from coach.situation import Situation
from coach.units import clock, from_celsius, from_kelvins, number

SURE: Final = 0.70
"""A predictive cue sounds from this probability on (Wickens and Dixon 2007, TIES 8:201)."""
MAYBE: Final = 0.40
NEEDED: Final = 20.0
"""Seconds that it takes to hear, decide, move and have the roast answer."""
RECOVERY: Final = 45.0
"""Seconds that a corrective move gets before its direction is asked for again."""


@dataclass(frozen=True)
class Verdict:
    """A condition that is true: its text, whether it may sound, and how bad it is (in bands; 1 at the edge)."""

    text: str
    loud: bool = True
    badness: float = 1.0
    key: float = 0.0
    """What makes it a new episode (a move's due time, say)."""


def _window(f: EventForecast, plan: float) -> str:
    return f"{clock(f.time.q10)}-{clock(f.time.q90)}, plan {clock(plan)}"


def _moved(s: Situation, direction: float) -> bool:
    """Whether gas was moved in a direction within the recovery time."""
    assert s.t is not None
    gas = [m for m in s.roast.moves if m.control == "gas" and m.t <= s.t]
    if len(gas) < 2:
        return False
    change = gas[-1].value - gas[-2].value
    return s.t - gas[-1].t <= RECOVERY and change * direction > 0


def _crack(s: Situation, early: bool) -> Verdict | None:
    f, goal = s.forecast.first_crack, s.profile.goals.get("first crack")
    if f is None or goal is None or s.t is None:
        return None
    p = f.p_early if early else f.p_late
    if p is None or p < MAYBE:
        return None
    left = f.time.median - s.t
    text = "crack " + _window(f, goal.time)
    if left < NEEDED:
        return Verdict(text + ": too late to correct, look after drop", loud=False)
    return Verdict(text, loud=p >= SURE and not _moved(s, -1.0 if early else 1.0), badness=p)


def _band(s: Situation, sign: float) -> Verdict | None:
    if s.t is None or s.t < s.profile.curve.turning_point[0] + 20 or s.forecast.deviation is None:
        return None
    kept = [r for r in s.roast.readings if s.estimate is None or r.line not in s.estimate.doubtful]
    if not kept or s.t - kept[-1].t > 120:
        return None
    width = s.profile.band(s.t, s.roast.phase)
    off = [sign * (r.celsius - s.profile.curve.value(r.t)) / s.profile.band(r.t, s.roast.phase) for r in kept[-2:]]
    if not (off[-1] > 2 or (len(off) == 2 and min(off) > 1)):
        return None
    unit = s.roast.header.unit
    shown = number(abs(from_kelvins(off[-1] * width, unit)), 0)
    side = "above" if sign > 0 else "below"
    return Verdict(f"{shown} °{unit} {side} plan", loud=not _moved(s, -sign), badness=off[-1])


def _safety(s: Situation) -> Verdict | None:
    doubtful = s.estimate.doubtful if s.estimate else {}
    kept = [r for r in s.roast.readings if r.line not in doubtful]
    last = kept[-1] if kept else None
    if last is None or last.celsius < s.profile.safety:
        return None
    unit = s.roast.header.unit
    return Verdict(f"{number(from_celsius(last.celsius, unit), 0)} °{unit}: over the limit", key=last.t)


def _drop_due(s: Situation) -> float | None:
    f = s.forecast.drop
    return None if f is None or s.t is None else f.time.median


def _drop(s: Situation, state: str) -> Verdict | None:
    if s.roast.phase != "development" or s.t is None or s.forecast.drop is None:
        return None
    crack = s.roast.marks["first crack"]
    rule, unit = s.profile.document.drop, s.roast.header.unit
    temperature = s.estimate.temperature if s.estimate else 0.0
    if rule.by == "temperature":
        rate = max(s.estimate.rate if s.estimate else 0.0, 0.01)
        left = (s.profile.drop_temperature - temperature) / rate
        over = (temperature - s.profile.drop_temperature) / from_tolerance(s)
        goal = f"drop at {number(rule.temperature, 0)} °{s.profile.unit}"
        text = f"{number(from_celsius(temperature, unit), 0)} °{unit}, {goal}"
    else:
        due = crack / (1 - rule.ratio) if rule.by == "ratio" and rule.ratio else crack + (s.profile.development or 90.0)
        left, over = due - s.t, (s.t - due) / rule.time_tolerance
        text = f"development {clock(s.t - crack)}, drop at {clock(due)}"
    if state == "near":
        return Verdict(text) if 0 < left <= 30 else None
    if state == "now":
        return Verdict(text) if left <= 0 and over <= 1 else None
    return Verdict(text) if over > 1 else None


def from_tolerance(s: Situation) -> float:
    """The tolerance of the drop temperature, K."""
    from coach.units import to_kelvins

    return to_kelvins(s.profile.document.drop.temperature_tolerance, s.profile.unit)


def _near(s: Situation, which: str) -> Verdict | None:
    f = s.forecast.yellow if which == "yellow" else s.forecast.first_crack
    if f is None or s.t is None:
        return None
    left = f.time.median - s.t
    lead = 30.0 if which == "yellow" else max(40.0, 1.5 * f.time.sd)
    return Verdict(f"{which} {clock(f.time.q10)}-{clock(f.time.q90)}") if left <= lead else None


def _move_due(s: Situation) -> Verdict | None:
    m = s.next_move
    if m is None or m.until > 10 or m.until < -60:
        return None
    return Verdict(f"{m.step.control} to {number(m.step.shown, 2)} at {clock(m.due)}", key=m.due)


def _charge_near(s: Situation) -> Verdict | None:
    if s.preheat is None:
        return None
    left = s.preheat.ready_at - s.at
    return Verdict(f"charge temperature in {clock(max(left, 0))}") if left <= 30 else None


def _reading_due(s: Situation) -> Verdict | None:
    if s.typing or s.t is None or s.t < 20:
        return None
    cadence = float(getattr(s.profile.document.cadence, s.roast.phase, 60.0))
    last = s.roast.readings[-1].t if s.roast.readings else 0.0
    return Verdict(f"last reading {clock(s.t - last)} ago", key=last) if s.t - last > cadence * 1.25 else None


def _doubtful(s: Situation) -> Verdict | None:
    if s.estimate is None or not s.estimate.doubtful or s.t is None or not s.roast.readings:
        return None
    last = s.roast.readings[-1]
    reason = s.estimate.doubtful.get(last.line)
    return None if reason is None else Verdict(f"{number(last.shown)} kept out: {reason}", loud=False, key=last.t)


def _share(p: float | None, text: str) -> Verdict | None:
    return None if p is None or p < MAYBE else Verdict(text, loud=p >= SURE, badness=p)


CONDITIONS: Final[dict[str, Callable[[Situation], Verdict | None]]] = {
    "over safety limit": _safety,
    "drop overdue": lambda s: _drop(s, "overdue"),
    "drop now": lambda s: _drop(s, "now"),
    "drop near": lambda s: _drop(s, "near"),
    "crack early": lambda s: _crack(s, True),
    "crack late": lambda s: _crack(s, False),
    "stalling": lambda s: None if _moved_after(s, 1.0) else _share(s.forecast.stall, "rise is dying before drop"),
    "racing": lambda s: None if _moved_after(s, -1.0) else _share(s.forecast.racing, "rise too fast after crack"),
    "too hot": lambda s: _band(s, 1.0),
    "too cool": lambda s: _band(s, -1.0),
    "move due": _move_due,
    "charge near": _charge_near,
    "yellow near": lambda s: _near(s, "yellow"),
    "crack near": lambda s: _near(s, "first crack"),
    "reading due": _reading_due,
    "reading doubtful": _doubtful,
}


def _moved_after(s: Situation, direction: float) -> bool:
    return s.t is None or _moved(s, direction)
