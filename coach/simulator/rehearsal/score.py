"""The score of a rehearsal: a pure function of what was typed, what truly happened, and the drill.

Each part is a share from 0 to 1 with a weight; points are their weighted mean times 100, less what hints and needless
moves cost.  Parts that a drill gives no occasion for are left out.  Every number here is this project's own choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final

import numpy as np

from coach.cues.table import CUES
from coach.forecast.control_inputs import is_planned
from coach.logbook.text.text_table import signed
from coach.roast.entries import Note
from coach.roast.profile import Profile
from coach.roast.roast import Numbered, Roast
from coach.roast.units import clock, from_kelvins
from coach.simulator.rehearsal.inject import Truth
from coach.simulator.rehearsal.model import Drill, Notice
from coach.verification.cue_outcomes import OutcomeLine
from coach.verification.cue_rules import JUDGES

HINT: Final = "hint"
"""The text of the note that requests a hint."""
HINT_COST: Final = 5.0
MOVE_COST: Final = 1.0
FREE_MOVES: Final = 4
"""Number of moves beyond the plan's that cost nothing."""
TURNED: Final = 100.0
"""Roast time from which on readings are compared with the band [s]."""
ANSWERS: Final = {"answered in time": 1.0, "late": 0.5, "not answered": 0.0}
"""Worth of each answer to a cue."""
PATIENCE: Final = 15.0
"""Time by which the answer to a cue may exceed the time available [s]."""
ANNOUNCED: Final = frozenset({"charge near", "yellow near", "crack near", "drop near"})
"""Cues that announce what comes by itself, and ask for nothing."""
SEEN_AT_ONCE, TOO_LATE = 15.0, 150.0
"""Times within which noticing is worth everything, and after which nothing [s]."""
LENGTH: Final = ("longer than", "shorter than")
"""Words for a time that was longer or shorter than another."""
MEANING: Final = {
    "stopping": "Gas off and a note 'stop' as soon as there was danger.",
    "first crack": "First crack, as it truly came, beside the plan's time.",
    "call of crack": "The moment at which you marked first crack, beside the true onset.",
    "call of yellow": "The moment at which you marked yellow, beside the true one.",
    "development": "The time from the true first crack to the drop, beside the plan's.",
    "drop temperature": "A faultless probe's temperature at the drop, beside the plan's.",
    "inside the band": "The share of the time, from the turn to the drop, in which a faultless probe was within the "
    "plan's tolerance.",
    "readings": "The share of the time in which your last reading was fresh enough.",
    "noticing": "The time until your entries showed that you had noticed what happened.",
    "cues": "Your answers to the cues that asked for something, were true and left time. The list "
    "below has all, judged as in the review.",
}
"""Each part in a sentence."""


@dataclass(frozen=True)
class Part:
    """One part of a score: a share 0..1, its weight, and in words what was found."""

    name: str
    share: float
    weight: float
    text: str


@dataclass(frozen=True)
class Score:
    """The score of a rehearsal, and its figures.

    Seconds: ``crack_off`` true onset less plan, ``call_off`` the call less the true onset, ``yellow_off`` likewise,
    ``develop_off`` true development less plan, ``notice`` from when there was something to notice; None where not
    known.  ``drop_off`` K, true probe at drop less plan (which moves with the crack of the lot).  ``inside`` share of
    time inside the band.
    """

    points: float
    parts: tuple[Part, ...]
    crack_off: float | None = None
    call_off: float | None = None
    yellow_off: float | None = None
    develop_off: float | None = None
    drop_off: float | None = None
    inside: float | None = None
    notice: float | None = None
    moves: int = 0
    readings: int = 0
    hints: int = 0


