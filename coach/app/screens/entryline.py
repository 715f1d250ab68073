"""The entry line as a state machine: keys go in; the text to show, and the entries to log, come out.

It holds no screen, no disk and no clock.  The screen calls ``press`` for each key and ``paste`` for a paste, logs the
entries of each ``Outcome``, and shows ``shown`` and ``message``.

- A refused line stays to be seen; the next key begins a new one, Up brings the refused line back.
- Backspace on an empty line names the newest entry; a second one withdraws exactly that.  Any other key lets it be.
  After a run of Backspaces that erased or withdrew something a pause or another key comes first.  ``redo`` brings the
  entry back that was withdrawn last.
- Tab logs a number at the moment at which the dial turns over to it: the one typed, or on an empty line the one that
  the coach offers.
- A question (``w 1.2``) logs nothing; ``=`` logs its setting.
- Lines of a paste are entered in their order, up to the first that is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from coach.app.screens.act import act, logged
from coach.app.screens.keys import BOUNCE, ENTER, MARKS, WORDS, Bounce, KeyMap
from coach.app.screens.results_form import result_of
from coach.app.screens.whatif import KEY as QUESTION
from coach.app.screens.whatif import asked
from coach.app.screens.words import SOON
from coach.cues.first_crack_taps import CUE as TAPPED
from coach.cues.first_crack_taps import settled
from coach.roast.entries import Correction, Entry, Event, Mark, Move, Note, Pop, Reading, Reply, Result, SoundCheck
from coach.roast.errors import EntryError, printable
from coach.roast.roast import Numbered, effective
from coach.roast.typed_line import Typed, parse
from coach.roast.units import clock, number
from coach.session.coach import Coach
from coach.session.settings import Action
from coach.session.typed_entries import entry_from, retimed

LONGEST: Final = 200
"""Number of characters that the line holds."""
MOST_LINES: Final = 40
"""Number of lines of one paste that are taken."""
LOGS: Final = "="
"""Key that logs the setting of a question."""
FAR: Final = 0.35
"""Distance of a mark from its planned time, as a share of that, beyond which it is odd."""
BREATH: Final = 1.0
"""Pause after which another Backspace counts as a new one, s: a held key repeats sooner (its first repeat comes after
0.25 to 0.66 s)."""
TURN: Final = "tab"
"""Key that logs a reading at the moment at which the dial turns over: the number typed, else the one offered."""
AGAIN: Final = "Backspace again withdraws: "
"""Words before the entry that the next Backspace withdraws."""


@dataclass(frozen=True)
class Outcome:
    """Result of a key, or of a line of a paste.

    ``log``: entries to be logged, in this order; each was checked against the roast.  ``words`` name them once they are
    logged.  ``action``: the screen's next action.
    """

    log: tuple[Entry, ...] = ()
    words: str = ""
    action: Action | None = None


NOTHING: Final = Outcome()


class Field:
    """The text of the line: typed, or only shown until the next key."""

    def __init__(self) -> None:
        self.typed = ""
        self.aside = ""
        """A text that gives way to the next key: a line just refused, a question just asked."""
        self.why: Literal["", "refused", "time", "question"] = ""
        """Reason for ``aside``: refused; a mark's key refused, which ``@`` or ``-`` gives a time; a question."""
        self.refused = ""
        """The line refused last: Up brings it back."""
        self.spent = False
        """True if this run of Backspaces erased or withdrew something."""
        self.marked = ""
        """The mark whose key came last, as a line begins with it: @ and a time give it that time."""

    @property
    def shown(self) -> str:
        """The text that is shown."""
        return self.typed or self.aside

    def take(self, typed: str = "") -> str:
        """Empty the field, or put ``typed`` into it; return the text that was typed."""
        before, self.typed, self.aside, self.why = self.typed, typed, "", ""
        return before


