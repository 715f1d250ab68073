"""The base of every full screen: theme, colours sent, characters, leaving, the palette of actions."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual.app import App, SystemCommand
from textual.binding import Binding, BindingType
from textual.filter import LineFilter, Monochrome, NoColor
from textual.message_pump import MessagePump
from textual.screen import Screen

from coach.app.screens.palette import LOOKS, Sketch, ThemeName, theme
from coach.app.screens.signs import plain, terminal_encoding
from coach.session.settings import Settings

if TYPE_CHECKING:
    from textual.command import Provider

Deed = tuple[str, str, Callable[[], object]]
"""An action of the palette: its name, its effect in words, and its function."""


def actions() -> type[Provider]:
    """The palette's source: the actions in the order in which a screen gives them, not by their names."""
    from textual.command import DiscoveryHit, Hits
    from textual.system_commands import SystemCommandsProvider

    class Actions(SystemCommandsProvider):
        async def discover(self) -> Hits:
            for name, what, do, _ in self.app.get_system_commands(self.screen):
                yield DiscoveryHit(name, do, help=what)

    return Actions


class Program(App[None]):
    """A full screen: ``settings`` give theme, signs and mouse.  Ctrl+c says how to leave; ctrl+p lists every action."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+q", "quit", "leave"),
        Binding("ctrl+c", "say_how_to_leave", "how to leave", show=False, priority=True),
    ]

    COMMANDS = {actions}  # noqa: RUF012  (as the library has it)

    CSS = "Screen { background: $background; color: $foreground; }"

    def __init__(self, settings: Settings | None = None) -> None:
        super().__init__()
        self.settings = settings or Settings()
        self.ascii_only = plain(self.settings.signs, terminal_encoding(), os.environ)
        for name in LOOKS:
            self.register_theme(theme(name))
        self.how = Sketch(LOOKS["dark"])
        self.look_like(self.settings.theme)

    def look_like(self, name: ThemeName) -> None:
        """Take another theme."""
        self.how = Sketch(LOOKS[name], self.ascii_only, bool(os.environ.get("NO_COLOR")))
        self.theme = f"coach-{name}"
        self.ansi_color = name == "terminal"  # else the screen library turns the terminal's colours into its own
        if self.is_running:
            self.redraw()

    def redraw(self) -> None:
        """Draw again, after a change of theme, all that is drawn in its colours."""

    def deeds(self) -> Iterable[Deed]:
        """Actions of this screen, for the palette."""
        return ()

    def say(self, text: str) -> None:
        """Show a message in a place that covers nothing typed."""
        self.notify(text)

    def action_say_how_to_leave(self) -> None:
        """Show how to leave: Ctrl+c doesn't end a roast."""
        copied = self.screen.get_selected_text()
        if copied:
            self.copy_to_clipboard(copied)
            self.say("copied.  Ctrl+q leaves")
        else:
            self.say("Ctrl+q leaves; nothing is lost")

    def action_command_palette(self) -> None:
        """Open the palette, unless it is open."""
        from textual.command import CommandPalette

        if self.use_command_palette and not isinstance(self.screen, CommandPalette):
            self.push_screen(CommandPalette(placeholder="Search actions"))

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Every action with its key, then the themes, then leaving."""
        for name, what, do in self.deeds():
            yield SystemCommand(name, what, do)
        for name in LOOKS:
            what = "for this time; 'theme' in the settings file keeps it"
            yield SystemCommand(f"theme: {name}", what, partial(self.look_like, name))
        yield SystemCommand("leave", "ctrl+q; an unfinished roast is offered again", self.action_quit)

    def get_line_filters(self) -> Sequence[LineFilter]:
        """Filters that send no colour, not even greys, where NO_COLOR is present and not empty."""
        filters = [f for f in super().get_line_filters() if not isinstance(f, (Monochrome, NoColor))]
        return [*filters, NoColor()] if os.environ.get("NO_COLOR") else filters


def look_of(app: App[object]) -> Sketch:
    """Sketch of a full screen of the program; the dark look for another app."""
    return app.how if isinstance(app, Program) else Sketch(LOOKS["dark"])


def hand_over(screen: MessagePump, taken: Callable[[], object]) -> None:
    """Have a screen call ``taken`` with a thread's results, if it is not being left.  Leaves no coroutine behind that
    nobody awaits, as ``call_from_thread`` would."""
    with contextlib.suppress(RuntimeError):  # its loop is over
        screen.call_later(taken)
