"""The screen of a roast: shows a situation, sends what is typed."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Final

from textual.events import Key, Paste, Resize

from coach.app.screens.acting import AT_ONCE
from coach.app.screens.keys import MARKS
from coach.app.screens.opening import Opening
from coach.app.screens.program import Deed, Program
from coach.app.screens.widgets import PageView
from coach.session.roast_clock import AT_A_TIME
from coach.session.settings import Action, Settings

if TYPE_CHECKING:
    from coach.app.live import LiveRoast, Onlooker
    from coach.app.screens.desk import Desk
    from coach.app.screens.playback import Replayed
    from coach.app.screens.source import Source
    from coach.roast.entries import Entry

SOURCE_STEP: Final = 300.0
"""Longest step of a source, s of its time: some milliseconds of a simulated roaster."""
CATCHES_UP: Final = 30.0
"""Delay beyond which a source catches up in parts, s; at twenty times real time a pulse is 4 s."""


class RoastScreen(Opening):
    """The screen of one roast.

    ``live`` is the roast; without it ``desk`` opens one when the brief is left.  ``source`` (a rehearsal, a replay)
    hears each entry and gives entries and a line of its dials.  ``begin`` is called when the brief is left.
    """

    def on_resize(self, event: Resize) -> None:
        self.call_after_refresh(lambda: self.guard.run(self.refresh_all))

    def _go(self, *, resume: bool, live: LiveRoast | Onlooker | None = None) -> None:
        super()._go(resume=resume, live=live)
        for key, sign, at in self._ahead or ():  # a line begun while the roast was opened, whole and as it was typed
            self._follow(
                self.line.press(key, sign, self.live.coach, max(self.live.now() - self.monotonic() + at, 0.0), at)
            )
        self._ahead = None
        if self.guard.on:  # the program itself: the garbage collector need not search the loaded modules again
            gc.freeze()

    def pulse(self) -> None:
        """Let time pass, and show the result."""
        if not self.is_running:  # the screen is being left, its parts are gone
            return
        if not self.guard.run(self._pulse):
            self.guard.run(self.refresh_entry)

    def _pulse(self) -> None:
        if self._live is None or self.view == "brief":
            self._play_check()
            self.refresh_entry()
            return
        now, coach = self.live.now(), self.live.coach
        self._ring(self.live.poll())
        coach.typing = bool(self.line.text)
        if self._take_in(now):
            self._pass(now)
        self._after_drop(now)
        self._follow(self.line.settle(coach, now))
        if self._saying is not None and not self.live.pending:
            self.message, self._saying = self._saying, None
        self.refresh_all()

    def _take_in(self, now: float) -> bool:
        """Take the source's entries up to ``now`` (s); return True if these were all.

        After a jump of its clock there may be a roast full of entries: they are taken in parts, keys between them.
        """
        if self.source is None:
            return True
        coach, end = self.live.coach, self.monotonic() + AT_ONCE
        while self.feed.given or self.feed.at < now:
            if not self.feed.given:
                self.feed.at = min(now, self.feed.at + SOURCE_STEP)
                self.feed.given.extend(self.source.advance(self.feed.at, coach))
            if self.feed.given:
                entry = self.feed.given.popleft()
                self._pass(entry.came)
                self._enter(entry, typed=False)
            if self.monotonic() > end and (self.feed.given or self.feed.at < now):
                self._take_later()
                return False
        untold, self.feed.untold = self.feed.untold, []
        for entry in untold:
            super()._tell(entry)
        return True

    def _tell(self, entry: Entry) -> None:
        """Tell the source of an entry: one typed while it catches up, when its clock is there; its own at once."""
        if entry.came > self.feed.at + CATCHES_UP:
            self.feed.untold.append(entry)
        else:
            super()._tell(entry)

    def _with_source(self, action: Action) -> None:
        if action == "jump" and self.live.now() > self.feed.at + CATCHES_UP:
            self.message = "The roaster catches up: in a moment."
        else:
            super()._with_source(action)

    def _take_later(self) -> None:
        if not self.feed.taking:
            self.feed.taking = True
            self._between(self._take_on)

    def _take_on(self) -> None:
        self.feed.taking = False
        if self._live is not None and self.query("#entry") and self._take_in(self.live.now()):
            self._pass(self.live.now())
            self.refresh_all()

    def _pass(self, now: float) -> None:
        """Let time pass to ``now`` (s); after a long time, as after sleep, and during a long fold, in parts that follow
        by themselves."""
        coach = self.live.coach
        self._ring(coach.advance(now, most=0 if coach.behind else AT_A_TIME))
        self._fold_later()

    def on_paste(self, event: Paste) -> None:
        event.stop()
        self.guard.run(lambda: self._pasted(event.text))

    def _pasted(self, text: str) -> None:
        if self.view == "brief":
            return
        waits = bool(self.line.to_enter)
        self.line.paste(text)
        if not waits:
            self._enter_pasted()
        self.refresh_entry()

    def _enter_pasted(self) -> None:
        """Enter the next line of a paste; the others follow after the next paint."""
        if not self.line.to_enter or not self.query("#entry"):  # all entered, or the screen is left
            return
        self._follow(self.line.next(self.live.coach, self.live.now()))
        if self.line.to_enter:
            self._between(self._enter_pasted)
        self.refresh_entry()

    def on_key(self, event: Key) -> None:
        if not self.guard.run(lambda: self._pressed(event)):
            self.guard.run(self.refresh_entry)

    def _pressed(self, event: Key) -> None:
        key, sign = event.key, event.character or ""
        if self.view == "help" and self._before_help == "brief":
            taken = self._brief_help_key(key, sign)
        else:
            taken = self._brief_key(key, sign) if self.view == "brief" else self._roast_key(key, sign)
        if taken:
            event.stop()
            self.refresh_entry()

    def _roast_key(self, key: str, sign: str) -> bool:
        coach = self.live.coach
        if self.view == "help":
            return self._help_key(key, None if self.line.text else self.keys.action(sign, coach.roast.phase))
        step = self.line.press(key, sign, coach, self.live.now(), self.monotonic())
        self._follow(step)
        return step.taken

    def _brief_help_key(self, key: str, sign: str) -> bool:
        """Handle a key on the page of keys before the roast: any key that doesn't turn it returns."""
        if not self.query_one("#help", PageView).turn(key):
            self.view = "brief"
            self.refresh_all()
        return True

    def _help_key(self, key: str, action: Action | None) -> bool:
        if self.query_one("#help", PageView).turn(key):
            return True
        if key == "escape" or action == "help":
            self.view = self._before_help
            self.refresh_all()
            return True
        if action in MARKS or action == "pop":  # a mark is never lost to a page that happens to be open
            self.view = self._before_help
            self.do(action)  # type: ignore[arg-type]
        return True


class RoastApp(Program):
    """The program with one roast on it; takes what ``RoastScreen`` takes."""

    def __init__(
        self, live: LiveRoast | Onlooker | Replayed | None = None, *, desk: Desk | None = None,
        source: Source | None = None, sound: bool = False, resumed: bool = False, tick: float = 0.25,
        begin: Callable[[], None] | None = None, settings: Settings | None = None,
    ) -> None:  # fmt: skip
        super().__init__(settings)
        self.roast = RoastScreen(
            live, desk=desk, source=source, sound=sound, resumed=resumed, tick=tick, begin=begin, settings=self.settings
        )

    def on_mount(self) -> None:
        """Show the roast."""
        self.push_screen(self.roast)

    def shown_anew(self) -> None:
        """Draw again after a change of theme."""
        if self.is_running:
            self.roast.shown_anew()

    def deeds(self) -> Iterable[Deed]:
        """Every action that has a key."""
        return self.roast.deeds()

    def say(self, text: str) -> None:
        """Say something beside the entry line."""
        self.roast.say(text)

    async def action_quit(self) -> None:
        """Leave; but name the entries that are not on disk first, once."""
        if self.roast.may_leave():
            self.exit()
