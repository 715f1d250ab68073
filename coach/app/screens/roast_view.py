"""The roast on the screen: pure renderers put into panes, laid out by the room there is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
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

    situation: Situation = field(compare=False)
    cues: Sequence[ActiveCue]
    act: Act
    name: str = ""
    state: str = ""
    dial: str = ""
    missed: str = ""
    """Planned moves that were missed, and the keys for it."""
    entries: Sequence[Numbered] = field(default=(), compare=False)
    other: Forecast | None = field(default=None, compare=False)
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
    RoastView #side { width: 38; height: 1fr; padding: 0 0 0 2; display: none; }
    RoastView.wide #side { display: block; }
    RoastView.vast #side { width: 52; }
    RoastView.lists #side { display: block; width: 1fr; }
    RoastView.lists #pictures { display: none; }
    RoastView #side Pane { height: auto; border-top: solid $rule; border-title-color: $soft; }
    RoastView.wide #strip, RoastView.wide #curve, RoastView.wide #gas {
        border-top: solid $rule; border-title-color: $soft; }
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
        old, of = self.shot, (size, how)
        same = old is not None and old.situation is shot.situation and old.other is shot.other and old == shot
        if same and self._shown == of:
            return
        self.shot = shot
        width, height = size
        if width < 20 or height < 5:
            return
        self._shown = of
        wide = width >= WIDE and height >= 20
        inside = "shaded" if how.grounds else "between the dotted lines"
        self.panes["strip"].entitle(f"Off plan   {inside}: inside tolerance")
        self.set_class(wide, "wide")
        self.set_class(width >= VAST and wide, "vast")
        s, put = shot.situation, self._put
        left = height - put("state", state_row(s, shot.name, shot.state, width, how))
        left -= put("dial", Text(shot.dial, how.look.fan, no_wrap=True) if shot.dial else None)
        if height < 16 or width < 60:
            left -= put("figures", in_short(s, shot.act.next_in, width, how))
        else:
            scale = 2 if width >= VAST and height >= 44 else 1
            tall = 3 if how.plain else 6 if scale == 2 else 4
            left -= put("figures", figures(s, shot.act.next_in, width, how, scale=scale), tall)
        rows = 7 if height >= 44 else 5 if height >= TALL - 3 else 3 if height >= 12 else 1
        left -= put("band", band(shot.act, width, rows, how), rows)
        if shot.by_ear:
            for name in ("figures", "band", "alert", "ranges", "advice-line", *PICTURES):
                put(name, None)
            self.side.display = False
            return
        rest, cooling = others(shot.cues, shot.act), s.roast.phase == "cooling"
        extra = shot.act.more if rows == 3 and large(shot.act, width, rows) and not how.plain else ""
        left -= put("alert", None if wide else alert(rest, s, width, how, extra, shot.missed))
        left -= put("ranges", ranges(s, width, how) if not wide and left >= 5 and not cooling else None)
        left -= put("advice-line", advice_line(s, width, how) if not wide and left > LEAST else None)
        lists = not wide and (shot.picture == "lists") != cooling  # after the drop: results first
        self.set_class(lists, "lists")
        side = 0 if not wide else 52 if self.has_class("vast") else 38
        if wide or lists:
            self._lists(shot, rest, width - 4 if lists else side - 2, how)
        self._pictures(shot, width - side - 2 if wide else width, left, how)

    def _pictures(self, shot: Shot, width: int, left: int, how: Sketch) -> None:
        """Show pictures and lanes in so many cells, both pictures where there is room; none under the lists."""
        s, edge = shot.situation, int(self.has_class("wide"))
        two, lanes = left >= 2 * LEAST - 2 + 2 * edge, left >= 2 * LEAST + 1
        left -= self._put("gas", lane(s, "gas", width, how) if lanes else None, 1 + edge)
        left -= self._put("air", lane(s, "air", width, how) if lanes else None)
        upper = max(round(left * 0.5), LEAST + edge)
        rows = {"strip": upper, "curve": left - upper} if two else {}
        rows = rows or {"curve" if shot.picture == "curve" else "strip": left}
        for name, draw in (("strip", strip), ("curve", curve_picture)):
            tall = 0 if self.has_class("lists") else rows.get(name, 0)
            self._put(name, draw(s, width, tall - edge, how, shot.other) if tall else None, tall)

    def _lists(self, shot: Shot, rest: Sequence[ActiveCue], width: int, how: Sketch) -> None:
        s, dropped = shot.situation, shot.situation.roast.phase == "cooling"
        self.panes["forecast"].show(forecast_panel(s, width, how) if self.has_class("wide") else Text())
        self.panes["advice"].entitle("Results" if dropped else "Advice")
        self.panes["advice"].show(results_panel(s.roast, width, how) if dropped else advice_panel(s, width, 6, how))
        self.panes["alerts"].show(alerts(rest, s, width, 7, how, shot.missed))
        self.panes["entries"].show(entries_list(shot.entries, s.roast, width, self.app.size.height, how))

    def _put(self, name: str, text: Text | None, rows: int = 1) -> int:
        """Show a text in a pane of so many rows, or hide the pane; return the rows that it takes."""
        pane = self.panes[name]
        pane.display = text is not None
        if text is None:
            return 0
        if pane.styles.height is None or pane.styles.height.value != rows:
            pane.styles.height = rows
        pane.show(text)
        return rows
