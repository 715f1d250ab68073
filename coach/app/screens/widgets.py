"""The parts of the screen: each shows a text and paints only when that changes."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, zip_longest

from rich.style import Style
from rich.text import Span, Text
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.message import Message
from textual.widgets import Static

from coach.app.screens.ink import inked
from coach.app.screens.program import look_of
from coach.app.screens.signs import to_plain


class Resized(Message):
    """Sent when a part has another size: what is shown may have to change."""


class Pane(Static):
    """A pane of text.  With ``grows`` its height follows the text, else it is one line or the layout's."""

    def __init__(self, ident: str, *, grows: bool = False) -> None:
        super().__init__("", id=ident, markup=False)
        self.shown: Text | None = None
        self._grows = grows
        self._height = 0

    def show(self, text: Text | str) -> None:
        """Show a text; does nothing when it is shown already."""
        new = text if isinstance(text, Text) else Text(text, no_wrap=not self._grows)
        if look_of(self.app).plain:
            new = _plain(new)
        if isinstance(new.style, str):  # the screen library reads names of colours otherwise
            new.style = Style.parse(new.style)
        if new is self.shown or (new == self.shown and new.style == self.shown.style):
            return
        height = new.plain.count("\n") + 1 if new.plain else 0
        self.shown = new
        layout = self._grows and (
            height != self._height or any(len(x) > self.size.width for x in new.plain.split("\n"))
        )
        self._height = height
        self.update(new, layout=layout or bool(self._grows and self.size.height == 0))
        if self._grows:
            self.display = bool(new.plain)

    def entitle(self, title: str) -> None:
        """Show a title on its border; does nothing when it is shown already, where the library would paint it all."""
        if self.border_title != title:
            self.border_title = title


class Body(Pane):
    """The text of a page."""

    def on_resize(self) -> None:
        self.post_message(Resized())


class PageView(VerticalScroll):
    """A page that can be longer than the screen."""

    DEFAULT_CSS = """
    PageView { height: 1fr; padding: 0 1; scrollbar-size-vertical: 1; }
    PageView Body { height: auto; }
    """

    def __init__(self, ident: str) -> None:
        super().__init__(id=ident)
        self.can_focus = False
        self.body = Body(f"{ident}-text", grows=True)

    def compose(self) -> ComposeResult:
        if look_of(self.app).plain:  # a scrollbar is made of blocks
            self.styles.scrollbar_size_vertical = 0
        yield self.body

    def show_lines(self, lines: Sequence[str]) -> None:
        """Show lines; each thing in its ink."""
        self.body.show(inked("\n".join(lines), look_of(self.app)))

    def show_columns(self, left: Sequence[str], right: Sequence[str], cells: int) -> None:
        """Show lines in two columns of ``cells`` each, a rule between them; each thing in its ink."""
        how = look_of(self.app)
        columns = [inked("\n".join(lines), how).split("\n", allow_blank=True) for lines in (left, right)]
        rows = []
        for a, b in zip_longest(*columns, fillvalue=Text("")):
            a = a.copy()
            a.truncate(cells, pad=True)
            rows.append(Text.assemble(a, ("│ ", "dim"), b, no_wrap=True))
        self.body.show(Text("\n").join(rows))

    @property
    def more(self) -> bool:
        """True if there are lines below the visible ones."""
        return self.max_scroll_y > round(self.scroll_offset.y)

    def turn(self, key: str) -> bool:
        """Scroll by a key; return True if it was a key for that."""
        step = {"up": -1, "down": 1, "pageup": -max(self.size.height - 2, 1), "pagedown": max(self.size.height - 2, 1),
                "home": -10_000, "end": 10_000}.get(key)  # fmt: skip
        if step is None:
            return False
        if not self.size:  # not laid out yet
            return self.call_after_refresh(self.turn, key)
        self.scroll_to(y=self.scroll_offset.y + step, animate=False, force=True, immediate=True)
        return True


def _plain(text: Text) -> Text:
    """A text in plain characters, some of which are longer than what they stand for."""
    signs = [c if c.isascii() else to_plain(c) for c in text.plain]
    at = [0, *accumulate(map(len, signs))]
    spans = [Span(at[s.start], at[min(s.end, len(signs))], s.style) for s in text.spans]
    return Text("".join(signs), text.style, no_wrap=text.no_wrap or False, spans=spans)
