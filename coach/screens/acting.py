"""What keys and typed lines do: entries into the roast, answers to cues, what a source can do."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from typing import Any, Final, Literal

from coach.entries import Correction, Entry, Event, Mark, Move, Pop, Reading, Reply
from coach.errors import CoachError, EntryError
from coach.library import printable
from coach.screens.keys import MARKS, WORDS
from coach.screens.results import result_of
from coach.screens.shown import Shown
from coach.screens.source import Jumps, Looks, Pauses, TakenOver
from coach.screens.voice import spoken
from coach.screens.whatif import asked
from coach.screens.words import proposal
from coach.settings import Action
from coach.situation import ActiveCue
from coach.units import clock, number

FAR: Final = 0.35
"""A mark is odd when it lies further from its planned time than this share of it."""
SOON: Final = 30.0
"""A planned move may be logged as made up to this long before it is due, s."""
AT_ONCE: Final = 0.02
"""What a source gives may take so long before it is painted, s; the rest is done in parts."""
IN_PARTS: Final = 0.012
"""How long such a part may take, and so a key wait for it, s."""
BETWEEN: Final = 0.002
"""So long keys are taken between two parts, s."""


class Acting(Shown):
    """The screen with what can be done on it."""

    _folding = False
    """Whether the next part of a long fold is due."""
    _tapped: tuple[int, float] | None = None
    """Line and time of a mark of first crack that was put where the taps had it, until that has settled."""

    def do(self, action: Action) -> None:
        """One key's action."""
        now = self.live.now()
        if action == "first_crack" and self.live.coach.situation.tapped_onset is not None:
            self._try(lambda: self._confirm(now))
        elif action in MARKS:
            event = MARKS[action]
            if not self._try(lambda: self._enter(Mark(at=now, event=event), event)):
                letter = self.settings.keys.sign(action)
                if letter.isalpha() and event not in self.live.coach.roast.marks and not self.live.read_only:
                    self.line.offer(event if letter != event[0] else letter)
                    self.message += f" Or give its time: {self.line.text}@4:10"
            else:
                self.message += self._odd_mark(event)
        elif action == "pop":
            self._try(lambda: self._enter(Pop(at=now), "pop"))
        elif action == "made":
            self._try(lambda: self._made(now))
        elif action in ("seen", "mute"):
            self._answer("seen" if action == "seen" else "shelved")
        elif action == "not_yet":
            self._not_yet(now)
        elif action == "help":
            self._before_help, self.view = self.view, "help"
            self.refresh_all()
        elif action == "glance":
            self.view = "roast" if self.view == "glance" else "glance"
            self.refresh_all()
        else:
            self._with_source(action)

    def _with_source(self, action: Action) -> None:
        source, coach = self.source, self._live.coach if self._live is not None else None
        assert coach is not None
        if action == "look" and isinstance(source, Looks):
            seen = source.look(coach)
            self.message = printable(f"trier: {seen.words}; smells of {seen.smell}")
        elif action == "pause" and isinstance(source, Pauses):
            source.toggle_pause()
            self.message = "PAUSED" if source.paused else "going on"
        elif action == "jump" and isinstance(source, Jumps):
            self.message = printable(source.jump(coach))
        elif action == "take_over" and isinstance(source, TakenOver):
            self.message = source.take_over(coach)
            self.pulse()
        else:
            self.message = f"{action}: not in this roast."

    def _made(self, now: float) -> None:
        """Log the planned move that is due, and those that are due with it, as the plan has them; else the advised."""
        situation = self.live.coach.situation
        first = situation.next_move
        if first is None or first.until > SOON:
            if proposal(situation):
                advice = situation.advice
                self._enter(
                    Move(at=now, control=advice.control, value=advice.shown), f"{proposal(situation)}, as advised"
                )
                return
            when = "" if first is None else f" The next is due in {clock(first.until)}."
            raise EntryError("No move is due now.", f"Type what was moved: g 0.9.{when}")
        said: list[str] = []
        move = first
        while move is not None and abs(move.due - first.due) < 1.0 and len(said) < 3:
            step = move.step
            said.append(f"{step.control} {number(step.shown, 2)}")
            self._enter(Move(at=now, control=step.control, value=step.shown), " ".join(said))
            move = self.live.coach.situation.next_move

    def _withdraw(self) -> None:
        correction = self.live.coach.withdraw_last(self.live.now())
        self._enter(correction, f"withdrawn: {self._name_of(correction.of)}")

    def _answer(self, answer: Literal["seen", "shelved"]) -> None:
        held = ("unacknowledged",) if answer == "seen" else ("unacknowledged", "acknowledged")
        cues = [c for c in self.live.coach.cues if c.state in held and c.family != "diagnostic"]
        if not cues:
            self.message = "No cue stands."
            return
        word = "seen" if answer == "seen" else "mute for this roast"
        reply = Reply(at=self.live.now(), cue=cues[0].name, answer=answer)
        self._try(lambda: self._enter(reply, f"{word}: {cues[0].name}"))

    def _confirm(self, now: float) -> None:
        """First crack where the taps put it."""
        coach = self.live.coach
        onset, charge = coach.situation.tapped_onset, coach.roast.charge_at
        assert onset is not None
        assert charge is not None
        mark = Mark(at=round(charge + onset, 1), typed=now, event="first crack")
        self._enter(mark, "first crack, as tapped. Tap on: it sharpens the time")
        self._tapped = coach.entries[-1].line, mark.at

    def _settle(self, now: float) -> None:
        """Half a minute after a call that was confirmed sooner: where the taps put it by now."""
        from coach.taps import settled

        assert self._tapped is not None
        (line, put), coach = self._tapped, self.live.coach
        entry = next((n.entry for n in coach.standing.ordered if n.line == line), None)
        if entry is None or entry.at != put or coach.roast.charge_at is None:  # the person knew better
            self._tapped = None
            return
        found = settled(coach.roast, coach.profile, coach.roast.time(now))
        if found is None:
            return
        self._tapped = None
        at = round(coach.roast.charge_at + found, 1)
        if abs(at - entry.at) >= 1.0:
            replaced = {"at": at, "typed": max(entry.came, at)}
            self._enter(
                Correction(at=now, of=line, replace=replaced), f"first crack now at {clock(found)}, by all taps"
            )

    def _not_yet(self, now: float) -> None:
        from coach.taps import CUE

        if self.live.coach.situation.tapped_onset is None:
            self.message = "No crack was called from taps."
            return
        self._try(lambda: self._enter(Reply(at=now, cue=CUE, answer="not yet"), "not yet: that was no crack"))

    def submit(self, line: str) -> bool:
        """Take a typed line; whether it was taken."""
        action = WORDS.get(" ".join(line.lower().split()))
        if action is not None and (action == "help" or not self.keys.single):
            self.do(action)
            return True
        return self._try(lambda: self._take(line), line)

    def _take(self, line: str) -> None:
        from coach.amend import retimed
        from coach.parse import parse

        coach, now = self.live.coach, self.live.now()
        entry: Any = None
        if coach.roast.phase == "cooling":
            entry = result_of(line, now, coach.roast.result, coach.roast.header.batch_kg)
        if entry is None and (setting := asked(line, coach)) is not None:
            line = f"{setting.control} {setting.shown:g}"
        if entry is None:
            typed = parse(line)
            if typed.only_time:
                entry = retimed(coach, typed, now)
                line = f"{self._name_of(entry.of)} now at {clock(coach.roast.time((entry.replace or {})['at']))}"
            else:
                entry = coach.entry_from(typed, now)
        self._enter(entry, line)

    def _name_of(self, line: int) -> str:
        """What stands in a line of the journal, in a word or two."""
        entry = next(n.entry for n in self.live.coach.entries if n.line == line)
        if isinstance(entry, Reading):
            return number(entry.temperature)
        if isinstance(entry, Move):
            return f"{entry.control} {number(entry.value, 2)}"
        return str(getattr(entry, "event", None) or getattr(entry, "kind", "entry"))

    def _odd_mark(self, event: Event) -> str:
        """A word about a mark that is far from where the plan has it, as after a wrong key; '' otherwise."""
        goal, t = self.live.coach.profile.goals.get(event), self.live.coach.roast.marks.get(event)
        if goal is None or t is None or abs(t - goal.time) <= FAR * goal.time:
            return ""
        return f"  The plan has it at {clock(goal.time)}: ⌫ withdraws it."

    def _try(self, action: Callable[[], None], line: str = "") -> bool:
        try:
            action()
        except CoachError as error:
            self.message = printable(str(error))
            if line and not self.live.read_only:
                self.line.text = line[:200]
            return False
        return True

    def _enter(self, entry: Any, said: str = "", *, typed: bool = True) -> None:
        if typed and self.live.read_only:
            self.live.refuse()
        coach = self.live.coach
        numbered = self.live.enter(entry, most=0)
        if typed:  # it is seen to be taken before all that follows from it is known
            self._fold_later()
        else:
            self._fold(AT_ONCE)
        self._tell(entry)
        estimate = coach.situation.estimate
        doubt = estimate.doubtful.get(numbered.line) if estimate is not None else None
        self._saying = None
        if said or doubt is not None:
            logged, waiting = f"logged {clock(coach.roast.time(entry.at))}  {printable(said)}", printable(said)
            if doubt is not None:
                again = "Type it again if it is wrong."
                logged = f"{printable(said)}: {doubt}. Kept in the journal, not used. {again}"
                waiting += f": {doubt}. Not used. {again}"
            waits = "in memory only: " if self.live.trouble else "saving "
            self.message = logged if not self.live.pending else waits + waiting
            self._saying = logged if self.live.pending else None
        self._ring(coach.cues)
        self.refresh_all()

    def _tell(self, entry: Entry) -> None:
        """Tell the source of an entry that was taken."""
        if self.source is not None:
            self.source.hear(entry, self.live.coach)

    def _fold(self, seconds: float) -> None:
        """Go on with a long fold for so long; the rest follows when what is known has been painted."""
        coach, end = self.live.coach, self.monotonic() + seconds
        while coach.behind:  # one second at least: a slow machine gets there, too
            coach.catch_up()
            if self.monotonic() > end:
                break
        self._fold_later()

    def _fold_later(self) -> None:
        """The next part, if there is one, when what is known has been painted."""
        if self.live.coach.behind and not self._folding:
            self._folding = True
            self._between(self._fold_on)

    def _between(self, action: Callable[[], None]) -> None:
        """Do it when the screen has been painted and keys have been taken.

        The library's timers won't do: one as short as this never fires where its moment is past before it is looked at.
        """

        async def soon() -> None:
            await asyncio.sleep(BETWEEN)
            self.guard.run(action)

        self.call_after_refresh(lambda: self.run_worker(soon()))

    def _fold_on(self) -> None:
        self._folding = False
        if self._live is None or not self._live.coach.behind or not self.query("#entry"):  # nothing, or it is left
            return
        self._fold(IN_PARTS)
        if not self.live.coach.behind:
            self._ring(self.live.coach.cues)
            self.refresh_all()

    def _ring(self, cues: Sequence[ActiveCue]) -> None:
        """Sound the first of these that is to be heard."""
        sounding = next((c for c in cues if c.sounds), None)
        if sounding is None or getattr(self.source, "silent", False):  # a drill without sound
            return
        if self._speaker is not None:
            self._speaker.cue(sounding)
        else:
            self.bell()
        if self._voice is not None:
            self._voice.say(spoken(sounding, self.live.coach.situation), after=1.5)
