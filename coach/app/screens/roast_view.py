"""The roast on the screen: pure renderers put into panes, laid out by the room there is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Final, Literal

from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.events import Resize
from textual.geometry import Size

from coach.app.screens.act import Act, others
from coach.app.screens.palette import Sketch
from coach.app.screens.roast_panes import (
    advice_line,
    advice_panel,
    alert,
    alerts,
    band,
    entries_list,
    figures,
    forecast_panel,
    in_short,
    large,
    ranges,
    results_panel,
    state_row,
)
from coach.app.screens.roast_pictures import curve_picture, lane, strip
from coach.app.screens.widgets import Pane, Resized
from coach.cues.situation import ActiveCue, Situation
from coach.forecast.forecast_values import Forecast
from coach.roast.roast import Numbered
from coach.roast.units import Control

WIDE: Final = 120
"""Width from which on there is a second column beside the pictures, columns."""
VAST: Final = 160
"""Width from which on the figures are five rows high, where there are rows for it, columns."""
TALL: Final = 34
"""Height from which on the band has five rows, and the temperature curve is under the strip, rows."""
FOOT: Final = 3
"""Rows at the foot of the screen: the entry line, a line of words, and keys."""
LEAST: Final = 11
"""Least height of the strip with its axis, rows."""
ABOVE: Final = ("state", "figures", "band", "alert", "ranges", "advice-line")
PICTURES: Final = ("strip", "curve", "gas", "air")
LISTS: Final = ("forecast", "advice", "alerts", "entries")
"""Panes from top to bottom: above the pictures, the pictures, and the lists beside them."""
TITLES: Final = {
    "curve": "Temperature",
    "gas": "Gas and air",
    "forecast": "Forecast",
    "advice": "Advice",
    "alerts": "Alerts",
    "entries": "Entries",
}
"""Titles of panes."""
Picked = Literal["strip", "curve", "lists"]


@dataclass(frozen=True)
class Shot:
    """Content of the roast view: a situation with its cues, the act for the band, and the texts around them."""

    situation: Situation
    cues: Sequence[ActiveCue]
    act: Act
    name: str = ""
    state: str = ""
    dial: str = ""
    missed: str = ""
    """Planned moves that were missed, and the keys for it."""
    entries: Sequence[Numbered] = field(default_factory=tuple)
    other: Forecast | None = None
    by_ear: bool = False
    """True in a rehearsal by ear, which shows the dials alone."""
    picture: Picked = "strip"
    """The picture that is shown where there is room for one."""


class RoastView(Vertical):
    """Shows a ``Shot``; sends ``Resized`` when it needs one for another size."""

    DEFAULT_CSS = """
    RoastView { height: 1fr; }
    RoastView Pane { height: 1; }
    RoastView #state { background: $bar; }
    RoastView #body { height: 1fr; }
    RoastView #pictures { width: 1fr; height: 1fr; }
    RoastView #strip, RoastView #curve { height: 1fr; }
    RoastView #side { width: 38; height: 1fr; padding: 0 0 0 2; display: none; }
    RoastView.wide #side { display: block; }
    RoastView.vast #side { width: 52; }
    RoastView.lists #side { display: block; width: 1fr; }
    RoastView.lists #pictures { display: none; }
    RoastView #side Pane { height: auto; border-top: solid $rule; border-title-color: $soft; }
    RoastView.wide #strip, RoastView.wide #curve, RoastView.wide #gas {
        border-top: solid $rule; border-title-color: $soft; }
    RoastView.wide #gas { height: 2; }
    RoastView #side #entries { height: 1fr; }
    RoastView #side #alerts { max-height: 8; }
    """

    def __init__(self) -> None:
        super().__init__(id="roast")
        names = (*ABOVE, *PICTURES, *LISTS, "dial")
        self.panes = {x: Pane(x, grows=x in ("forecast", "advice", "alerts")) for x in names}
        self.side = Vertical(id="side")
        self.shot: Shot | None = None
        """The shot that is shown."""
        self._shown: tuple[Size, Sketch] | None = None
        self._drawn: dict[str, tuple[tuple[object, ...], tuple[object, ...], Text]] = {}

    def compose(self) -> ComposeResult:
        for name, title in TITLES.items():
            self.panes[name].border_title = title
        yield from (self.panes[x] for x in ABOVE)
        with Horizontal(id="body"):
            with Vertical(id="pictures"):
                yield from (self.panes[x] for x in PICTURES)
            with self.side:
                yield from (self.panes[x] for x in LISTS)
        yield self.panes["dial"]

    def on_resize(self, event: Resize) -> None:
        self.post_message(Resized())

    def show(self, shot: Shot, how: Sketch) -> None:
        """Show a shot; does nothing where it is shown already, and panes repaint only what has changed."""
        size = self.size or Size(self.app.size.width, self.app.size.height - FOOT)  # before it is laid out
        width, height = size
        of = (size, how)
        if self.shot is not None and self._shown == of and _alike(shot, self.shot):
            return
        self.shot = shot
        if width < 20 or height < 5:
            return
        self._shown = of
        wide = width >= WIDE and height >= 20
        inside = "shaded" if how.grounds else "between the dotted lines"
        self.panes["strip"].entitle(f"Off plan   {inside}: inside tolerance")
        self.set_class(wide, "wide")
        self.set_class(width >= VAST and wide, "vast")
        s, rest = shot.situation, others(shot.cues, shot.act)
        left = height - 1
        self.panes["state"].show(state_row(s, shot.name, shot.state, width, how))
        self._line("dial", Text(shot.dial, how.look.fan, no_wrap=True) if shot.dial else None)
        left -= 1 if shot.dial else 0
        low = height < 16
        scale = 2 if width >= VAST and height >= 44 else 1
        tall = 3 if how.plain else 6 if scale == 2 else 4
        small = low or width < 60
        digits = figures(s, shot.act.next_in, width, how, scale=scale)
        if small:
            digits = in_short(s, shot.act.next_in, width, how)
            tall = 1
        self._sized("figures", digits, tall)
        rows = 7 if height >= 44 else 5 if height >= TALL - 3 else 3 if height >= 12 else 1
        self._sized("band", band(shot.act, width, rows, how), rows)
        left -= tall + rows
        if shot.by_ear:
            for name in ("figures", "band", "alert", "ranges", "advice-line", "strip", "curve", "gas", "air"):
                self._line(name, None)
            self.side.display = False
            return
        extra = shot.act.more if rows == 3 and large(shot.act, width, rows) and not how.plain else ""
        self._line("alert", None if wide else alert(rest, s, width, how, extra, shot.missed))
        ahead = not wide and left >= 6 and s.roast.phase != "cooling"
        self._line("ranges", ranges(s, width, how) if ahead else None)
        left -= 0 if wide else 1 + ahead
        line = not wide and left > LEAST
        self._line("advice-line", advice_line(s, width, how) if line else None)
        left -= 1 if line else 0
        self._pictures(shot, how, width, wide, left)
        if wide:
            self._side(shot, rest, how)

    def _pictures(self, shot: Shot, how: Sketch, width: int, wide: bool, left: int) -> None:
        s = shot.situation
        two = left >= 2 * LEAST - 2 + (2 if wide else 0)
        lanes = left >= 2 * LEAST + 1
        side = 0 if not wide else 54 if self.has_class("vast") else 40
        width -= side if wide else 0
        edge = 1 if wide else 0
        room = left - (2 + edge if lanes else 0)
        controls: tuple[Control, ...] = ("gas", "air")
        for control in controls:
            anew = partial(lane, s, control, width, how)
            self._line(control, self._drawing(control, *_basis(shot, width, 1, how), anew) if lanes else None)
        upper = room if not two else max(round(room * 0.5), LEAST + edge)
        sizes = {"strip": upper, "curve": room - upper} if two else {"strip": room, "curve": 0}
        if not two and shot.picture == "curve":
            sizes = {"strip": 0, "curve": room}
        lists = not wide and (shot.picture == "lists") != (s.roast.phase == "cooling")  # after the drop: results first
        self.set_class(lists, "lists")
        if lists:
            sizes = {"strip": 0, "curve": 0}
            self._side(shot, others(shot.cues, shot.act), how)
        for name, draw in (("strip", strip), ("curve", curve_picture)):
            pane, rows = self.panes[name], sizes[name]
            pane.display = rows > 0
            if rows:
                pane.styles.height = rows
                anew = partial(draw, s, width, rows - edge, how, shot.other)
                pane.show(self._drawing(name, *_basis(shot, width, rows - edge, how), anew))

    def _side(self, shot: Shot, rest: Sequence[ActiveCue], how: Sketch) -> None:
        s = shot.situation
        lists = self.has_class("lists")
        width = (self.size.width or self.app.size.width) - 4 if lists else (52 if self.has_class("vast") else 38) - 2
        self.panes["forecast"].show(Text() if lists else forecast_panel(s, width, how))
        dropped = s.roast.phase == "cooling"
        self.panes["advice"].entitle("Results" if dropped else "Advice")
        self.panes["advice"].show(results_panel(s.roast, width, how) if dropped else advice_panel(s, width, 6, how))
        self.panes["alerts"].show(alerts(rest, s, width, 7, how, shot.missed))
        rows = self.app.size.height
        anew = partial(entries_list, shot.entries, s.roast, width, rows, how)
        self.panes["entries"].show(self._drawing("entries", (shot.entries, s.roast), (width, rows, how), anew))

    def _drawing(
        self, name: str, objects: tuple[object, ...], values: tuple[object, ...], anew: Callable[[], Text]
    ) -> Text:
        """The text of a pane, drawn ``anew`` when an input has changed, as an object or by value."""
        kept = self._drawn.get(name)
        if kept is None or kept[1] != values or any(x is not y for x, y in zip(kept[0], objects, strict=True)):
            kept = self._drawn[name] = objects, values, anew()
        return kept[2]

    def _line(self, name: str, text: Text | None) -> None:
        pane = self.panes[name]
        pane.display = text is not None
        if text is not None:
            pane.show(text)

    def _sized(self, name: str, text: Text, rows: int) -> None:
        pane = self.panes[name]
        pane.display = True
        if pane.styles.height is None or pane.styles.height.value != rows:
            pane.styles.height = rows
        pane.show(text)


def _alike(a: Shot, b: Shot) -> bool:
    """True if two shots show the same: one situation, and the same around it."""
    same = a.situation is b.situation and a.entries is b.entries and a.other is b.other and a.act == b.act
    around = (a.name, a.state, a.dial, a.missed, a.by_ear, a.picture) == (
        b.name, b.state, b.dial, b.missed, b.by_ear, b.picture,
    )  # fmt: skip
    return same and around and tuple(a.cues) == tuple(b.cues)


def _basis(shot: Shot, width: int, rows: int, how: Sketch) -> tuple[tuple[object, ...], tuple[object, ...]]:
    """Inputs of a picture, to be compared as objects, and by value: it is drawn again when one has changed.  Time alone
    moves nothing until the next whole second's estimate."""
    s, other = shot.situation, shot.other
    e, f = s.estimate, s.forecast
    objects = (
        s.profile, f.first_crack, f.drop, None if f.path is None else f.path.mean, None if other is None else other.path
    )  # fmt: skip
    return objects, (
        s.roast.readings, s.roast.moves, tuple(s.roast.marks.items()), s.roast.phase, width, rows, how,
        s.t if s.t is None else int(s.t // 5), None if e is None else (e.reading_t, tuple(e.doubtful)),
    )  # fmt: skip
