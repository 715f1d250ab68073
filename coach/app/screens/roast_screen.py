"""The roast that runs, on the screen: its pictures or the glance view, over the entry line."""

from __future__ import annotations

from functools import partial
from typing import Final

from rich.text import Text
from textual.app import ComposeResult

from coach.app.screens.act import act, missed_line
from coach.app.screens.asides import PageScreen, review_page
from coach.app.screens.entryline import AGAIN
from coach.app.screens.glance import glance, glance_text
from coach.app.screens.keyed import KeyedScreen
from coach.app.screens.keys import MARKS, help_lines
from coach.app.screens.program import look_of
from coach.app.screens.roast_view import Picked, RoastView, Shot
from coach.app.screens.roasting import Roasting
from coach.app.screens.whatif import compared, forecast_if
from coach.app.screens.widgets import Pane
from coach.app.screens.words import tapped, urgent
from coach.cues.situation import Situation
from coach.forecast.forecast_values import Forecast
from coach.roast.errors import printable
from coach.roast.typed_line import Typed
from coach.session.settings import Action

SMALL: Final = 60
"""Width below which words are shorter, columns."""
PICTURES: Final[tuple[Picked, ...]] = ("strip", "curve", "lists")


class RoastScreen(KeyedScreen):
    """Shows a ``roasting``, and opens the views of its actions; first the ``view`` "roast", or "glance"."""

    CSS = "#glance { height: 1fr; }"

    def __init__(self, roasting: Roasting, view: str) -> None:
        super().__init__(roasting.turns)
        self.roasting = roasting
        self.view = view
        self.picture: Picked = "strip"
        self._asked: tuple[Typed, Situation, Forecast | None] | None = None
        self.pictures = RoastView()
        self.glance = Pane("glance")
        roasting.show_view = self.show_view

    def compose(self) -> ComposeResult:
        yield self.glance
        yield self.pictures
        yield self.foot

    # -- what is shown ----------------------------------------------------------------------------------------------

    def show(self) -> None:
        glanced = self.view == "glance"
        self.glance.display, self.pictures.display = glanced, not glanced
        if glanced:
            self._show_glance()
        else:
            self._show_pictures()
        line = self.roasting.line
        shown, width = line.field.shown, self.app.size.width
        refused = "  (not taken)" if shown and not line.text and line.field.why == "refused" else ""
        entry = Text(f"› {shown[-(width - 4) :]}▏{refused}", no_wrap=True)
        if not shown and (offered := self.turn_words()):
            entry.append(f"  {offered}", style="dim")
        self.foot.show(entry, self.said(), line.keys.footer(self.roasting.live.coach.roast.phase))

    def _show_glance(self) -> None:
        coach, size = self.roasting.live.coach, self.app.size
        seen = glance(coach.situation, act(coach.situation, coach.cues, self.roasting.line.keys.name))
        self.glance.show(glance_text(seen, size.width, max(size.height - 3, 3), look_of(self.app)))

    def _show_pictures(self) -> None:
        live, source, keys = self.roasting.live, self.roasting.source, self.roasting.line.keys
        coach = live.coach
        s, d = coach.situation, coach.profile.document
        found, doing = self._what_if(), act(s, coach.cues, keys.name)
        invented = "" if not d.invented or "invented" in d.name else " · invented"
        shot = Shot(
            s, coach.cues, doing,
            name=printable(f"{d.name} · {d.batch_kg:g} kg{invented}"), state=self._health(),
            missed=missed_line(s, doing, keys.name("made"), keys.name("leave_out")),
            dial=printable(source.line(coach)), entries=coach.entries, other=None if found is None else found[1],
            by_ear=self.roasting.by_ear, picture=self.picture,
        )  # fmt: skip
        self.pictures.show(shot, look_of(self.app))

    def _health(self) -> str:
        """Health in words: reading back, saving, sound."""
        live, speaker = self.roasting.live, self.roasting.sound.speaker
        words = ["reloading the roast ..."] if live.coach.reading_back else []
        words.append("saving" if live.pending else "saved")
        if speaker is not None:
            words.append("sound ok" if not speaker.trouble else "sound: bell")
        return " · ".join(words)

    def turn_words(self) -> str:
        """The number offered for the moment at which the dial turns to it, with its key; '' where none is."""
        live = self.roasting.live
        s = live.coach.situation
        return "" if s.turn is None or s.t is None or live.read_only else f"{s.turn.words(s.t)}: Tab"

    def _what_if(self) -> tuple[Typed, Forecast | None] | None:
        """The setting of the question in the entry line, and its forecast; computed once a moment."""
        coach = self.roasting.live.coach
        setting = self.roasting.line.question()
        if setting is None:
            self._asked = None
            return None
        of = (setting, coach.situation)
        if self._asked is None or self._asked[0] != setting or self._asked[1] is not of[1]:
            self._asked = (*of, forecast_if(coach, setting))
        return setting, self._asked[2]

    def said(self) -> str:
        coach, line, found = self.roasting.live.coach, self.roasting.line, self._what_if()
        if found is not None:
            return compared(coach, *found)
        if line.withdraws is not None:  # the name and the time of the entry must fit on the smallest screen
            return line.message.replace(AGAIN, "⌫ withdraws: ", 1) if self.app.size.width < SMALL else line.message
        call, first = "", urgent(coach.cues)
        if self.roasting.by_ear or (first is not None and first.priority == "high"):  # else the band asks
            call = tapped(coach.situation, line.keys.name("first_crack"), line.keys.name("not_yet"))
        return f"{call}   {line.message}" if call else line.message or self.roasting.sound.words

    # -- keys and views ---------------------------------------------------------------------------------------------

    def press(self, key: str, sign: str) -> None:
        self.roasting.press(key, sign)

    def paste(self, text: str) -> None:
        self.roasting.paste(text)

    def action_press(self, action: Action) -> None:
        """Do the action of a key that was clicked in the last row."""
        self.turns.do(lambda: self.roasting.do(action))

    def show_view(self, action: Action) -> None:
        """Open the view of an action."""
        if action == "glance":
            self.view = "roast" if self.view == "glance" else "glance"
        elif action == "picture":
            self.picture = PICTURES[(PICTURES.index(self.picture) + 1) % 3]
        elif action == "review":
            self._review()
        else:
            self._open(PageScreen(self, self._closes, lambda wide, plain: help_lines(self.roasting.line.keys)))

    def _review(self) -> None:
        """Show the roast against its reference, once it was dropped."""
        live, keys = self.roasting.live, self.roasting.line.keys
        coach, path = live.coach, live.path
        if coach.roast.phase != "cooling":
            self.roasting.line.message = f"After drop {keys.name('review')} reviews the roast."
        elif not path.is_file():
            self.roasting.line.message = "There is no journal on disk to look back on."
        else:
            make = partial(review_page, path, coach.profile, path.parent, coach.record.episodes, coach.knowledge)
            self._open(PageScreen(self, self._closes, make=make))

    def _open(self, page: PageScreen) -> None:
        if isinstance(self.app.screen, PageScreen):  # a click, or the list of actions, over another page
            self.app.pop_screen()
        self.app.push_screen(page)

    def _closes(self, key: str, sign: str) -> bool:
        """Take a key on a page aside.  A mark is never lost to a page that happens to be open: it closes the page."""
        line = self.roasting.line
        action = None if line.text else line.keys.action(sign, self.roasting.live.coach.roast.phase)
        if action is not None and (action in MARKS or action == "pop"):
            self.roasting.do(action)
            return True
        return key == "escape" or action == "help"
