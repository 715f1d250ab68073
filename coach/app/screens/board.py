"""A board: a list on a screen of its own, with the tasks for each line, and its details beside the list.

Home, logbook, trend, drills and progress are boards.  A chosen task is a command, run when the screen is left.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.events import Key, Resize
from textual.geometry import Size
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from coach.app.printing import ask
from coach.app.screens.ink import inked
from coach.app.screens.lists import Listing, Row, Task, nothing
from coach.app.screens.program import Program, hand_over
from coach.app.screens.signs import to_plain
from coach.app.screens.terminal import on_screen
from coach.logbook.text.text_table import cut
from coach.roast.errors import CoachError, printable
from coach.session.settings import Settings

WIDE: Final = 110
"""Width from which on the selected line's details are shown beside the list, columns."""
VAST: Final = 150
"""Width from which on there is more room for them, columns."""
TALL: Final = 30
"""Height from which on the keys have a second row, rows."""
BESIDE: Final = {"": 0, "wide": 46, "vast": 70}
"""Width of the second column, cells."""


def wrapped(words: Sequence[str], cells: int) -> list[str]:
    """Words of a footer in lines of at most ``cells`` cells; a key stays beside its word."""
    lines = [""]
    for word in words:
        longer = f"{lines[-1]}  {word}".strip()
        if lines[-1] and len(longer) > cells:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