class EntryLine:
    """The entry line's text, and the effects of keys on it and on the roast of a ``coach``."""

    def __init__(self, keys: KeyMap, coach: Coach) -> None:
        self.keys = keys
        self.coach = coach
        self.field = Field()
        self.read_only = ""
        """The reason why nothing can be entered, in words; '' where it can."""
        self.message = ""
        """The words beside the line."""
        self._named = ("", 0)
        """The message with the name of an entry to be withdrawn, and the entry's line: both hold while it is shown."""
        self._bounce = Bounce()
        self._tapped: tuple[int, float] | None = None
        """Line and time of a first crack that was put where the taps had it, until that has settled."""

    # -- what is shown ----------------------------------------------------------------------------------------------

    @property
    def text(self) -> str:
        """The text being typed."""
        return self.field.typed

    @property
    def withdraws(self) -> int | None:
        """The journal line that the next Backspace withdraws; None where it would withdraw nothing."""
        return self._named[1] if self.message and self.message == self._named[0] else None

    def question(self) -> Typed | None:
        """The setting of the question in the line; None where there is none."""
        field = self.field
        return asked(field.typed or (field.aside if field.why == "question" else ""))

    # -- keys -------------------------------------------------------------------------------------------------------

    def press(self, key: str, sign: str, now: float, at: float) -> Outcome:
        """Take a key at ``now`` (s since the roast was opened); ``at``: time of the press on a clock that always runs,
        s."""
        field = self.field
        if key == "backspace":
            return self._backspace(now, paused=self._bounce.since(key, at) >= BREATH)
        field.spent = False
        marked, field.marked = field.marked, ""
        if self.withdraws is not None:
            self.message = ""
        if key in ENTER:
            if field.typed.strip():
                return self.submit(field.take(), now)
            if field.why != "question":
                field.take()
            return NOTHING
        if key == TURN:
            return NOTHING if self._bounce.since(key, at) < BOUNCE else self._turned(now)
        if key == "escape":
            field.take()
            self.message = ""
            return NOTHING
        if key == "up":
            if field.refused and not field.typed:
                field.take(field.refused)
            return NOTHING
        if not (sign and sign.isprintable()):
            return NOTHING
        if sign == LOGS and (setting := self.question()) is not None:
            line, words = field.take() or f"{QUESTION} …", f"{setting.control} {setting.value:g}"
            return self._attempt(lambda: self._checked([entry_from(self.coach, setting, now)], words), line)
        aside = field.aside if field.why == "time" and sign in ("@", "-") else marked if sign == "@" else ""
        field.take(field.typed or aside)
        action = None if field.typed else self.keys.action(sign, self.coach.roast.phase)
        if action is None:
            if len(field.typed) < LONGEST:
                field.typed = printable(field.typed + sign if field.typed else sign.lower())
            return NOTHING
        if self._bounce.since(key, at) < BOUNCE:
            field.marked = marked
            return NOTHING
        return self.do(action, now)

    def _turned(self, now: float) -> Outcome:
        """Log a reading at the moment at which the dial turned to the number typed, or to the one offered."""
        offered, line = self.coach.situation.turn, self.field.take()

        def log() -> Outcome:
            if line.strip():
                typed = parse(line)
                if typed.temperature is None or typed.roast_time is not None or typed.ago is not None:
                    raise EntryError("Tab logs a number as the dial turns to it.", "Enter takes everything else.")
                typed = replace(typed, turned=True)
            elif offered is None:
                raise EntryError("No number is offered now.", "Type the one the dial turns to, then Tab as it does.")
            elif not offered.settled(self.coach.roast.time(now)):
                raise EntryError(
                    f"{number(offered.shown)} has only just come up: nothing is logged.",
                    "Press Tab as the dial turns to it.",
                )
            else:
                typed = Typed(temperature=offered.shown, turned=True)
            entry = entry_from(self.coach, typed, now)
            return self._checked([entry], f"{short_name(entry)} as it turned")

        return self._attempt(log, line)

    def _backspace(self, now: float, *, paused: bool) -> Outcome:
        """Erase; on an empty line name the newest entry, or withdraw the one that is named.  ``paused``: a pause came
        before."""
        field = self.field
        if field.shown:
            if self.withdraws is not None or (not field.typed and field.why in ("refused", "time")):
                self.message = ""
            field.take(field.typed[:-1])
            field.spent = True
            return NOTHING
        if field.spent and not paused:
            self.message = "Nothing more to erase. Esc, then ⌫ names the entry it would withdraw."
            return NOTHING
        field.spent = False
        if (line := self.withdraws) is not None:
            return self._attempt(lambda: self._withdraw(line, now))
        if self.read_only:
            self.message = self.read_only
            return NOTHING
        last = newest(self.coach)
        if last is None:
            self.message = "Nothing to withdraw."
        else:
            self.message = f"{AGAIN}{name_of(last, self.coach)}"
            self._named = (self.message, last.line)
        return NOTHING

    # -- a paste ----------------------------------------------------------------------------------------------------

    def paste(self, text: str, now: float) -> Iterator[Outcome]:
        """Take a pasted text: yield what comes of each of its lines, to be logged before the next is taken.  The text
        after the last line goes on in the field."""
        field = self.field
        pieces = (field.take() + text.replace("\r\n", "\n").replace("\r", "\n")).split("\n")
        lines = [x for x in pieces[:-1] if x.strip()]
        for n, line in enumerate(lines[:MOST_LINES], 1):
            step = self._pasted(printable(line[: LONGEST + 1]), now, alone=len(lines) == 1)
            if not step.log and not step.action and field.why != "question":
                before = f"{n - 1} line{'s' * (n != 2)} logged, " if n > 1 else ""
                more = f", {len(lines) - n} more not" if len(lines) > n else ""
                if before or more:  # in front: a narrow screen cuts the end
                    self.message = f"{before}line {n} of the paste not{more}: {self.message}"
                return
            if n == MOST_LINES < len(lines):
                words = f"{step.words}  ({len(lines) - n} more lines of the paste are not taken)"
                yield replace(step, words=words)
                return
            yield step
        tail = printable(pieces[-1][: 2 * LONGEST])
        if lines and tail.startswith(QUESTION):  # its answer would hide what was logged: Up brings it back
            field.refused = tail
        elif tail:
            field.take(tail[:LONGEST])
        if len(tail) > LONGEST:
            self.message = f"Too long: the line holds {LONGEST} characters, the rest of the paste is cut off."

    def _pasted(self, line: str, now: float, *, alone: bool) -> Outcome:
        if len(line) > LONGEST:
            self.message = f"A line of more than {LONGEST} characters is not taken."
            return NOTHING
        if line.startswith(QUESTION) and not alone:  # its answer would hide what was logged
            return self._refuse("A question is asked alone.", line)
        return self.submit(line, now)

    # -- lines and actions ------------------------------------------------------------------------------------------

    def submit(self, line: str, now: float) -> Outcome:
        """Take a typed line."""
        self.field.take(self.field.typed)
        action = WORDS.get(" ".join(line.lower().split()))
        if action is not None and (action in ("help", "redo") or not self.keys.single):
            return self.do(action, now)
        if line.startswith(QUESTION) and self.coach.roast.phase != "cooling":
            if asked(line) is None:
                return self._refuse("What would what do? Ask  w 1.2  for gas,  w a 3  for air.", line)
            self.field.aside, self.field.why = line, "question"
            return NOTHING
        return self._attempt(lambda: self._line(line, now), line)

    def _line(self, line: str, now: float) -> Outcome:
        entry: Entry | None = None
        if self.coach.roast.phase == "cooling":
            entry = result_of(line, now, self.coach.roast.result, self.coach.roast.header.batch_kg)
        if entry is None:
            typed = parse(line)
            timed = typed.roast_time is not None or typed.ago is not None
            if typed.only_time or (timed and typed.event in self.coach.roast.marks):
                correction = retimed(self.coach, typed, now)
                of = next(n for n in self.coach.entries if n.line == correction.of)
                then = clock(self.coach.roast.time((correction.replace or {})["at"]))
                return self._checked([correction], f"{short_name(of.entry)} now at {then}")
            entry = entry_from(self.coach, typed, now)
        return self._checked([entry], line)

    def do(self, action: Action, now: float) -> Outcome:
        """One key's action as a step: its entries, or the screen's action."""
        if action in MARKS:
            return self._mark(MARKS[action], action, now)
        make: dict[Action, Callable[[], Outcome]] = {
            "pop": lambda: self._checked([Pop(at=now)], "pop"),
            "made": lambda: self._made(now),
            "leave_out": lambda: self._left_out(now),
            "seen": lambda: self._answer("seen", now),
            "mute": lambda: self._answer("shelved", now),
            "not_yet": lambda: self._not_yet(now),
            "redo": lambda: self._redo(now),
        }
        return self._attempt(make[action]) if action in make else Outcome(action=action)

    def _mark(self, event: Event, action: Action, now: float) -> Outcome:
        if event == "first crack" and self.coach.situation.tapped_onset is not None:
            return self._attempt(lambda: self._confirm(now))
        step, marked = NOTHING, self.coach.roast.marks.get(event)
        if marked is None or self.read_only:
            step = self._attempt(lambda: self._checked([Mark(at=now, event=event)], event))
        else:
            self.message = f"{event} is marked already, at {clock(marked)}."
        letter = self.keys.sign(action)
        self.field.marked = event if letter != event[0] else letter
        if step.log:
            return replace(step, words=event + odd_mark(event, self.coach, now))
        if letter.isalpha() and not self.read_only:
            self.field.aside, self.field.why = self.field.marked, "time"
            self.message += f" Or give its time: {self.field.aside}@4:10"
        return step

    def _made(self, now: float) -> Outcome:
        moves, words = logged(self.coach.situation, act(self.coach.situation, self.coach.cues, self.keys.name))
        if not moves:
            first = self.coach.situation.next_move
            when = "" if first is None else f" The next is due in {clock(first.until)}."
            raise EntryError("No move is due now.", f"Type what was moved: g 1.3.{when}")
        return self._checked([Move(at=now, control=c, value=round(v, 6)) for c, v in moves], words)

    def _left_out(self, now: float) -> Outcome:
        s = self.coach.situation
        move = next(iter(s.missed), None)
        if move is None and s.next_move is not None and s.next_move.until <= SOON:
            move = s.next_move
        if move is None:
            raise EntryError("No planned move is due or missed.", "")
        reply = Reply(at=now, cue="move due", answer="left out", step=move.step.key)
        return self._checked([reply], f"left out: {move.words}")

    def _answer(self, answer: Literal["seen", "shelved"], now: float) -> Outcome:
        held = ("unacknowledged",) if answer == "seen" else ("unacknowledged", "acknowledged")
        cues = [c for c in self.coach.cues if c.state in held and c.family != "diagnostic"]
        if not cues:
            raise EntryError("No cue is active.", "")
        word = "seen" if answer == "seen" else "mute for this roast"
        return self._checked([Reply(at=now, cue=cues[0].name, answer=answer)], f"{word}: {cues[0].name}")

    def _not_yet(self, now: float) -> Outcome:
        if self.coach.situation.tapped_onset is None:
            raise EntryError("No crack was called from taps.", "")
        return self._checked([Reply(at=now, cue=TAPPED, answer="not yet")], "not yet: that was no crack")

    def _confirm(self, now: float) -> Outcome:
        """Log first crack at the time by the taps."""
        onset, charge = self.coach.situation.tapped_onset, self.coach.roast.charge_at
        assert onset is not None
        assert charge is not None
        mark = Mark(at=round(charge + onset, 1), typed=now, event="first crack")
        step = self._checked([mark], "first crack, as tapped. Tap on: it sharpens the time")
        self._tapped = self.coach.prepare(mark).entries[-1].line, mark.at
        return step

    def settle(self, now: float) -> Outcome:
        """Correct first crack to the time by the taps, half a minute after a call that was confirmed sooner."""
        if self._tapped is None:
            return NOTHING
        line, put = self._tapped
        entry = next((n.entry for n in self.coach.folded.ordered if n.line == line), None)
        if entry is None or entry.at != put or self.coach.roast.charge_at is None:  # the person knew better
            self._tapped = None
            return NOTHING
        found = settled(self.coach.roast, self.coach.profile, self.coach.roast.time(now))
        if found is None:
            return NOTHING
        self._tapped = None
        at = round(self.coach.roast.charge_at + found, 1)
        if abs(at - entry.at) < 1.0:
            return NOTHING
        correction = Correction(at=now, of=line, replace={"at": at, "typed": max(entry.came, at)})
        return self._attempt(lambda: self._checked([correction], f"first crack now at {clock(found)}, by all taps"))

    def _withdraw(self, line: int, now: float) -> Outcome:
        self.message = ""
        named = next((n for n in self.coach.folded.ordered if n.line == line), None)
        self.field.spent = True
        if named is None:
            raise EntryError("That entry is withdrawn already.", "")
        correction = Correction(at=now, of=named.line, replace=None)
        return self._checked([correction], f"withdrawn: {name_of(named, self.coach)}.  redo Enter brings it back")

    def _redo(self, now: float) -> Outcome:
        gone = withdrawn(self.coach.entries)
        if gone is None:
            raise EntryError("Nothing was withdrawn.", "")
        entry = gone.entry.model_copy(update={"typed": max(now, gone.entry.at), "brings_back": gone.line})
        return self._checked([entry], f"brought back: {name_of(gone, self.coach)}")

    # -- refused or checked -----------------------------------------------------------------------------------------

    def _checked(self, entries: Sequence[Entry], words: str) -> Outcome:
        """Check that entries fit the roast one after another.  Raises EntryError where one doesn't."""
        if self.read_only:
            raise EntryError(self.read_only)
        folded = self.coach.folded
        for entry in entries:
            folded = folded.with_entry(Numbered(folded.top + 1, entry))
        return Outcome(log=tuple(entries), words=words)

    def _attempt(self, make: Callable[[], Outcome], line: str = "") -> Outcome:
        try:
            return make()
        except EntryError as error:
            return self._refuse(str(error), line)

    def _refuse(self, why: str, line: str) -> Outcome:
        self.message = printable(why)
        if line and not self.read_only:
            self.field.refused = self.field.aside = line[:LONGEST]
            self.field.why = "refused"
            self.message += "  Up edits it."
        return NOTHING


