"""Effects of keys and typed lines: entries into the roast, answers to cues, abilities of a source."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import Final

from textual.worker import Worker

from coach.app.screens.entryline import Outcome, short_name
from coach.app.screens.keys import TEXTS
from coach.app.screens.program import Deed
from coach.app.screens.roast_view import Picked
from coach.app.screens.shown import Shown
from coach.app.screens.source import Jumps, Looks, Pauses, TakenOver
from coach.app.screens.voice import spoken
from coach.cues.situation import ActiveCue
from coach.roast.entries import Entry
from coach.roast.errors import CoachError, printable
from coach.roast.units import clock
from coach.session.settings import Action

AT_ONCE: Final = 0.02
"""Longest work on a source's entries before they are painted, s; the rest is done in parts."""
IN_PARTS: Final = 0.012
"""Length of such a part, for which a key may have to wait, s."""
BETWEEN: Final = 0.002
"""Time for keys between two parts, s."""


class Acting(Shown):
    """The screen with its actions."""

    _folding = False
    """True while the next part of a long fold is due."""

    def do(self, action: Action) -> None:
        """Do one key's action."""
        self._follow(self.line.do(action, self.live.coach, self.live.now()))

    def deeds(self) -> Iterable[Deed]:
        """Every action that has a key."""
        if self._live is None or self.view == "brief":
            return
        for action, what in TEXTS.items():
            yield f"{action.replace('_', ' ')} ({self.keys.name(action)})", what, partial(self.do, action)

    def action_press(self, action: Action) -> None:
        """Do the action of a key that was clicked in the last row."""
        if self._live is not None and self.view != "brief":
            self.do(action)
            self.refresh_entry()

    def _act(self, action: Action) -> None:
        """Do an action that logs nothing."""
        if action == "help":
            self._before_help, self.view = self.view, "help"
            self.refresh_all()
        elif action == "picture":
            order: tuple[Picked, ...] = ("strip", "curve", "lists")
            self.picture = order[(order.index(self.picture) + 1) % 3]
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

    def submit(self, line: str) -> bool:
        """Take a typed line; return True if it was taken."""
        step = self.line.submit(line, self.live.coach, self.live.now())
        self._follow(step)
        return bool(step.log) or step.action is not None

    def _follow(self, step: Outcome) -> None:
        """Carry out the step of a key."""
        if step.action is not None:
            self._act(step.action)
        try:
            for n, entry in enumerate(step.log, 1):
                self._enter(entry, step.words if n == len(step.log) else "")
        except CoachError as error:
            self.message = printable(str(error))

    def _enter(self, entry: Entry, said: str = "", *, typed: bool = True) -> None:
        if typed:
            self.live.refuse()
        coach = self.live.coach
        numbered = self.live.enter(entry, most=0)
        if typed:  # the entry is painted before its effects are computed
            self._fold_later()
        else:
            self._fold(AT_ONCE)
        self._tell(entry)
        estimate = coach.situation.estimate
        doubt = estimate.doubtful.get(numbered.line) if estimate is not None else None
        self._saying = None
        if said or doubt is not None:
            said = said or short_name(entry)
            logged, waiting = f"logged {clock(coach.roast.time(entry.at))}  {printable(said)}", printable(said)
            if doubt is not None:
                logged = waiting = f"{short_name(entry)} looks wrong ({doubt}): not used. Type it again"
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
        """Go on with a long fold for ``seconds``; the rest follows after the next paint."""
        coach, end = self.live.coach, self.monotonic() + seconds
        while coach.behind:  # one second at least: a slow machine gets there, too
            coach.catch_up()
            if self.monotonic() > end:
                break
        self._fold_later()

    def _fold_later(self) -> None:
        """Fold the next part, if there is one, after the next paint."""
        if self.live.coach.behind and not self._folding:
            self._folding = True
            self._between(self._fold_on)

    def _between(self, action: Callable[[], None]) -> None:
        """Do an action when the screen has been painted and keys have been taken.

        The library's timers won't do: one as short as this never fires where its moment is past before it is checked.
        """

        async def soon() -> None:
            await asyncio.sleep(BETWEEN)
            self.guard.run(action)

        def later() -> None:  # gives the function, not a coroutine: the screen may be left before it begins
            _: Worker[None] = self.run_worker(soon)

        self.call_after_refresh(later)

    def _fold_on(self) -> None:
        self._folding = False
        if self._live is None or not self._live.coach.behind or not self.query("#entry"):  # nothing, or it is left
            return
        self._fold(IN_PARTS)
        if not self.live.coach.behind:
            self._ring(self.live.coach.cues)
            self.refresh_all()

    def _ring(self, cues: Sequence[ActiveCue]) -> None:
        """Sound the first of these cues that sounds."""
        sounding = next((c for c in cues if c.sounds), None)
        if sounding is None or getattr(self.source, "silent", False):  # a drill without sound
            return
        if self._speaker is not None:
            self._speaker.cue(sounding)
        else:
            self.app.bell()
        if self._voice is not None:
            self._voice.say(spoken(sounding, self.live.coach.situation), after=1.5)
