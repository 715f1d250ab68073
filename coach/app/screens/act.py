"""What the action band says: one thing to do, how urgent, by when, and the key for it.  Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from coach.app.screens.entryline import would_log
from coach.app.screens.words import headline, proposal, urgent
from coach.cues.evidence import crack_of, drop_due
from coach.cues.situation import ActiveCue, Situation
from coach.roast.units import Control, clock, from_celsius, number
from coach.session.settings import Action

Urgency = Literal["later", "soon", "now", "danger"]
SOON: Final = 30.0
"""From this long before it is due something is to be got ready for, s."""


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
    """Until the next thing by plan and forecast, s; the same as ``until`` where that is it."""

    @property
    def left(self) -> str:
        """The countdown in words."""
        if self.until is None:
            return ""
        return f"in {clock(self.until)}" if self.until >= 0.5 else "now" if self.until > -2.0 else "overdue"


def move_words(s: Situation, control: Control, shown: float) -> str:
    """A move as from and to: 'gas 1.6 → 1.2'."""
    old = next((m.shown for m in reversed(s.roast.moves) if m.control == control), None)
    before = "" if old is None or old == shown else f"{number(old, 2)} → "
    return f"{control} {before}{number(shown, 2)}" if before else f"{control} to {number(shown, 2)}"


def logs(s: Situation, control: Control, shown: float) -> bool:
    """Whether the key for a move that was made would log this one now."""
    moves, _ = would_log(s)
    return bool(moves) and moves[0] == (control, shown)


def act(s: Situation, cues: Sequence[ActiveCue], key: Callable[[Action], str]) -> Act:
    """The one thing to do, with the time until the next planned thing."""
    found = _act(s, cues, key)
    steps = [] if s.t is None or s.roast.phase == "cooling" else _steps(s, key)
    until = [a.until for a in steps if a.until is not None and a.until >= 0]
    return replace(found, next_in=min(until) if until else found.until)


def _act(s: Situation, cues: Sequence[ActiveCue], key: Callable[[Action], str]) -> Act:
    """The one thing to do at a moment.  ``key`` gives the name of the key for an action."""
    if s.roast.phase == "cooling":
        more = "type  out 690g   colour 58   score 85"
        return Act("later", "cool the beans, then weigh", more=more, key=key("review"), does="review")
    if s.t is None:
        return _before_charge(s, key)
    tapped = s.tapped_onset is not None and "first crack" not in s.roast.marks
    now = urgent(cues)
    if now is not None and now.priority == "high":
        return _high(s, now, key)
    if tapped and s.tapped_onset is not None:
        return Act("now", f"first crack at {clock(s.tapped_onset)}?", more="called from the pops that you tapped",
                   key=f"{key('first_crack')} yes", does=f"{key('not_yet')} no", cue="tapped crack")  # fmt: skip
    steps = _steps(s, key)
    if now is not None:
        return _asked(s, now, steps, key)
    if not steps:
        return Act("later", "type a reading")
    first, *rest = sorted(steps, key=lambda a: a.until or 0.0)
    if rest and not first.more:
        then = min(rest, key=lambda a: a.until or 0.0)
        first = Act(first.urgency, first.what, first.until, _then(then), first.key, first.does, first.cue)
    return first


def _then(a: Act) -> str:
    return f"then {a.what} {a.left}"


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
        return Act("now", c.action, 0.0, c.text, key("drop"), "dropped", c.name)
    head, _, rest = c.action.partition(", ")
    return Act("danger", head, None, "; ".join(x for x in (rest, c.text) if x), key("seen"), "seen", c.name)


def _asked(s: Situation, c: ActiveCue, steps: Sequence[Act], key: Callable[[Action], str]) -> Act:
    """What a cue asks for; the advised move where there is one."""
    urgency: Urgency = "now" if c.priority == "medium" else "soon"
    if c.name == "drop near":
        return Act("soon", "get ready to drop", next((x.until for x in steps if x.what == "drop"), None), c.text,
                   key("drop"), "dropped", c.name)  # fmt: skip
    advised = _advised(s, key)
    if advised is not None:
        return replace(advised, urgency=urgency, more=c.text, cue=c.name)
    then = min(steps, key=lambda x: x.until or 0.0, default=None)
    more = c.text if then is None else f"{c.text}; {_then(then)}"
    return Act(urgency, headline(c, s), None, more, key("seen"), "seen", c.name)


def _advised(s: Situation, key: Callable[[Action], str]) -> Act | None:
    """The advised move, where one is in force: until its deadline, with the key that logs it."""
    a = s.advice
    if a is None or not proposal(s) or a.control is None or a.shown is None or s.t is None:
        return None
    until = None if a.deadline is None or s.t > a.deadline else a.deadline - s.t
    return Act("soon", move_words(s, a.control, a.shown), until, "as advised", key("made"), "done")


def _steps(s: Situation, key: Callable[[Action], str]) -> list[Act]:
    """What comes by plan and forecast, each with the key that logs it."""
    assert s.t is not None
    out: list[Act] = []

    def add(what: str, until: float, more: str, action: Action, does: str, cue: str) -> None:
        urgency: Urgency = "later" if until > SOON else "soon" if until > 5.0 else "now"
        out.append(Act(urgency, what, until, more, key(action), does, cue))

    m, advised = s.next_move, _advised(s, key)
    if advised is not None:
        out.append(advised)
    replaced = advised is not None and m is not None and m.step.control == "gas" and m.until <= SOON
    if m is not None and not replaced:
        late = f"was due at {clock(m.due)}, {clock(-m.until)} ago" if m.until <= -2.0 else ""
        what = move_words(s, m.step.control, m.step.shown)
        if logs(s, m.step.control, m.step.shown):
            add(what, m.until, late, "made", "done", "move due")
        else:  # too early: the key would log something else, or nothing
            out.append(Act("later" if m.until > SOON else "soon", what, m.until, late, "", "", "move due"))
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
    due = drop_due(s)
    if due is not None and crack_of(s) is not None:
        add("drop", due.time - s.t, "", "drop", "dropped", "drop near")
    return out


def others(cues: Sequence[ActiveCue], shown: Act) -> list[ActiveCue]:
    """The cues in force that the band does not show, most urgent first; those answered last."""
    left = [c for c in cues if c.name != shown.cue]
    return sorted(left, key=lambda c: c.state in ("acknowledged", "shelved"))
