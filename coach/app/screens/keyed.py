"""The base of the roast's screens: keys come from the program, and rows at the foot show what came of them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Final

from rich.cells import cell_len
from rich.style import Style
from rich.text import Text
from textual.containers import Vertical
from textual.events import Resize
from textual.geometry import Size
from textual.screen import Screen

from coach.app.screens.before_roast import CAUTIONS, IN_SHORT, in_full
from coach.app.screens.palette import Sketch
from coach.app.screens.program import look_of
from coach.app.screens.signs import to_plain
from coach.app.screens.turns import Turns
from coach.app.screens.widgets import PageView, Pane, Resized
from coach.roast.errors import printable

Part = tuple[str, str, str]
"""A key in the last row: its name, its word, and the action of a click ('' for none)."""
NARROW: Final = 50
"""Width below which the rows at the foot of a page have shorter words, columns."""


@lru_cache(maxsize=4)
def footer(parts: tuple[Part, ...], width: int, how: Sketch) -> Text:
    """Keys and words, as many as fit; those with an action can be clicked."""
    k = how.look
    out = Text(" ", no_wrap=True)
    for key, word, action in parts:
        key = to_plain(key) if how.plain else key
        if out.cell_len + cell_len(key) + cell_len(word) + 3 > width:
            break
        click = {"@click": f"screen.press('{action}')"} if action else {}
        out.append(key, Style.parse(f"bold {k.today if not how.mono else k.text}") + Style(meta=click))
        out.append(f" {word}", Style.parse(k.soft) + Style(meta=click)).append("  ")
    return out


class Foot(Vertical):
    """The rows at the foot of a screen: the entry line, the words beside it, trouble, and keys."""

    DEFAULT_CSS = """
    Foot { height: auto; }
    Foot #entry { height: 1; }
    Foot #message { height: auto; min-height: 1; max-height: 2; color: $off; }
    Foot #trouble { height: auto; max-height: 2; text-style: bold reverse; }
    Foot #keys { height: 1; background: $bar; }
    """

    def __init__(self) -> None:
        self.rows = {x: Pane(x, grows=x in ("message", "trouble")) for x in ("entry", "message", "trouble", "keys")}
        self.rows["keys"].auto_links = False  # clickable, and painted as any other text
        super().__init__(*self.rows.values())

    def show(self, entry: Text, message: str, keys: Sequence[Part]) -> None:
        """Show the rows."""
        self.rows["entry"].show(entry)
        self.rows["message"].show(Text(message or " "))
        self.rows["keys"].show(footer(tuple(keys), self.app.size.width, look_of(self.app)))

    def show_trouble(self, trouble: str) -> None:
        """Show trouble in words, where there is any."""
        self.rows["trouble"].show(Text(f" {printable(trouble)}" if trouble else ""))

    def show_page(self, ends: str, page: PageView, message: str, keys: Sequence[Part]) -> None:
        """Show the rows under a page: in place of the entry line the way on, and if there is more below."""
        more = ("  ↓ more" if self.app.size.width < NARROW else "  MORE BELOW: ↓ PgDn") if page.more else ""
        self.show(Text(f"› {ends}{more}", style="bold"), message, keys)


class Caution(Pane):
    """The cautions at the top of a page, as long as there is room for."""

    DEFAULT_CSS = "Caution { height: auto; max-height: 4; padding: 0 1; text-style: bold; }"

    def __init__(self) -> None:
        super().__init__("caution", grows=True)

    def show_for(self, size: Size) -> None:
        """Show them for a screen of this size."""
        self.show("\n".join(CAUTIONS) if in_full(size.width, size.height) else IN_SHORT)


class KeyedScreen(Screen[None]):
    """A screen of the roast: the program calls ``press``, ``paste`` and ``show``.

    Keys come by calls, not as events: in the queues of two screens one key could overtake another while a screen opens.
    """

    view = ""
    """Name of the view that is shown."""

    def __init__(self, turns: Turns) -> None:
        super().__init__()
        self.turns = turns
        self.foot = Foot()

    def press(self, key: str, sign: str) -> None:
        """Take a key; ``sign``: its character, '' where it has none."""
        raise NotImplementedError

    def paste(self, text: str) -> None:
        """Take a paste."""

    def show(self) -> None:
        """Show everything that has changed."""
        raise NotImplementedError

    def said(self) -> str:
        """The words beside the entry line."""
        raise NotImplementedError

    def on_mount(self) -> None:
        self.foot.show_trouble("")
        self.turns.guard.run(self.show)

    def on_resize(self, event: Resize) -> None:
        self.call_after_refresh(self.post_message, Resized())
