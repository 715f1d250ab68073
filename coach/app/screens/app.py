"""The program with one roast on it: the page before it, the roast, and pages aside."""

from __future__ import annotations

import gc
from collections.abc import Iterable
from functools import partial
from typing import TYPE_CHECKING

from textual.events import Event, Key, Paste

from coach.app.screens.before_roast import column
from coach.app.screens.brief_screen import BriefScreen
from coach.app.screens.keyed import KeyedScreen
from coach.app.screens.keys import BEFORE_DROP, ENTER, TEXTS, KeyMap
from coach.app.screens.opening import Opening
from coach.app.screens.program import Deed, Program
from coach.app.screens.sounding import Sounding
from coach.app.screens.source import Live
from coach.app.screens.turns import Turns
from coach.session.settings import Action, Settings

if TYPE_CHECKING:
    from coach.app.live import OpenRoast
    from coach.app.screens.desk import Desk
    from coach.app.screens.roasting import Roasting
    from coach.app.screens.source import Source


class RoastApp(Program):
    """The screen of one roast.

    ``live`` is the roast; without it ``desk`` opens one when the page before it is left.  ``source`` (a rehearsal, a
    replay) hears each entry and gives entries and a line of its dials.  ``tick``: time between two looks at the clock,
    s.
    """

    def __init__(
        self, live: OpenRoast | None = None, *, desk: Desk | None = None, source: Source | None = None,
        sound: bool = False, tick: float = 0.25, settings: Settings | None = None,
    ) -> None:  # fmt: skip
        super().__init__(settings)
        self.turns = Turns(self, self.show)
        self.sound = Sounding(lambda: self.bell(), self.settings if sound and self.settings.sound else None)
        self.opening = Opening(desk, self.turns, self.begin, self.say_in_quiet)
        self.opened = None if live is None else self._working(live, source or Live())
        """The roast that is open, None before one is."""
        self._tick = tick
        self._warned = False
        """True once the person was told, on leaving, that not all is on disk."""
        coach = None if self.opened is None else self.opened.live.coach
        if coach is not None:
            profile, unit, rehearsed = coach.profile, coach.header.unit, coach.header.run == "rehearsal"
        elif desk is not None:
            profile, unit, rehearsed = desk.profile, desk.unit or desk.profile.unit, False
        else:
            raise ValueError("neither a roast nor a desk that opens one")
        self.first = BriefScreen(
            profile, unit, rehearsed=rehearsed, opening=self.opening, sound=self.sound, turns=self.turns,
            keys=KeyMap(self.settings),
        )  # fmt: skip

    def _working(self, live: OpenRoast, source: Source) -> Roasting:
        from coach.app.screens.roasting import Roasting  # no first paint waits for it

        return Roasting(live, KeyMap(self.settings), source, self.sound, self.turns)

    # -- what is open -----------------------------------------------------------------------------------------------

    @property
    def roast(self) -> Roasting:
        """The roast that is open.  RuntimeError before one is."""
        if self.opened is None:
            raise RuntimeError("no roast is open yet")
        return self.opened

    @property
    def begun(self) -> bool:
        """True once the page before the roast was left."""
        return any(isinstance(s, KeyedScreen) and s.view in ("roast", "glance") for s in self.screen_stack)

    @property
    def top(self) -> KeyedScreen:
        """The screen of the roast that is shown."""
        return next((s for s in reversed(self.screen_stack) if isinstance(s, KeyedScreen)), self.first)

    @property
    def message(self) -> str:
        """The words beside the entry line."""
        return self.roast.line.message if self.begun else self.opening.choosing.message

    def say(self, text: str) -> None:
        """Say something beside the entry line."""
        (self.roast.line if self.begun else self.opening.choosing).message = text
        self.show()

    def say_in_quiet(self, text: str) -> None:
        """Say something where nothing else is said."""
        if text and not self.message:
            self.say(text)

    def show(self) -> None:
        """Show everything that has changed; on any screen trouble with the journal, or a fault of the program's own."""
        top, trouble = self.top, "" if self.opened is None else self.opened.live.trouble
        if top.is_mounted:
            top.foot.show_trouble(trouble or self.turns.guard.word)
            top.show()

    def redraw(self) -> None:
        self.show()

    # -- from the first paint to the roast --------------------------------------------------------------------------

    def on_mount(self) -> None:
        """Show the first screen."""
        self.push_screen(self.first)
        self.first.call_after_refresh(self.after_first_paint)

    def after_first_paint(self) -> None:
        """Open the sound, load what works in a roast, read the logbook: no first paint waits for them."""
        self.sound.open()
        self.opening.start(column(self.size.width))
        self.set_interval(self._tick, self.pulse)
        self.show()

    def begin(self, live: OpenRoast | None, resumed: bool) -> None:
        """Leave the page before the roast, for the roast ``live`` where one was opened."""
        from coach.app.screens.roast_screen import RoastScreen

        if live is not None:
            self.opened = self._working(live, Live())
        self.push_screen(RoastScreen(self.roast, "glance" if self.settings.glance else "roast"))
        self.roast.begin(resumed=resumed)
        ahead, self.opening.choosing.ahead = self.opening.choosing.ahead or (), None
        for key, sign, at in ahead:  # a line begun while the roast was opened, whole and as it was typed
            self.roast.press(key, sign, at)
        if self.turns.guard.on:  # the program itself: the garbage collector need not search the loaded modules again
            gc.freeze()

    # -- keys and time ----------------------------------------------------------------------------------------------

    async def on_event(self, event: Event) -> None:
        """Give keys and pastes to the screen of the roast; those of other screens, and keys with Ctrl, go their way."""
        screen = self.screen_stack[-1] if isinstance(event, Key | Paste) and not event.is_forwarded else None
        if not isinstance(screen, KeyedScreen):
            await super().on_event(event)
        elif isinstance(event, Paste):
            self.turns.do(partial(screen.paste, event.text))
        elif isinstance(event, Key) and (event.key in ENTER or "ctrl+" not in event.key):
            self.turns.do(partial(screen.press, event.key, event.character or ""))
        else:
            await super().on_event(event)

    def on_resized(self) -> None:
        """Show what another size needs."""
        self.turns.guard.run(self.show)

    def pulse(self) -> None:
        """Let time pass, and show the result."""
        if self.is_running and self.top.is_running:  # else the screen is being left, its parts are gone
            self.turns.do(self._pulse)

    def _pulse(self) -> None:
        if self.begun:
            self.roast.pass_time()
        else:
            self.first.pulse()

    def deeds(self) -> Iterable[Deed]:
        """Every action that has a key, those of the footer first; after the drop none from before it."""
        if not self.begun:
            for key, word, _ in self.first.parts() if self.top is self.first else ():
                sign = key if len(key) == 1 else ""
                if sign or key == "Enter":
                    press = partial(self.first.press, key.lower(), sign)
                    yield f"{word} ({key})", "", partial(self.turns.do, press)
            return
        keys, phase = self.roast.line.keys, self.roast.live.coach.roast.phase
        likely = [a for _, _, a in keys.footer(phase) if a in TEXTS]
        for action in sorted(TEXTS, key=lambda a: likely.index(a) if a in likely else len(likely)):
            name, what = action.replace("_", " "), TEXTS[action]
            if not (phase == "cooling" and action in BEFORE_DROP):
                what = "" if what == name else what.removeprefix(f"{name}: ")
                yield f"{name} ({keys.name(action)})", what, partial(self.do, action)

    def do(self, action: Action) -> None:
        """Do an action of the roast."""
        self.turns.do(lambda: self.roast.do(action))

    # -- the way out ------------------------------------------------------------------------------------------------

    async def action_quit(self) -> None:
        """Leave; but name the entries that are not on disk first, once."""
        live = None if self.opened is None else self.opened.live
        if live is not None and live.pending and live.trouble and not self._warned:
            self._warned = True
            self.say("NOT ALL IS ON DISK. Ctrl+q again leaves; you can then write the roast to another folder.")
        else:
            self.exit()

    def on_unmount(self) -> None:
        self.sound.close()
        if self.opened is not None:
            self.opened.live.close()
