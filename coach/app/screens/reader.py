"""A page to read on a screen of its own: lines that scroll by keys, in any size and colours of the terminal."""

from __future__ import annotations

from rich.text import Text
from textual.app import ComposeResult
from textual.events import Key, Resize

from coach.app.printing import Lines, page_width
from coach.app.screens.program import Program
from coach.app.screens.terminal import check_terminal, on_screen
from coach.app.screens.widgets import PageView, Pane
from coach.roast.errors import printable
from coach.session.settings import Settings, load_settings


class Reader(Program):
    """Shows one page.  ``name`` is in the line at the bottom."""

    CSS = """
    Screen { background: $background; color: $foreground; }
    #keys { height: 1; background: $bar; text-style: bold; }
    """

    def __init__(self, name: str, lines: Lines, settings: Settings | None = None) -> None:
        super().__init__(settings)
        self._name = name
        self._lines = lines
        self._wide = 0

    def compose(self) -> ComposeResult:
        yield PageView("page")
        yield Pane("keys")

    def on_mount(self) -> None:
        self._show()

    def on_resize(self, event: Resize) -> None:
        self.call_after_refresh(self._show)

    def redraw(self) -> None:
        self._wide = 0
        self._show()

    def _show(self) -> None:
        wide = page_width(self.size.width)
        if wide != self._wide:
            self._wide = wide
            lines = [printable(x) for x in self._lines(wide, self.ascii_only)]
            self.query_one("#page", PageView).show_lines(lines)
        self.call_after_refresh(self._place)

    def _place(self) -> None:
        page = self.query_one("#page", PageView)
        more = "more below" if page.more else "the end"
        words = f" {self._name}   ↑ ↓ PgUp PgDn Home End   q leaves   {more}"
        self.query_one("#keys", Pane).show(Text(words.ljust(self.size.width), no_wrap=True))

    def on_key(self, event: Key) -> None:
        page = self.query_one("#page", PageView)
        key = {"space": "pagedown", "j": "down", "k": "up"}.get(event.key, event.key)
        if page.turn(key):
            event.stop()
            self.call_after_refresh(self._place)
        elif event.key in ("q", "escape"):
            self.exit()


def read(command: str, lines: Lines) -> int:
    """Show a page until it is left.  Raises CoachError where no screen can be shown."""
    check_terminal(f"{command} --screen", f"coach {command} prints it.")
    return on_screen(Reader(f"coach {command}", lines, load_settings()))