class Board(Program):
    """A list on the screen; ``chosen`` is the task chosen as it was left, None where there is none.

    ``at``: the line selected at first, '' for the one that ``first`` names.
    """

    ENABLE_COMMAND_PALETTE = False
    CSS = """
    Screen { background: $background; color: $foreground; }
    #top { height: 1; padding: 0 1; }
    #keys { height: auto; max-height: 2; padding: 0 1; }
    #note { height: auto; max-height: 2; padding: 0 1; color: $soft; }
    #top, #keys { background: $bar; }
    #top { text-style: bold; }
    #middle { height: 1fr; }
    #list { width: 1fr; height: 100%; border: none; background: $background; padding: 0;
        scrollbar-size-vertical: 1; }
    #list:focus { background-tint: transparent 0%; }
    #list > .option-list--option-disabled { color: $primary; }
    #list.mono:focus > .option-list--option-highlighted { text-style: bold underline; }
    #beside { width: 46; height: 100%; padding: 1 2; display: none; border-left: solid $rule;
        scrollbar-size-vertical: 1; }
    #beside-text { height: auto; }
    #ask { display: none; height: 3; }
    #help { display: none; height: 1fr; padding: 1 2; }
    .wide #beside { display: block; }
    .vast #beside { width: 70; }
    .opened #middle { layout: vertical; }
    .opened #list { width: 100%; height: 2fr; }
    .opened #beside { display: block; width: 100%; height: 3fr; border-left: none; border-top: solid $rule;
        padding: 0 2; }
    .helping #middle { display: none; }
    .helping #help { display: block; }
    """

    def __init__(self, listing: Listing, settings: Settings | None = None, *, at: str = "") -> None:
        super().__init__(settings)
        self.listing = listing
        self.chosen: Task | None = None
        self.at = at
        self._rows: dict[str, Row] = {}
        self._asked: Task | None = None
        self._moved = False
        """True once the person has chosen a line; until then the first is selected, also when lines come above it."""
        self._placed: str | None = None
        self._fitted = Size(0, 0)
        """The size that the list is laid out for."""

    def compose(self) -> ComposeResult:
        yield Static("", id="top", markup=False)
        with Horizontal(id="middle"):
            yield OptionList(id="list", markup=False)
            with VerticalScroll(id="beside"):
                yield Static("", id="beside-text", markup=False)
        yield Static("", id="help", markup=False)
        yield Static(self._signs(self.listing.note), id="note", markup=False)
        yield Input(id="ask")
        yield Static("", id="keys", markup=False)

    def on_mount(self) -> None:
        self.query_one("#beside", VerticalScroll).can_focus = False
        self.query_one("#note", Static).display = bool(self.listing.note)
        self.query_one("#list").set_class(self.how.mono, "mono")
        if self.ascii_only:  # scrollbars are made of blocks
            for name in ("#list", "#beside"):
                self.query_one(name).styles.scrollbar_size_vertical = 0
        self._fit()
        self.query_one("#list", OptionList).focus()

    def _signs(self, text: str) -> str:
        return to_plain(text) if self.ascii_only else text

    def _cut(self, text: str, wide: int) -> str:
        """A text in at most ``wide`` cells; in plain characters alone, three dots stand for the ellipsis."""
        return self._signs(cut(printable(text), wide - 2 if self.ascii_only else wide))

    @property
    def cells(self) -> int:
        """Width of a line of the list, cells."""
        return max(self.size.width - self._beside() - 4, 20)

    def _beside(self) -> int:
        """Width of the details beside the list, cells; 0 where they have no room there."""
        return BESIDE["vast" if self.size.width >= VAST else "wide" if self.size.width >= WIDE else ""]

    def fill(self) -> None:
        """Build the list again; the selected line stays selected."""
        found = self.query_one("#list", OptionList)
        selected = self._selected()
        at = selected.ident if selected is not None and self._moved else self.at or self.listing.first()
        self._rows.clear()
        options: list[Option] = []
        wide = self.cells
        for item in self.listing.items(wide):
            if isinstance(item, str):
                if options:
                    options.append(Option("", disabled=True))
                head, gap, remark = self._cut(item, wide + 2).partition("   ")
                title = Text(f" {head}", style="bold", no_wrap=True).append(
                    gap + remark, f"not bold {self.how.look.soft}"
                )
                options.append(Option(title, disabled=True))
            else:
                self._rows[item.ident] = item
                text = Text(f"   {self._cut(item.text, wide)}", "bold" if item.strong else "", no_wrap=True)
                options.append(Option(text, id=item.ident))
        found.clear_options()
        found.add_options(options)
        top = next((i for i, o in enumerate(options) if not o.disabled), None)
        same = next((i for i, o in enumerate(options) if o.id and o.id == at), top)
        self._placed = options[same].id if same is not None else None
        found.highlighted = same
        if same == top:
            found.scroll_home(animate=False)  # the heading above it
        self.query_one("#top", Static).update(Text(self._signs(printable(self.listing.heading())), no_wrap=True))
        if same is None:  # else the list's own word of its new line does it
            self._tell()

    def _selected(self) -> Row | None:
        found = self.query_one("#list", OptionList)
        if found.highlighted is None or found.option_count == 0:
            return None
        return self._rows.get(found.get_option_at_index(found.highlighted).id or "")

    def tasks(self) -> tuple[Task, ...]:
        """Tasks of the keys now: those of the selected line, then those of any line."""
        row = self._selected()
        own = row.tasks if row is not None else ()
        taken = {a.key for a in own}
        return (*own, *(a for a in self.listing.always if a.key not in taken))

    def _tell(self) -> None:
        """Show the tasks and the details of the selected line."""
        row = self._selected()
        shown = self._keys()
        opens = ["space more"] if row is not None and row.detail is not nothing and not self._beside() else []
        words = ["? keys", *shown[:1], *opens, "q leave", *shown[1:]]
        text = Text(no_wrap=True)
        rows = 2 if self.size.height >= TALL else 1
        for n, line in enumerate(wrapped(words, self.size.width - 2)[:rows]):
            text.append("\n" if n else "")
            for word in line.split("  "):
                key, _, does = word.partition(" ")
                text.append(key, f"bold {self.how.look.today}").append(f" {does}  ", self.how.look.soft)
        self.query_one("#keys", Static).update(text)
        if row is not None and (room := self._beside() or (self.size.width if self.screen.has_class("opened") else 0)):
            wide = room - 6
            self.run_worker(lambda: self._detail(row, wide), thread=True, group="detail", exit_on_error=False)

    def _guide(self) -> None:
        """Fill the page of help: below what holds for every line, the keys of the selected one."""
        lines = [*self.listing.guide, "", "ON THIS LINE", *wrapped(self._keys(), self.size.width - 4)]
        self.query_one("#help", Static).update(self._signs("\n".join(lines)))

    def _keys(self) -> list[str]:
        """The keys of the selected line, each with its word."""
        return [f"{'Enter' if a.key == 'enter' else a.key} {a.word}" for a in self.tasks() if a.key]

    def _detail(self, row: Row, wide: int) -> None:
        try:
            lines = [printable(x) for x in row.detail(wide, self.ascii_only)]
        except (CoachError, OSError) as error:
            lines = [str(error)]
        hand_over(self, lambda: self._show_detail(row, lines))

    def _show_detail(self, row: Row, lines: Sequence[str]) -> None:
        selected = self._selected()
        if selected is not None and selected.ident == row.ident:
            self.query_one("#beside-text", Static).update(inked(self._signs("\n".join(lines)), self.how))

    def on_resize(self, event: Resize) -> None:
        if event.size != self._fitted:
            self._fit()

    def _fit(self) -> None:
        """Lay the list out for the present size, details beside it where there is room."""
        self._fitted = self.size
        self.screen.set_class(self.size.width >= WIDE, "wide")
        self.screen.set_class(self.size.width >= VAST, "vast")
        if self._beside():
            self.screen.remove_class("opened")
        self.fill()

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        self._moved = self._moved or event.option.id != self._placed
        self._tell()

    def on_option_list_option_selected(self) -> None:
        row = self._selected()
        if row is not None and row.tasks and (self._moved or self.listing.ready()):
            self._choose(row.tasks[0])

    def on_key(self, event: Key) -> None:
        if self._asked is not None:
            if event.key == "escape":
                event.stop()
                self._close_question()
            return
        sign = (event.character or "").lower()
        if sign == "?":
            self.screen.toggle_class("helping")
            self._guide()
        elif event.key == "escape" and (self.screen.has_class("helping") or self.screen.has_class("opened")):
            self.screen.remove_class("helping", "opened")
        elif event.key == "space" and not self._beside():
            self.screen.toggle_class("opened")
            self._tell()
        elif sign == "q" or event.key == "ctrl+q":
            self.exit()
        else:
            act = next((a for a in self.tasks() if a.key == sign and sign), None)
            if act is None:
                return
            self._choose(act)
        event.stop()

    def _choose(self, task: Task) -> None:
        if task.ask:
            self._asked = task
            asking = self.query_one("#ask", Input)
            asking.value, asking.placeholder = "", f"for example: {task.example}"
            asking.border_title = f"{task.ask}  (Enter does it, Esc leaves it)"
            asking.styles.display = "block"
            asking.focus()
            return
        self._leave(task)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        task, text = self._asked, event.value.strip()
        if task is None:
            return
        if not text:
            self._close_question()
            return
        self._leave(task.with_answer(text))

    def _close_question(self) -> None:
        self._asked = None
        self.query_one("#ask", Input).styles.display = "none"
        self.query_one("#list", OptionList).focus()

    def _leave(self, task: Task) -> None:
        row = self._selected()
        self.at = row.ident if row is not None else ""
        self.chosen = task
        self.exit()


def show_board(board: Callable[[str], Board], run: Callable[[Sequence[str]], int]) -> int:
    """Show a board (made for the selected line), ``run`` the command that is chosen, and show the board again, until it
    is left."""
    at = ""
    while True:
        app = board(at)
        code = on_screen(app)
        if code or app.chosen is None:
            return code
        at = app.at
        try:
            code = run(app.chosen.argv)
        except SystemExit as left:  # the parser has printed the fault of a typed command
            code = left.code if isinstance(left.code, int) else 2
        if code >= 128 or app.chosen.ends:
            return code
        if app.chosen.waits or code:
            try:
                ask("\nEnter: back to the list")
            except EOFError:
                return code
