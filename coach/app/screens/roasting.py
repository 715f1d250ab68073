"""An open roast at work: what is typed goes into it, time passes, cues sound.  No screen."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from coach.app.live import OpenRoast
from coach.app.screens.entryline import EntryLine, Outcome, short_name
from coach.app.screens.keys import KeyMap
from coach.app.screens.sounding import Sounding
from coach.app.screens.source import Source
from coach.app.screens.turns import Turns
from coach.cues.situation import ActiveCue
from coach.roast.entries import Entry, SoundCheck
from coach.roast.errors import CoachError, printable
from coach.roast.units import clock
from coach.session.roast_clock import AT_A_TIME
from coach.session.settings import Action

IN_PARTS: Final = 0.012
"""Length of a part of a long fold, for which a key may have to wait, s."""
GOES_ON: Final = "Going on with the roast where it stands."


class Roasting:
    """A roast with its entry line, its source and its sounds.

    ``show_view`` opens the view of an action that logs nothing; the screen sets it.
    """

    def __init__(self, live: OpenRoast, keys: KeyMap, source: Source, sound: Sounding, turns: Turns) -> None:
        self.live = live
        self.line = EntryLine(keys, live.coach)
        self.source = source
        self.sound = sound
        self.turns = turns
        self.show_view: Callable[[Action], None] = lambda action: None
        self._saying: str | None = None
        """The confirmation of an entry that is not on disk yet."""
        self.line.read_only = live.read_only

    def begin(self, *, resumed: bool) -> None:
        """Begin, as the page before the roast is left."""
        self.line.message = self.live.word or (GOES_ON if resumed else "")
        self.source.begin()
        self.sound.follow(self.source)
        heard = self.sound.heard
        if not self.live.read_only and heard is not None:
            self.enter(SoundCheck(at=self.live.now(), heard=heard, output=self.sound.output))
        elif not resumed and self.sound.speaker is not None and not self.live.read_only:
            self.line.message = "The sounds were not checked."

    @property
    def by_ear(self) -> bool:
        """True in a rehearsal by ear, which shows the dials alone."""
        return self.source.stage == "cues only"

    # -- what is typed ----------------------------------------------------------------------------------------------

    def press(self, key: str, sign: str, at: float | None = None) -> None:
        """Take a key; ``sign``: its character, '' where it has none; ``at``: time of the press by the turns' clock (now
        if none is given), s."""
        ago = 0.0 if at is None else self.turns.monotonic() - at
        now = round(max(self.live.now() - ago, 0.0), 1)
        self._follow(self.line.press(key, sign, now, self.turns.monotonic() - ago))

    def paste(self, text: str) -> None:
        """Take a paste, line by line."""
        for step in self.line.paste(text, self.live.now()):
            self._follow(step)

    def do(self, action: Action) -> None:
        """Do one key's action."""
        self._follow(self.line.do(action, self.live.now()))

    def _follow(self, step: Outcome) -> None:
        """Carry out the step of a key."""
        if step.action in ("look", "pause", "jump", "take_over"):
            done = self.source.do(step.action, self.live.coach)
            self.line.message = printable(done) or f"{step.action}: not in this roast."
            if step.action == "take_over":
                self.pass_time()
        elif step.action is not None:
            self.show_view(step.action)
        try:
            for n, entry in enumerate(step.log, 1):
                self.enter(entry, step.words if n == len(step.log) else "")
        except CoachError as error:
            self.line.message = printable(str(error))

    def enter(self, entry: Entry, said: str = "") -> None:
        """Enter an entry, and confirm it by the words ``said``; it is painted before its effects are computed.  Raises
        CoachError where it is refused."""
        coach = self.live.coach
        numbered = self.live.enter(entry, most=0)
        self._fold_later()
        self.source.hear(entry, coach)
        estimate = coach.situation.estimate
        doubt = estimate.doubtful.get(numbered.line) if estimate is not None else None
        self._saying = None
        if said or doubt is not None:
            said = said or short_name(entry)
            logged, waiting = f"logged {clock(coach.roast.time(entry.at))}  {printable(said)}", printable(said)
            if doubt is not None:
                logged = waiting = f"{short_name(entry)} looks wrong ({doubt}): not used. Type it again"
            waits = "in memory only: " if self.live.trouble else "saving "
            self.line.message = logged if not self.live.pending else waits + waiting
            self._saying = logged if self.live.pending else None
        self._ring(coach.cues)

    # -- time -------------------------------------------------------------------------------------------------------

    def pass_time(self) -> None:
        """Let time pass to now."""
        now, coach = self.live.now(), self.live.coach
        self._ring(self.live.poll())
        if self.line.read_only != self.live.read_only:  # the coach that writes is gone, or is back
            self.line.read_only, self.line.message = self.live.read_only, self.live.word
        coach.typing = bool(self.line.text)
        for entry in self.source.advance(now, coach):
            self._advance(entry.came)
            self.enter(entry)
        self._advance(now)
        self._follow(self.line.settle(now))
        if self._saying is not None and not self.live.pending:
            self.line.message, self._saying = self._saying, None

    def _advance(self, now: float) -> None:
        """Let time pass to ``now`` (s); after a long time, as after sleep, and during a long fold, in parts that follow
        by themselves."""
        coach = self.live.coach
        self._ring(coach.advance(now, most=0 if coach.behind else AT_A_TIME))
        self._fold_later()

    def _fold_later(self) -> None:
        if self.live.coach.behind:
            self.turns.later(self._fold)

    def _fold(self) -> None:
        """Do a part of a long fold; the rest follows after the next paint."""
        coach, end = self.live.coach, self.turns.monotonic() + IN_PARTS
        if not coach.behind:
            return
        while coach.behind:  # one second at least: a slow machine gets there, too
            coach.catch_up()
            if self.turns.monotonic() > end:
                break
        self._fold_later()
        if not coach.behind:
            self._ring(coach.cues)

    def _ring(self, cues: tuple[ActiveCue, ...]) -> None:
        if not self.source.silent:
            self.sound.ring(cues, self.live.coach.situation)