def score(
    roast: Roast,
    entries: Sequence[Numbered],
    truth: Truth,
    profile: Profile,
    drill: Drill | None = None,
    cues: Sequence[OutcomeLine] = (),
    own: Sequence[int] | None = None,
    helped: Sequence[int] = (),
) -> Score:
    """The score of one rehearsal.

    ``roast`` is the fold of the ``entries`` in force; ``own`` the lines the person typed (all if None): readings,
    moves and hints of a simulated colleague do not count.  ``helped`` are the lines typed for the person in a jump:
    they keep the readings fresh, no more.  ``cues``: the cues of the roast, as the review has them.
    """
    mine = [n for n in entries if own is None or n.line in set(own)]
    lines = {n.line for n in mine}
    hints = sum(1 for n in mine if isinstance(n.entry, Note) and n.entry.text.strip().lower() == HINT)
    noticed = _noticed(roast, mine, truth, profile, drill)
    if drill is not None and drill.kind == "safety":
        text = "never stopped" if noticed is None else f"stopped after {noticed:.0f} s"
        part = Part("stopping", fall(noticed, SEEN_AT_ONCE, TOO_LATE), 1.0, text)
        points = max(0.0, 100.0 * part.share - HINT_COST * hints)
        return Score(round(points, 1), (part,), notice=noticed, hints=hints)
    begun = drill.handover.at if drill is not None and drill.handover is not None else 0.0
    start = max(TURNED, begun)
    shift = drill.day.crack_shift if drill is not None else 0.0
    figures = _figures(roast, truth, profile, shift)
    parts = _curve_parts(figures, profile, shift)
    inside = _inside(truth, profile, start)
    parts.append(Part("inside the band", inside, 25.0, f"{100 * inside:.0f} % of the time"))
    regular = _regular(roast, lines | set(helped), profile, start)
    parts.append(Part("readings", regular, 10.0, f"a fresh one for {100 * regular:.0f} % of the time"))
    if drill is not None and drill.notice is not None:
        text = "not noticed" if noticed is None else f"noticed after {noticed:.0f} s"
        parts.append(Part("noticing", fall(noticed, SEEN_AT_ONCE, TOO_LATE), 25.0, text))
    answers = [answer for c in cues if (answer := answer_to(c))]
    if answers:
        text = ", ".join(f"{n} {answer}" for answer in ANSWERS if (n := answers.count(answer)))
        parts.append(Part("cues", fmean(ANSWERS[answer] for answer in answers), 10.0, text))
    moves = sum(1 for m in roast.moves if m.line in lines and m.t > 5.0)
    planned = sum(1 for s in profile.steps if s.time > max(5.0, begun))
    cost = HINT_COST * hints + MOVE_COST * max(0, moves - planned - FREE_MOVES)
    points = 100.0 * sum(p.share * p.weight for p in parts) / sum(p.weight for p in parts) - cost
    return Score(
        round(max(0.0, points), 1),
        tuple(parts),
        **figures,
        inside=inside,
        notice=noticed,
        moves=moves,
        readings=sum(1 for r in roast.readings if r.line in lines),
        hints=hints,
    )


def answer_to(cue: OutcomeLine) -> str:
    """The answer to a cue, one of :data:`ANSWERS`; '' if it asked for nothing, was false or left no time."""
    asks = cue.heard and cue.cue in JUDGES and cue.cue not in ANNOUNCED
    if not asks or cue.outcome in ("false", "late"):
        return ""
    if cue.outcome == "already acting":
        return "answered in time"
    if cue.acted is None:
        return "not answered"
    return "answered in time" if cue.acted <= CUES[cue.cue].time_available + PATIENCE else "late"


def fall(off: float | None, full: float, none: float) -> float:
    """1 up to ``full``, 0 from ``none`` on, straight between; 0 if there is nothing."""
    if off is None:
        return 0.0
    return float(np.clip((none - abs(off)) / (none - full), 0.0, 1.0))


# ── parts ───────────────────────────────────────────────────────────────────────────────────────────────────────────


def _figures(roast: Roast, truth: Truth, profile: Profile, shift: float) -> dict[str, float | None]:
    base, goal = truth.charge, profile.goals.get("first crack")

    def called(event: str, true: float | None) -> float | None:
        at = roast.marks.get(event)  # type: ignore[call-overload]
        return None if at is None or true is None or roast.charge_at is None else roast.charge_at + at - true

    crack = None if truth.first_crack is None or base is None else truth.first_crack - base
    develop = None if truth.drop is None or truth.first_crack is None else truth.drop - truth.first_crack
    return {
        "crack_off": None if crack is None or goal is None else crack - goal.time,
        "call_off": called("first crack", truth.first_crack),
        "yellow_off": called("yellow", truth.yellow),
        "develop_off": None if develop is None or profile.development is None else develop - profile.development,
        "drop_off": None
        if truth.drop is None
        else float(np.interp(truth.drop, truth.times, truth.probe)) - profile.drop_temperature - shift,
    }


def _curve_parts(f: dict[str, float | None], profile: Profile, shift: float) -> list[Part]:
    goal = profile.goals.get("first crack")
    tolerance = goal.time_tolerance if goal is not None else 20.0
    drop, kelvins = profile.document.drop, profile.drop_tolerance
    on_time = Part("first crack", fall(f["crack_off"], 5.0, 3 * tolerance), 15.0, _off(f["crack_off"]))
    off, unit = f["drop_off"], profile.unit
    hot = "did not come" if off is None else f"{signed(from_kelvins(off, unit))} °{unit} against plan"
    return [
        *([] if shift else [on_time]),  # a lot that cracks elsewhere can't crack at the plan's time
        Part("call of crack", fall(f["call_off"], 3.0, 30.0), 15.0, _off(f["call_off"], "the true onset")),
        Part("call of yellow", fall(f["yellow_off"], 5.0, 60.0), 5.0, _off(f["yellow_off"], "the true yellow")),
        Part(
            "development",
            fall(f["develop_off"], 3.0, 3 * drop.time_tolerance),
            10.0,
            _off(f["develop_off"], "planned", LENGTH),
        ),
        Part("drop temperature", fall(f["drop_off"], 1.0, 4 * kelvins), 10.0, hot),
    ]


def _off(value: float | None, than: str = "the plan's time", words: tuple[str, str] = ("after", "before")) -> str:
    """Text: seconds by which something came after or before another moment, or was longer or shorter."""
    if value is None:
        return "did not come"
    return f"{abs(value):.0f} s {words[0] if value >= 0 else words[1]} {than}" if abs(value) >= 0.5 else "on time"


