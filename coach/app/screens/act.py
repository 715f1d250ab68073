"""The text of the action band: one thing to do, its urgency, its deadline, and its key.  Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from coach.app.screens.words import SOON, headline, proposal, urgent
from coach.cues.evidence import crack_of, degrees, drop_due
from coach.cues.situation import ActiveCue, Situation
from coach.roast.units import Control, clock, from_celsius, number
from coach.session.settings import Action

Urgency = Literal["later", "soon", "now", "danger"]
MOST: Final = 3
"""Number of moves due together that are named, and logged, as one."""
Moves = tuple[tuple[Control, float], ...]


@dataclass(frozen=True)
class Act:
    """One thing to do: ``what`` (verb and target), ``until`` (s; None without a time), ``more`` (a second line), the
    key with its word, and the name of the cue that asks for it ('' for the plan)."""

    urgency: Urgency
    what: str
    until: float | None = None
    more: str = ""
    key: str = ""
    does: str = ""
    cue: str = ""
    next_in: float | None = None
    """Time until the next thing by plan and forecast, s; the same as ``until`` where this is the next thing."""
    moves: Moves = ()
    """Moves in either line that the key for a move that was made logs now, with their settings as shown; none where no
    line shows one that is due or advised."""
    words: str = ""
    """These moves in words, once they are logged."""

    @property
    def left(self) -> str:
        """The countdown in words."""
        if self.until is None:
            return ""
        return f"in {clock(self.until)}" if self.until >= 0.5 else "now" if self.until > -2.0 else "overdue"


def move_words(s: Situation, control: Control, shown: float) -> str:
    """A move in words, from and to: 'gas 1.6 → 1.2'."""
    old = next((m.shown for m in reversed(s.roast.moves) if m.control == control), None)
    if old is None or old == shown:
        return f"{control} to {number(shown, 2)}"
    places = max(len(number(x, 2).partition(".")[2]) for x in (old, shown))
    return f"{control} {old:.{places}f} → {shown:.{places}f}"


def logged(s: Situation, a: Act) -> tuple[Moves, str]:
    """Moves that the key for a move that was made logs while ``a`` is in the band, with their words: the moves that the
    band shows; where it shows none, and nothing of high priority, the one missed last."""
    if a.moves or a.urgency == "danger" or a.cue == "drop now":
        return a.moves, a.words
    if s.missed and s.roast.phase != "cooling":
        step = s.missed[0].step
        return ((step.control, step.shown),), f"{s.missed[0].words}, made late"
    return (), ""


def missed_line(s: Situation, a: Act, made: str, left_out: str) -> str:
    """The planned moves that were missed, with the keys that end it; '' where none was."""
    if not s.missed or s.roast.phase == "cooling":
        return ""
    late = f"{made} made now" if logged(s, a)[0] and not a.moves else "type it once made"
    return f"! MISSED {', '.join(m.words for m in s.missed)}   {late}   {left_out} left out"


def act(s: Situation, cues: Sequence[ActiveCue], key: Callable[[Action], str]) -> Act:
    """The one thing to do, with the time until the next planned thing."""
    steps = [] if s.t is None or s.roast.phase == "cooling" else _steps(s, key)
    found = _act(s, cues, key, sorted(steps, key=lambda a: a.until or 0.0))
    until = [a.until for a in steps if a.until is not None and a.until >= 0]
    return replace(found, next_in=min(until) if until else found.until)


def _act(s: Situation, cues: Sequence[ActiveCue], key: Callable[[Action], str], steps: Sequence[Act]) -> Act:
    """The one thing to do at a moment.  ``key`` gives the name of the key for an action; ``steps``: what comes by plan
    and forecast, the next first."""
    now = urgent(cues)
    if now is not None and now.priority == "high":  # in every phase: an empty drum can burn, too
        return _high(s, now, key)
    if s.roast.phase == "cooling":
        return Act("later", "cool the beans, then weigh", key=key("review"), does="review")
    if s.t is None:
        return _before_charge(s, key)
    tapped = s.tapped_onset is not None and "first crack" not in s.roast.marks
    if tapped and s.tapped_onset is not None:
        found = Act("now", f"first crack at {clock(s.tapped_onset)}?", more="called from the pops that you tapped",
                    key=f"{key('first_crack')} yes", does=f"{key('not_yet')} no", cue="tapped crack")  # fmt: skip
        due = next((x for x in steps if x.moves), None)
        return found if due is None else _with(found, due, key)
    if now is not None:
        return _asked(s, now, steps, key)
    if not steps:
        return Act("later", "type a reading")
    first, *rest = steps
    if not first.moves and (due := next((x for x in rest if x.moves), None)) is not None:
        return _with(first, due, key)
    if rest and not first.more:
        return replace(first, more=_then(rest[0]))
    return first


def _then(a: Act) -> str:
    return f"then {a.what} {a.left}"


def _with(first: Act, due: Act, key: Callable[[Action], str]) -> Act:
    """An act with moves that are due in its second line, and their key."""
    told = f"{_then(due)}  ({key('made')} {due.does})"
    return replace(first, more=f"{first.more}; {told}" if first.cue else told, moves=due.moves, words=due.words)


def _before_charge(s: Situation, key: Callable[[Action], str]) -> Act:
    unit = s.roast.header.unit
    hot = f"{number(from_celsius(s.profile.charge_temperature, unit), 0)} °{unit}"
    if s.preheat is None:
        return Act("later", f"charge at {hot}", more="type preheat readings as the drum warms", key=key("charge"),
                   does="charged")  # fmt: skip
    until = max(s.preheat.ready_at - s.at, 0.0)
    urgency: Urgency = "later" if until > SOON else "soon" if until > 3.0 else "now"
    return Act(urgency, f"charge at {hot}", until, f"± {number(s.preheat.ready_sd, 0)} s", key("charge"), "charged",
               "charge near")  # fmt: skip


def _high(s: Situation, c: ActiveCue, key: Callable[[Action], str]) -> Act:
    if c.name == "drop now":
        due = drop_due(s)
        late = 0.0 if due is None or s.t is None else min(due.time - s.t, 0.0)
        return Act("now", c.action, late, c.text, key("drop"), "dropped", c.name)
    head, _, rest = c.action.partition(", ")
    return Act("danger", head, None, "; ".join(x for x in (rest, c.text) if x), key("seen"), "seen", c.name)


def _asked(s: Situation, c: ActiveCue, steps: Sequence[Act], key: Callable[[Action], str]) -> Act:
    """The action that a cue asks for; the advised move where there is one."""
    urgency: Urgency = "now" if c.priority == "medium" else "soon"
    if c.name == "drop near":
        return Act("soon", "get ready to drop", next((x.until for x in steps if x.what == "drop"), None), c.text,
                   key("drop"), "dropped", c.name)  # fmt: skip
    advised = _advised(s, key)
    if advised is not None:
        return replace(advised, urgency=urgency, more=c.text, cue=c.name)
    found = Act(urgency, headline(c, s), None, c.text, key("seen"), "seen", c.name)
    due = next((x for x in steps if x.moves), None)
    if due is not None:
        return _with(found, due, key)
    return replace(found, more=f"{c.text}; {_then(steps[0])}") if steps else found


def _advised(s: Situation, key: Callable[[Action], str]) -> Act | None:
    """The advised move, where one is in force: until its deadline, with the key that logs it and the planned moves of
    other controls that are due."""
    a = s.advice
    if a is None or not proposal(s) or a.control is None or a.shown is None or s.t is None:
        return None
    until = None if a.deadline is None or s.t > a.deadline else a.deadline - s.t
    moves: Moves = ((a.control, a.shown), *(x for x in _due(s) if x[0] != a.control))
    words = " ".join([f"{proposal(s)}, as advised", *(f"{c} {number(v, 2)}" for c, v in moves[1:])])
    return Act("soon", _named(s, moves), until, "as advised", key("made"), "done", moves=moves, words=words)


def _due(s: Situation) -> Moves:
    """The planned moves that are due, and so may be logged as made."""
    if s.next_move is None or s.next_move.until > SOON:
        return ()
    return tuple((x.step.control, x.step.shown) for x in s.due_moves[:MOST] or (s.next_move,))


def _named(s: Situation, moves: Moves) -> str:
    return ", ".join(move_words(s, c, v) for c, v in moves)


def _steps(s: Situation, key: Callable[[Action], str]) -> list[Act]:
    """Coming events and moves by plan and forecast, each with the key that logs it."""
    assert s.t is not None
    out: list[Act] = []

    def add(what: str, until: float, more: str, action: Action, does: str, cue: str) -> None:
        urgency: Urgency = "later" if until > SOON else "soon" if until > 5.0 else "now"
        out.append(Act(urgency, what, until, more, key(action), does, cue))

    advised = _advised(s, key)
    if advised is not None:
        out.append(advised)
    m, due = s.next_move, _due(s)
    if m is not None and not due:  # too early: the key logs nothing of it
        out.append(Act("later", move_words(s, m.step.control, m.step.shown), m.until, cue="move due"))
    elif m is not None and advised is None:
        late = f"was due at {clock(m.due)}, {clock(-m.until)} ago" if m.until <= -2.0 else ""
        add(_named(s, due), m.until, late, "made", "done", "move due")
        words = " ".join(f"{c} {number(v, 2)}" for c, v in due)
        out[-1] = replace(out[-1], moves=due, words=words)
    f = s.forecast
    if f.yellow is not None and "yellow" not in s.roast.marks:
        add("look for yellow", f.yellow.time.median - s.t, "", "yellow", "yellow", "yellow near")
    if f.first_crack is not None and crack_of(s) is None:
        opens = f.first_crack.time.q10 - s.t
        until = opens if opens > 0 else max(f.first_crack.time.median - s.t, 0.0)
        what = "listen for first crack"
        urgency: Urgency = "later" if opens > SOON else "soon"
        d = f.first_crack.time
        out.append(
            Act(urgency, what, until, f"likely {clock(d.q10)} to {clock(d.q90)}", key("pop"), "pop", "crack near")
        )
    drop = drop_due(s)
    if drop is not None and crack_of(s) is not None:
        add("drop", drop.time - s.t, f"at about {degrees(s, drop.temperature)}", "drop", "dropped", "drop near")
    return out


def others(cues: Sequence[ActiveCue], shown: Act) -> list[ActiveCue]:
    """The cues in force that the band does not show, most urgent first; those answered last."""
    left = [c for c in cues if c.name != shown.cue]
    return sorted(left, key=lambda c: c.state in ("acknowledged", "shelved"))