def newest(coach: Coach) -> Numbered | None:
    """The newest entry in force that can be withdrawn; None where there is none."""
    in_force = {n.line: n for n in coach.folded.ordered if not isinstance(n.entry, SoundCheck)}
    return in_force[max(in_force)] if in_force else None


def withdrawn(entries: Sequence[Numbered]) -> Numbered | None:
    """The entry withdrawn last, as it was, that was not brought back; None where there is none."""
    gone: list[tuple[int, int]] = []
    for i, n in enumerate(entries):
        if isinstance(n.entry, Correction) and n.entry.replace is None:
            gone.append((n.entry.of, i))
        elif n.entry.brings_back is not None:
            gone = [x for x in gone if x[0] != n.entry.brings_back]
    if not gone:
        return None
    line, until = gone[-1]
    return next(n for n in effective(entries[:until]) if n.line == line)


def odd_mark(event: Event, coach: Coach, now: float) -> str:
    """Remark on a mark made at ``now`` (s) far from its planned time, as after a wrong key; '' otherwise."""
    goal, t = coach.profile.goals.get(event), coach.roast.time(now)
    if goal is None or abs(t - goal.time) <= FAR * goal.time:
        return ""
    return f"  The plan has it at {clock(goal.time)}: ⌫ names it, a second ⌫ withdraws it."


def short_name(entry: Entry) -> str:
    """An entry in a word or two."""
    if isinstance(entry, Reading):
        return number(entry.temperature)
    if isinstance(entry, Move):
        return f"{entry.control} {number(entry.value, 2)}"
    if isinstance(entry, Note):
        return f"note '{printable(entry.text)[:20]}'"
    if isinstance(entry, Reply):
        return f"{entry.answer}: {printable(entry.cue)[:30]}"
    if isinstance(entry, Result):
        return "the result typed"
    return str(getattr(entry, "event", None) or getattr(entry, "kind", "entry"))


def name_of(n: Numbered, coach: Coach) -> str:
    """An entry with its time: 'gas 1.2 at 4:31'."""
    return f"{short_name(n.entry)} at {clock(coach.roast.time(n.entry.at))}"