def _inside(truth: Truth, profile: Profile, start: float) -> float:
    """Share of the whole seconds from ``start`` to drop in which the true probe was inside the band."""
    end = float(truth.times[-1]) if truth.drop is None else truth.drop
    if truth.charge is None or end - truth.charge <= start:
        return 0.0
    t = np.arange(start, end - truth.charge)
    probe = np.interp(truth.charge + t, truth.times, truth.probe)
    plan = profile.curve.at(t)
    band = profile.bands(t)
    return float((np.abs(probe - plan) <= band).mean())


def _regular(roast: Roast, lines: set[int], profile: Profile, start: float) -> float:
    """Share of the time in which a reading of the person's was no older than one and a half of the intervals."""
    end = roast.marks.get("drop")
    if end is None or end <= start:
        return 0.0
    times = [-np.inf, *(r.t for r in roast.readings if r.line in lines)]
    t = np.arange(start, end)
    age = t - np.array(times)[np.searchsorted(times, t, side="right") - 1]
    interval = np.array([getattr(profile.document.cadence, profile.planned_phase(x)) for x in t])
    return float((age <= 1.5 * interval).sum() / (end - start))


# ── noticing ────────────────────────────────────────────────────────────────────────────────────────────────────────


def _noticed(
    roast: Roast, mine: Sequence[Numbered], truth: Truth, profile: Profile, drill: Drill | None
) -> float | None:
    """Seconds from when there was something to notice until the person showed it; None if never."""
    if drill is None or drill.notice is None:
        return None
    since = _since(truth, profile, drill)
    if since is None:
        return None
    begun = since
    if drill.notice_from == "limit" and truth.happened:  # whoever stops before the limit has noticed in time
        begun = truth.happened[0]
    elif drill.notice_from == "charge" and truth.charge is not None:
        begun = truth.charge
    base = roast.charge_at or 0.0
    lines = {n.line for n in mine}
    times = [n.entry.came for n in mine if _note(n, drill.notice)]
    times += [base + m for m in _moves(roast, lines, profile, drill.notice, begun - base)]
    if drill.notice.reading:
        times += [base + r.t for r in roast.readings if r.line in lines]
    after = [t for t in times if t >= begun]
    return max(0.0, min(after) - since) if after else None


def _since(truth: Truth, profile: Profile, drill: Drill) -> float | None:
    if drill.notice_from == "start":
        return 0.0
    if drill.notice_from == "injection":
        return truth.happened[0] if truth.happened else None
    if truth.charge is None:
        return None
    if drill.notice_from == "handover" and drill.handover is not None:
        return truth.charge + drill.handover.at
    if drill.notice_from == "limit":
        over = np.flatnonzero((truth.probe >= profile.safety) & (truth.times > truth.charge + TURNED))
        return float(truth.times[over[0]]) if len(over) else float(truth.times[-1])
    return truth.charge + TURNED  # before the probe has turned nothing can be seen


def _note(n: Numbered, notice: Notice) -> bool:
    if not isinstance(n.entry, Note):
        return False
    text = n.entry.text.strip().lower()
    return (notice.note and text != HINT) or (notice.stop and text.startswith("stop"))


def _moves(roast: Roast, lines: set[int], profile: Profile, notice: Notice, after: float) -> list[float]:
    """Roast times of the moves that show it; before the first move a control is where the plan starts.

    A planned move near its time shows nothing.
    """
    out: list[float] = []
    before: dict[str, float] = {s.control: s.value for s in reversed(profile.steps) if s.time <= 5.0}
    for move in sorted(roast.moves, key=lambda m: m.t):
        old = before.get(move.control)
        before[move.control] = move.value
        if move.line not in lines or move.t < after or is_planned(profile, roast, move):
            continue
        more = notice.more == move.control and old is not None and move.value > old
        less = notice.less == move.control and old is not None and move.value < old
        if more or less or (notice.stop and move.control == "gas" and move.value == 0.0):
            out.append(move.t)
    return out


# ── in words ────────────────────────────────────────────────────────────────────────────────────────────────────────


def lines_of(result: Score, truth: Truth, drill: Drill | None) -> list[str]:
    """The score as it is printed after a rehearsal."""
    out = [f"SCORE {result.points:.0f} of 100"]
    width = max(len(p.name) for p in result.parts)
    out += [f"  {p.name:<{width}}  {100 * p.share:3.0f} %  {p.text}" for p in result.parts]
    counts = ((result.readings, "reading"), (result.moves, "move"), (result.hints, "hint"))
    if drill is None or drill.kind != "safety":
        out.append("  " + ", ".join(f"{n} {word}{'' if n == 1 else 's'}" for n, word in counts))
    if truth.charge is not None and truth.first_crack is not None:
        began = clock(truth.first_crack - truth.charge)
        out.append(f"  first crack truly began at {began}; mass loss {100 * truth.mass_loss:.1f} %")
    return out
