"""The page before the roast: offers, sound check, recipe, checklist, and what a roast is handed on with."""

from __future__ import annotations

from textual.app import ComposeResult

from coach.app.printing import hung
from coach.app.screens.asides import PageScreen
from coach.app.screens.before_roast import TWO, brief, column, in_full, offer_lines
from coach.app.screens.keyed import NARROW, Caution, KeyedScreen, Part
from coach.app.screens.keys import KeyMap, help_lines
from coach.app.screens.opening import Opening
from coach.app.screens.sounding import Sounding
from coach.app.screens.turns import Turns
from coach.app.screens.widgets import PageView
from coach.roast.errors import printable
from coach.roast.profile import Profile
from coach.roast.units import TemperatureUnit
from coach.session.offers import GO_ON, LOOK_ON


class BriefScreen(KeyedScreen):
    """Shows the page of a ``profile``, its temperatures in ``unit``; its keys make choices in ``opening``, tick the
    checklist, check the sounds and open pages."""

    view = "brief"

    def __init__(
        self, profile: Profile, unit: TemperatureUnit, *, rehearsed: bool, opening: Opening, sound: Sounding,
        turns: Turns, keys: KeyMap,
    ) -> None:  # fmt: skip
        super().__init__(turns)
        self.profile = profile
        self.unit = unit
        self.rehearsed = rehearsed
        self.opening = opening
        self.sound = sound
        self.keys = keys
        self.ticked: set[int] = set()
        self.caution = Caution()
        self.page = PageView("brief")

    def compose(self) -> ComposeResult:
        yield self.caution
        yield self.page
        yield self.foot

    def show(self) -> None:
        size, choosing, handed_on = self.app.size, self.opening.choosing, self.opening.handed_on
        head = offer_lines(choosing.offers or (), choosing.choices, choosing.chosen, self.profile.name)
        head += [self.opening.desk.newer, ""] if self.opening.desk is not None and self.opening.desk.newer else []
        if choosing.offer is not None and choosing.offer.charged and self.opening.desk is not None:
            head.append("s  the unfinished roast so far, to hand it over")
        page = brief(self.profile, self.unit, cautions=not in_full(size.width, size.height), ticked=self.ticked)
        lines = [printable(x) for x in (*head, self.sound.check_line(), *page)]
        right = [printable(x) for x in handed_on]
        self.caution.show_for(size)
        if size.width >= TWO and right:
            cells = column(size.width)
            self.page.show_columns(hung(lines, cells - 1), hung(right, cells), cells)
        else:
            self.page.show_lines(hung([*lines, *right], size.width - 3))
        self._show_foot()

    def _show_foot(self) -> None:
        wide = self.app.size.width >= NARROW
        ends = "Enter begins the roast"
        if self.rehearsed:
            ends = "Enter begins the rehearsal" + (": no drum is heated" if wide else "")
        elif self.opening.choosing.resumes:
            _, does = LOOK_ON if self.opening.choosing.enters == "look on" else GO_ON
            short = does.rpartition(" ")[0]
            ends = f"Enter {does} the roast   n begins a new one" if wide else f"Enter {short}  n new roast"
        self.foot.show_page(ends, self.page, self.said(), [*self.parts(), ("^p", "actions", ""), ("^q", "leave", "")])

    def parts(self) -> list[Part]:
        """Keys of the page for its last row and for the palette."""
        begin = ("Enter", "rehearse" if self.rehearsed else "roast", "")
        parts = [begin, ("h", "sounds", ""), (self.keys.name("help"), "keys", ""), ("1-9", "tick", "")]
        return [*parts, ("t", "trend", ""), ("l", "last roast", "")] if self.opening.handed_on else parts

    def said(self) -> str:
        return self.opening.choosing.message or self.sound.words

    def pulse(self) -> None:
        """Go on with the sound check."""
        self.sound.play_check(self.turns.monotonic())

    def press(self, key: str, sign: str) -> None:
        typed, sign = sign, sign.lower()
        choosing = self.opening.choosing
        going = choosing.enters == "go on" and choosing.offer is not None and choosing.offer.charged
        if going and sign.isdigit() and choosing.ahead is None:  # a reading for the roast that runs
            self.opening.press("enter")
        gathers, ahead = self.opening.page(sign), choosing.ahead
        if ahead is not None:
            ahead.append((key, typed, self.turns.monotonic()))
        elif gathers is not None:
            closes = lambda key, sign: key in ("escape", "enter")  # noqa: E731
            self.app.push_screen(PageScreen(self, closes, make=gathers, caution=True))
        elif self.page.turn(key):
            pass
        elif sign and sign == self.keys.sign("help"):
            self.app.push_screen(PageScreen(self, lambda key, sign: True, lambda wide, plain: help_lines(self.keys)))
        elif sign.isdigit() and sign != "0":
            self.ticked ^= {int(sign)}
        elif self.sound.check == "asking" and sign in ("y", "n"):
            self.sound.answer(sign == "y")
        elif sign == "h":
            self.sound.start_check(self.turns.monotonic())
        else:
            self.opening.press(typed if typed and typed.isprintable() else key)
