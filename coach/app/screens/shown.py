"""The visible part of the roast screen: its widgets, and a situation put into them."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

from rich.text import Text
from textual.app import ComposeResult
from textual.screen import Screen

from coach.app.printing import filled
from coach.app.screens.act import act, missed_line
from coach.app.screens.before_roast import CAUTIONS, IN_SHORT, TWO, brief, column, in_full, offer_lines
from coach.app.screens.before_roast import HearingCheck as Check
from coach.app.screens.entryline import AGAIN, EntryLine
from coach.app.screens.faults import Guard
from coach.app.screens.glance import glance, glance_text
from coach.app.screens.helppage import help_lines
from coach.app.screens.keys import KeyMap
from coach.app.screens.palette import Sketch
from coach.app.screens.program import look_of
from coach.app.screens.roast_panes import footer
from coach.app.screens.roast_view import Picked, RoastView, Shot
from coach.app.screens.signs import plain, terminal_encoding
from coach.app.screens.source import Feed, OpenRoast, Source
from coach.app.screens.whatif import Asked, compared, forecast_if
from coach.app.screens.widgets import PageView, Pane
from coach.app.screens.words import tapped
from coach.app.sound.speaker import Speaker
from coach.app.sound.speech import Voice
from coach.cues.situation import Situation
from coach.roast.errors import printable
from coach.session.settings import Settings
from coach.session.unfinished import choices

if TYPE_CHECKING:
    from coach.app.live import LiveRoast, Onlooker
    from coach.app.screens.desk import Desk
    from coach.app.screens.playback import Replayed
    from coach.forecast.forecast_values import Forecast
    from coach.forecast.knowledge import Knowledge
    from coach.session.unfinished import Choice, Offer

NARROW: Final = 50
"""Width below which the big digits have no room for the unit and the minus of the countdown, columns."""
View = Literal["brief", "roast", "glance", "help"]
SMALL: Final = 60
"""Fewer columns get shorter words."""


class Shown(Screen[None]):
    """The screen without its keys: shows the roast that is open, or the page before it."""

    CSS = """
    #entry { height: 1; }
    #message { height: auto; min-height: 1; max-height: 2; color: $off; }
    #trouble { height: auto; max-height: 2; text-style: bold reverse; }
    #keys { height: 1; background: $bar; }
    #caution { height: auto; max-height: 4; padding: 0 1; text-style: bold; }
    #brief, #help { height: 1fr; padding: 0 1; scrollbar-size-vertical: 1; }
    #glance { height: 1fr; }
    #brief-text, #help-text { height: auto; }
    """

    def __init__(self, live: LiveRoast | Onlooker | Replayed | None = None, *, desk: Desk | None = None,
                 source: Source | None = None, sound: bool = False, resumed: bool = False, tick: float = 0.25,
                 begin: Callable[[], None] | None = None, settings: Settings | None = None) -> None:  # fmt: skip
        super().__init__()
        self.settings = settings or Settings()
        self.ascii_only = plain(self.settings.signs, terminal_encoding(), os.environ)
        self.keys = KeyMap(self.settings)
        self._live = live
        self.desk = desk
        self.source = source
        self.feed = Feed()
        self.line = EntryLine(self.keys)
        self.message = "Going on with the roast where it stands." if resumed else ""
        self.view: View = "roast" if resumed else "brief"
        self._before_help: View = self.view
        self.aside: Literal["", "pulses", "review", "trend"] = ""
        """The page in the place of help or of the brief, '' for none."""
        self.monotonic: Callable[[], float] = time.monotonic
        self.offers: tuple[Offer, ...] | None = None
        """The unfinished roasts; None while the folder is not read yet."""
        self.chosen = 0
        self._over: set[Path] = set()
        self.knowledge: Knowledge | None = None
        self.check = Check()
        self.guard = Guard()
        self.handed_on: list[str] = []
        self.ticked: set[int] = set()
        self._saying: str | None = None
        self._desk_ready = desk is None
        self._learning = desk is not None
        self._waiting: Literal["", "look", "resume"] = ""
        self._speaker: Speaker | None = None
        self._voice: Voice | None = None
        self._use_device = sound and self.settings.sound
        self._period = tick
        self._begin = begin
        self.picture: Picked = "strip"
        self._asked: tuple[Asked, Situation, Forecast | None] | None = None

    @property
    def live(self) -> OpenRoast:
        """The roast that is open.  RuntimeError before one is."""
        if self._live is None:
            raise RuntimeError("no roast is open yet")
        return self._live

    @property
    def opened(self) -> LiveRoast | Onlooker | Replayed | None:
        """The roast that is open, None before one is."""
        return self._live

    @property
    def message(self) -> str:
        """The words beside the entry line."""
        return self.line.message

    @message.setter
    def message(self, text: str) -> None:
        self.line.message = text

    @property
    def buffer(self) -> str:
        """The text of the entry line."""
        return self.line.text

    @property
    def offer(self) -> Offer | None:
        """The unfinished roast that Enter or x means; None where there is none."""
        return self.offers[min(self.chosen, len(self.offers) - 1)] if self.offers else None

    def _choices(self) -> tuple[Choice, ...]:
        """The choices before the roast."""
        return choices(self.offers, self.chosen, "" if self.desk is None else self.desk.profile.name)

    @property
    def enter_resumes(self) -> bool:
        """True if Enter goes on with, or looks on at, a roast that may still be running."""
        return next((c.act in ("go on", "look on") for c in self._choices()), False)

    @property
    def brief_open(self) -> bool:
        """True while the page before the roast is shown."""
        return self.view == "brief"

    @property
    def how(self) -> Sketch:
        """Style of drawing, by the present theme."""
        return look_of(self.app)

    def shown_anew(self) -> None:
        """Draw again after a change of theme."""
        if self.is_running and self.query("#entry"):
            self.refresh_all()

    def say(self, text: str) -> None:
        """Show a message beside the entry line."""
        self.message = text
        self.refresh_entry()

    def compose(self) -> ComposeResult:
        plain_only = self.ascii_only
        yield Pane("caution", grows=True, ascii_only=plain_only)
        yield PageView("brief", ascii_only=plain_only, resized=self.refresh_entry)
        yield PageView("help", ascii_only=plain_only, resized=self.refresh_entry)
        yield Pane("glance", ascii_only=plain_only)
        yield RoastView(plain=plain_only)
        yield Pane("entry", ascii_only=plain_only)
        yield Pane("message", grows=True, ascii_only=plain_only)
        yield Pane("trouble", grows=True, ascii_only=plain_only)
        keys = Pane("keys", ascii_only=plain_only)
        keys.auto_links = False  # clickable, and painted as any other text
        yield keys

    def _pane(self, ident: str) -> Pane:
        return self.query_one(f"#{ident}", Pane)

    def turn_words(self) -> str:
        """The number offered for the moment at which the dial turns to it, with its key; '' where none is."""
        s = self.live.coach.situation
        return "" if s.turn is None or s.t is None or self.live.read_only else f"{s.turn.words(s.t)}: Tab"

    def refresh_entry(self) -> None:
        """Show the entry line, and the message beside it."""
        if self.view in ("brief", "help"):
            page = self.query_one(f"#{self.view}", PageView)
            narrow = self.size.width < NARROW
            more = ("  ↓ more" if narrow else "  MORE BELOW: ↓ PgDn") if page.more else ""
            ends = "Esc returns" if self.view == "help" or self.aside else "Enter begins the roast"
            if self.view == "brief" and self.enter_resumes and not self.aside:
                ends = "Enter goes on with the roast   n begins a new one"
                if narrow:
                    ends = "Enter goes on  n new roast"
            self._pane("entry").show(Text(f"› {ends}{more}", style="bold"))
            parts = [
                ("Enter", "roast", ""),
                ("h", "sounds", ""),
                (self.keys.name("help"), "keys", ""),
                ("1-9", "tick", ""),
            ]
            if self.handed_on:
                parts += [("t", "trend", ""), ("l", "last roast", "")]
            parts += [("^p", "actions", ""), ("^q", "leave", "")]
            if self.view == "help" or self.aside:
                parts = [("Esc", "returns", ""), ("PgDn PgUp", "turn", ""), ("^q", "leave", "")]
            self._pane("keys").show(footer(parts, self.size.width, self.how))
        else:
            shown = self.line.shown
            refused = "  (not taken)" if shown and not self.line.text and self.line.why == "refused" else ""
            line = Text(f"› {shown[-(self.size.width - 4) :]}▏{refused}", no_wrap=True)
            if not shown and (offered := self.turn_words()):
                line.append(f"  {offered}", style="dim")
            self._pane("entry").show(line)
            parts = self.keys.footer(self.live.coach.roast.phase, ascii_only=self.ascii_only)
            self._pane("keys").show(footer(parts, self.size.width, self.how))
        self._pane("message").show(Text(self._said() or " "))
        if self._asked is not None:
            self._show_roast()
            if self._what_if() is None:
                self._asked = None
        trouble = (self._live.trouble if self._live is not None else "") or self.guard.word
        self._pane("trouble").show(Text(f" {printable(trouble)}") if trouble else "")

    def _what_if(self) -> tuple[Asked, Forecast | None] | None:
        """The setting of the question in the entry line, and its forecast; computed once a moment."""
        if self._live is None:
            return None
        coach = self.live.coach
        setting = self.line.question(coach)
        if setting is None:
            return None
        of = (setting, coach.situation)
        if self._asked is None or self._asked[0] != setting or self._asked[1] is not of[1]:
            self._asked = (*of, forecast_if(coach, setting))
        return setting, self._asked[2]

    def _said(self) -> str:
        found = self._what_if()
        if found is not None:
            return compared(self.live.coach, *found)
        if self._live is not None and self.view != "brief":
            keys = self.keys
            if self.line.withdraws is not None:  # the name and the time of the entry must fit on the smallest screen
                return self.message.replace(AGAIN, "⌫ withdraws: ", 1) if self.size.width < SMALL else self.message
            call = tapped(self._live.coach.situation, keys.name("first_crack"), keys.name("not_yet"))
            if call:
                return f"{call}   {self.message}"
        return self.message or self._sound_word()

    def _sound_word(self) -> str:
        if self._speaker is None:
            return ""
        trouble = self._voice.trouble if self._voice is not None else ""
        return self._speaker.trouble or trouble or f"cues through: {self._speaker.output}"

    def _show_brief(self) -> None:
        if self._live is not None:
            document, unit = self._live.coach.profile.document, self._live.coach.header.unit
        else:
            assert self.desk is not None
            document, unit = self.desk.profile.document, self.desk.unit or self.desk.profile.unit
        way = self._speaker.output if self._speaker is not None else "terminal bell"
        head = offer_lines(self.offers or (), self._choices(), self.chosen, document.name)
        if self.offer is not None and self.offer.charged and self.desk is not None:
            head.append("s  the roast as it stands, for whoever takes it over")
        look = ["t  the trend of this profile's roasts   l  the review of the last one"] if self.handed_on else []
        room = in_full(self.size.width, self.size.height)
        self._pane("caution").show("\n".join(CAUTIONS) if room else IN_SHORT)
        page = brief(document, unit, cautions=not room, ticked=self.ticked)
        lines = [printable(x) for x in (*head, self.check.line(way), *look, "", *page)]
        right = [printable(x) for x in self.handed_on]
        shown = self.query_one("#brief", PageView)
        if self.size.width >= TWO and right:
            cells = column(self.size.width)
            shown.show_columns(filled(lines, cells - 1), filled(right, cells), cells)
        else:
            shown.show_lines([*lines, *right])

    def page_lines(self) -> list[str]:
        """Lines of the page of help, or of another in its place."""
        return help_lines(self.keys)

    def _show_page(self, name: Literal["brief", "help"], lines: Sequence[str]) -> None:
        self.query_one(f"#{name}", PageView).show_lines([printable(x) for x in lines])

    def refresh_all(self) -> None:
        """Show everything that has changed."""
        for view in ("brief", "help", "glance", "roast"):
            self.query_one(f"#{view}").display = self.view == view
        self._pane("caution").display = self.view == "brief"
        if self.view == "brief":
            self._show_brief()
        elif self.view == "help":
            self._show_page("help", self.page_lines())
        elif self.view == "glance":
            coach, pane = self.live.coach, self._pane("glance")
            seen = glance(coach.situation, act(coach.situation, coach.cues, self.keys.name))
            pane.show(glance_text(seen, self.size.width, max(self.size.height - 3, 3), self.how))
        else:
            self._show_roast()
        self.refresh_entry()

    def _show_roast(self) -> None:
        coach = self.live.coach
        s = coach.situation
        found, doing = self._what_if(), act(s, coach.cues, self.keys.name)
        self.query_one(RoastView).show(
            Shot(
                s, coach.cues, doing,
                name=printable(self._heading()), state=self._health(),
                missed=missed_line(s, doing, self.keys.name("made"), self.keys.name("leave_out")),
                dial="" if self.source is None else printable(self.source.line(coach)),
                entries=coach.entries, other=None if found is None else found[1],
                by_ear=getattr(self.source, "stage", "") == "cues only", picture=self.picture,
            ),
            self.how,
        )  # fmt: skip

    def _heading(self) -> str:
        d = self.live.coach.profile.document
        invented = "" if not d.invented or "invented" in d.name else " · invented"
        return f"{d.name} · {d.batch_kg:g} kg{invented}"

    def _health(self) -> str:
        """Health in words: reading back, saving, sound."""
        coach = self.live.coach
        words = ["reloading the roast ..."] if coach.reading_back else []
        words.append("saving" if self.live.pending else "saved")
        if self._speaker is not None:
            words.append("sound ok" if not self._speaker.trouble else "sound: bell")
        return " · ".join(words)

    def on_roast_view_wanted(self) -> None:
        """Give the view a shot for its new size."""
        if self._live is not None and self.view == "roast":
            self._show_roast()

    def pulse(self) -> None:
        """Let time pass, and show the result."""
        raise NotImplementedError
