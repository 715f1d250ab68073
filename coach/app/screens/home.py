"""The home screen: everything of a week from one list.  What is chosen is a command, run when the screen is left."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from rich.cells import set_cell_size
from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.events import Key, Resize
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from coach.app.screens.program import Program
from coach.logbook.index.home import HomePage, ProfileLine, Unfinished, forecasts_of, home_page, profile_lines
from coach.logbook.index.summary import Summary
from coach.logbook.text.table import cut
from coach.roast.errors import printable
from coach.session.folders import logbook_folder
from coach.session.settings import Settings
from coach.session.unfinished import described

WIDE: Final = 110
"""From so many columns on what is selected is told beside the list."""
CAUTION: Final = "The maker's manual, local codes and licensed practice come first. Never leave a running roaster."
HELP: Final = (
    "HOME",
    "↑ ↓ PgUp PgDn   choose a line; a click does too",
    "Enter           does what the last row says first; the letters there do the rest",
    "Esc             closes what is open",
    "q               leaves (ctrl+q does, everywhere)",
    "",
    "ALWAYS",
    "l  logbook     i  import a sheet     p  plan the day     s  hear the sounds",
    "",
    "Every line is a command too: coach --help lists them.",
    CAUTION,
)


@dataclass(frozen=True)
class Act:
    """Something to be done with a line: its key, its word, and the command.  ``ask``: what has to be typed first, with
    an ``example``; ``waits``: what it prints is read before the home screen comes back."""

    key: str
    word: str
    argv: tuple[str, ...]
    ask: str = ""
    example: str = ""
    waits: bool = True

    def with_answer(self, text: str) -> Act:
        """The command with what was typed: in the place of '{}', else at its end, word by word."""
        import shlex

        try:
            words = tuple(shlex.split(text))
        except ValueError:  # a quote left open
            words = tuple(text.split())
        if "{}" in self.argv:
            return replace(self, argv=tuple(text if a == "{}" else a for a in self.argv))
        return replace(self, argv=self.argv + words)


@dataclass(frozen=True)
class Row:
    """A line of the list, what can be done with it (Enter: the first), and what is told beside it."""

    ident: str
    text: str
    acts: tuple[Act, ...]
    detail: Callable[[], Sequence[str]] = tuple
    strong: bool = False


ALWAYS: Final = (
    Act("l", "logbook", ("log", "--screen"), waits=False),
    Act("i", "import", ("import",), "The sheet's file", "roast.csv --batch 0.8 --follows larch-hill"),
    Act("p", "plan", ("plan",), "Profiles, with how many batches of each", "larch-hillx3 moss-lane"),
    Act("s", "sounds", ("sounds",)),
)
"""What these letters do, whatever is selected, where a line gives them no other meaning."""


def profile_acts(p: ProfileLine) -> tuple[Act, ...]:
    """What can be done with a profile."""
    return (
        Act("enter", "roast", ("follow", p.called), waits=False),
        Act("r", "rehearse", ("rehearse", p.called, "--speed", "4")),
        Act("b", "brief", ("brief", p.called, "--screen"), waits=False),
        Act("c", "charge", ("charge", p.called)),
        Act("t", "trend", ("trend", p.called, "--screen"), waits=False),
        Act("a", "accuracy", ("accuracy", p.called)),
        Act("n", "learnt", ("learnt", p.called)),
        Act("v", "versions", ("compare", p.called)),
        Act("m", "merge", ("merge", p.called, "--show")),
    )


def roast_acts(name: str) -> tuple[Act, ...]:
    """What can be done with a finished roast."""
    return (
        Act("enter", "review", ("review", name, "--screen"), waits=False),
        Act("r", "results", ("result", name), "Results", "in 0.8 out 690g score 85 accepted yes"),
        Act("a", "adopt", ("adopt", name, "--name", "{}"), "Name of the profile", "Our Tuesday"),
        Act("w", "replay", ("replay", name, "--screen", "--speed", "4"), waits=False),
        Act("e", "export", ("export", name, "--output", "{}"), "File to write", f"{name}.csv"),
    )


def sections(page: HomePage, now: datetime) -> Iterator[str | Row]:
    """The list: headings, and lines under them."""
    if page.unfinished:
        yield "UNFINISHED"
        yield from (_unfinished(u) for u in page.unfinished)
    if page.first_steps:
        yield "FIRST STEPS"
        yield from _steps(page)
    yield "ROAST"
    yield from (_profile(p) for p in page.profiles)
    attention = list(_attention(page, now))
    if attention:
        yield "NEEDS ATTENTION"
        yield from attention
    if page.roasts:
        yield "LAST ROASTS"
        yield from (_roast(r, now) for r in page.roasts)
    yield "MORE"
    yield from _more(page)


def _unfinished(u: Unfinished) -> Row:
    offer, file = u.offer, u.offer.path.stem
    acts = [] if offer.in_use else [Act("x", "close without a drop", ("close", file))]
    if offer.resumable and u.called:
        acts = [
            Act("enter", "look on" if offer.in_use else "go on", ("follow", u.called), waits=False),
            *acts,
            Act("b", "brief", ("brief", u.called, "--roast", file, "--screen"), waits=False),
        ]
    else:
        acts = [Act("enter", "what it holds", ("log", file)), *acts]
    return Row(f"open {file}", f"{offer.profile}, {described(offer, offer.profile)}", tuple(acts), strong=True)


def _steps(page: HomePage) -> Iterator[Row]:
    def mark(done: bool, text: str) -> str:
        return f"{'done  ' if done else '      '}{text}"

    demo = next((p.called for p in page.profiles if not p.own), "larch-hill")
    yield Row("step 1", mark(page.heard, "1  Hear the sounds"), (Act("enter", "hear them", ("sounds",)),),
              lambda: ("Each cue has its sound.", "Hear them once on this machine, with the drum running",
                       "if you can: what you don't hear can't warn you."))  # fmt: skip
    watch = Act("enter", "watch and take over", ("rehearse", demo, "--auto", "--speed", "4"))
    own = Act("o", "work yourself", ("rehearse", demo, "--own", "--speed", "4"))
    yield Row("step 2", mark(page.rehearsed, "2  Watch a rehearsal, then take over"), (watch, own),
              lambda: ("A simulated person roasts on a simulated roaster.", "One key takes over at any moment.",
                       "No beans are lost."))  # fmt: skip
    sheet = replace(next(a for a in ALWAYS if a.word == "import"), key="enter", word="import a sheet")
    new = Act("o", "as a profile at once", ("import", "--profile", "Our first"), "The sheet's file",
              "roast.csv --batch 0.8")  # fmt: skip
    yield Row("step 3", mark(page.own, "3  Bring a roast of your own"), (sheet, new),
              lambda: ("A sheet of comma-separated values with time", "and bean temperature is enough; what it does",
                       "not say is asked. It becomes the reference to follow."))  # fmt: skip


def _profile(p: ProfileLine) -> Row:
    count = "no roast yet" if not p.roasts else f"{p.roasts} roast{'' if p.roasts == 1 else 's'}, last {p.last}"
    text = f"{set_cell_size(cut(p.title, 40), 40)} {count}" + (f"   {p.forecasts}" if p.forecasts else "")
    return Row(f"profile {p.called}", text, profile_acts(p), lambda: _told_profile(p))


def _told_profile(p: ProfileLine) -> Sequence[str]:
    from coach.roast.units import clock
    from coach.session.profile_files import load_profile

    profile = load_profile(p.called)
    goals = [f"{event:<12} {clock(g.time):>5}" for event, g in profile.goals.items() if g.time is not None]
    known = p.forecasts or "no forecasts of your own roasts to judge by yet"
    return [p.title, "", *goals, "", f"batch {profile.document.batch_kg:g} kg", known, *([p.newer] if p.newer else [])]


def _roast(r: Summary, now: datetime) -> Row:
    from coach.roast.units import clock

    crack = f"crack {clock(r.crack_time)}" if r.crack_time is not None else ""
    drop = f"drop {clock(r.drop_time)}" if r.drop_time is not None else ""
    word = {True: "accepted", False: "refused", None: ""}[r.accepted]
    loss = f"−{r.loss:.1f} %" if r.loss is not None else ""
    text = f"{_when(r, now)} {_what(r)} {crack:<11} {drop:<10} {loss:<7} {word}"
    return Row(f"roast {r.file}", text.rstrip(), roast_acts(_name(r)), lambda: _told_roast(r))


def _when(r: Summary, now: datetime) -> str:
    """Day and time; the year where it is another."""
    try:
        at = datetime.fromisoformat(r.moment)
    except ValueError:
        return f"{r.moment[:12]:<12}"
    return f"{at:%d %b %H:%M}" if at.year == now.year else f"{at:%Y-%m-%d}  "


def _what(r: Summary) -> str:
    return set_cell_size(cut(r.profile or r.coffee, 20), 20)


def _name(r: Summary) -> str:
    return r.file.removesuffix(".jsonl").rsplit("/", 1)[-1]


def _told_roast(r: Summary) -> Sequence[str]:
    from coach.app.commands.log import opened

    return opened(logbook_folder() / r.file)


def _attention(page: HomePage, now: datetime) -> Iterator[Row]:
    for r in page.without_results:
        text = f"{_when(r, now)} {_what(r)} not weighed yet"
        review, results, *others = roast_acts(_name(r))
        acts = (replace(results, key="enter"), replace(review, key="b"), *others)
        yield Row(f"results {r.file}", text, acts, lambda r=r: _told_roast(r))  # type: ignore[misc]
    if not page.heard and not page.first_steps:
        yield Row("sounds", "The sounds were never heard on this machine", (Act("enter", "hear them", ("sounds",)),))
    if page.unreadable:
        count = "1 roast can't be read" if page.unreadable == 1 else f"{page.unreadable} roasts can't be read"
        yield Row("unreadable", count, (Act("enter", "list", ("log", "--ended", "unreadable")),))
    for p in page.profiles:
        if p.newer:
            yield Row(f"newer {p.called}", p.newer, (Act("enter", "compare", ("compare", p.called)),))


def _more(page: HomePage) -> Iterator[Row]:
    by_word = {a.word: a for a in ALWAYS}

    def row(text: str, act: Act) -> Row:
        return Row(f"more {text}", text, (replace(act, key="enter"),))

    first = page.profiles[0].called if page.profiles else "larch-hill"
    yield row("Logbook: every roast", by_word["logbook"])
    yield row("Plan the day: several batches in a row", by_word["plan"])
    yield row("Import a sheet", by_word["import"])
    yield row("Find roasts", Act("", "find", ("log",), "What to find", "--coffee kenya --since 2026-10"))
    yield row("Drills for rehearsals", Act("", "list", ("drills",)))
    drill = Act("", "rehearse", ("rehearse", first, "--speed", "4", "--drill", "{}"), "Drill", "random")
    yield row("Rehearse a drill", drill)
    yield row("Progress of each person", Act("", "show", ("progress",)))
    yield row("A simulated roaster like yours", Act("", "fit", ("fit",)))
    weight = Act("", "scale", ("scale", first), "Weight and file", "--batch 1.0 --output profile.toml")
    yield row("A first guess at another batch weight", weight)
    yield row("Compare two profiles", Act("", "compare", ("compare",), "Two profiles", "larch-hill moss-lane"))
    yield row("The cues and what each means", Act("", "list", ("cues",)))
    yield row("Hear the sounds", by_word["sounds"])
    yield row("Settings", Act("", "show", ("settings",)))


def wrapped(words: Sequence[str], cells: int) -> list[str]:
    """Words of a footer in lines of at most so many cells; a key stays beside its word."""
    lines = [""]
    for word in words:
        longer = f"{lines[-1]}  {word}".strip()
        if lines[-1] and len(longer) > cells:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


class HomeApp(Program):
    """The home screen; ``chosen`` is what was chosen when it is left, None where it was only left."""

    ENABLE_COMMAND_PALETTE = False
    CSS = """
    Screen { background: $background; color: $foreground; }
    #top { height: 1; padding: 0 1; }
    #keys { height: auto; max-height: 2; padding: 0 1; }
    #caution { height: auto; max-height: 2; padding: 0 1; }
    #top, #keys { background: $panel; text-style: bold; }
    #middle { height: 1fr; }
    #list { width: 1fr; height: 100%; border: none; background: $background; padding: 0; }
    #beside { width: 46; height: 100%; padding: 1 2; display: none; border-left: solid $panel; }
    #beside-text { height: auto; }
    #ask { display: none; height: 3; }
    #help { display: none; height: 1fr; padding: 1 2; }
    .wide #beside { display: block; }
    .helping #middle { display: none; }
    .helping #help { display: block; }
    """

    def __init__(self, settings: Settings | None = None, *, at: str = "", now: datetime | None = None) -> None:
        super().__init__(settings)
        self.chosen: Act | None = None
        self.logbook_read = False
        self.at = at
        self._now = now or datetime.now()
        self._page = HomePage(profiles=profile_lines(), heard=True, rehearsed=True, own=True)
        self._rows: dict[str, Row] = {}
        self._asked: Act | None = None
        self._moved = False
        """Whether the person has chosen a line; until then the first is selected, whatever is added above it."""
        self._placed: str | None = None

    def compose(self) -> ComposeResult:
        yield Static(" coach", id="top", markup=False)
        with Horizontal(id="middle"):
            yield OptionList(id="list", markup=False)
            with VerticalScroll(id="beside"):
                yield Static("", id="beside-text", markup=False)
        yield Static("\n".join(HELP), id="help", markup=False)
        yield Static(CAUTION, id="caution", markup=False)
        yield Input(id="ask")
        yield Static("", id="keys", markup=False)

    def on_mount(self) -> None:
        self.query_one("#beside", VerticalScroll).can_focus = False
        self._fill()
        self.query_one("#list", OptionList).focus()
        self.call_after_refresh(lambda: self.run_worker(self._look, thread=True, exit_on_error=False))

    def _look(self) -> None:
        """In a thread, after the first paint: the logbook, then how right the forecasts were."""
        page = home_page(self._now)
        self.call_from_thread(self._found, page)
        folder, lines = logbook_folder(), []
        for p in page.profiles:
            files = [folder / r.file for r in page.roasts if r.profile == p.title]
            lines.append(replace(p, forecasts=forecasts_of(p.title, files)))
        if any(p.forecasts for p in lines):
            self.call_from_thread(self._found, replace(page, profiles=tuple(lines)))

    def _found(self, page: HomePage) -> None:
        self.logbook_read = True
        self._page = page
        self._fill()

    def _fill(self) -> None:
        """Build the list anew; the line that was selected stays so."""
        found = self.query_one("#list", OptionList)
        selected = self._selected()
        at = selected.ident if selected is not None and self._moved else self.at
        self._rows.clear()
        options: list[Option] = []
        for item in sections(self._page, self._now):
            if isinstance(item, str):
                if options:
                    options.append(Option("", disabled=True))
                options.append(Option(Text(f" {item}", style="bold"), disabled=True))
            else:
                self._rows[item.ident] = item
                text = Text(f"   {printable(item.text)}", style="bold" if item.strong else "", no_wrap=True,
                            overflow="ellipsis")  # fmt: skip
                options.append(Option(text, id=item.ident))
        found.clear_options()
        found.add_options(options)
        first = next((i for i, o in enumerate(options) if not o.disabled), None)
        same = next((i for i, o in enumerate(options) if o.id and o.id == at), first)
        self._placed = options[same].id if same is not None else None
        found.highlighted = same
        self._tell()

    def _selected(self) -> Row | None:
        found = self.query_one("#list", OptionList)
        if found.highlighted is None or found.option_count == 0:
            return None
        return self._rows.get(found.get_option_at_index(found.highlighted).id or "")

    def acts(self) -> tuple[Act, ...]:
        """What the keys do now: those of the selected line, then those that always do the same."""
        row = self._selected()
        own = row.acts if row is not None else ()
        taken = {a.key for a in own}
        return (*own, *(a for a in ALWAYS if a.key not in taken))

    def _tell(self) -> None:
        """What can be done, and what is known of the selected line."""
        row = self._selected()
        shown = [f"{'Enter' if a.key == 'enter' else a.key} {a.word}" for a in self.acts() if a.key]
        words = ["? keys", *shown[:1], "q leave", *shown[1:]]
        lines = wrapped(words, self.size.width - 2)
        self.query_one("#keys", Static).update(Text("\n".join(lines[:2]), no_wrap=True))
        if row is not None and self.screen.has_class("wide"):
            self.run_worker(lambda: self._detail(row), thread=True, group="detail", exit_on_error=False)

    def _detail(self, row: Row) -> None:
        from coach.roast.errors import CoachError

        try:
            lines = [printable(x) for x in row.detail()]
        except (CoachError, OSError) as error:
            lines = [str(error)]
        self.call_from_thread(self._show_detail, row, lines)

    def _show_detail(self, row: Row, lines: Sequence[str]) -> None:
        selected = self._selected()
        if selected is not None and selected.ident == row.ident:
            self.query_one("#beside-text", Static).update(Text("\n".join(lines)))

    def on_resize(self, event: Resize) -> None:
        self.screen.set_class(event.size.width >= WIDE, "wide")
        self._tell()

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        self._moved = self._moved or event.option.id != self._placed
        self._tell()

    def on_option_list_option_selected(self) -> None:
        row = self._selected()
        if row is not None:
            self._choose(row.acts[0])

    def on_key(self, event: Key) -> None:
        if self._asked is not None:
            if event.key == "escape":
                event.stop()
                self._close_question()
            return
        sign = event.character or ""
        if sign == "?":
            self.screen.toggle_class("helping")
        elif event.key == "escape":
            self.screen.remove_class("helping")
        elif sign == "q" or event.key == "ctrl+q":
            self.exit()
        else:
            act = next((a for a in self.acts() if a.key == sign and sign), None)
            if act is None:
                return
            self._choose(act)
        event.stop()

    def _choose(self, act: Act) -> None:
        if act.ask:
            self._asked = act
            asking = self.query_one("#ask", Input)
            asking.value, asking.placeholder = "", f"for example: {act.example}"
            asking.border_title = f"{act.ask}  (Enter does it, Esc leaves it)"
            asking.styles.display = "block"
            asking.focus()
            return
        self._leave(act)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        act, text = self._asked, event.value.strip()
        if act is None:
            return
        if not text:
            self._close_question()
            return
        self._leave(act.with_answer(text))

    def _close_question(self) -> None:
        self._asked = None
        self.query_one("#ask", Input).styles.display = "none"
        self.query_one("#list", OptionList).focus()

    def _leave(self, act: Act) -> None:
        row = self._selected()
        self.at = row.ident if row is not None else ""
        self.chosen = act
        self.exit()


def home_screen(run: Callable[[Sequence[str]], int]) -> int:
    """Show the home screen, do what is chosen (``run`` a command), and show it again, until it is left."""
    from coach.app.screens.terminal import on_screen
    from coach.session.settings import load_settings

    at = ""
    while True:
        app = HomeApp(load_settings(), at=at)
        code = on_screen(app)
        if code or app.chosen is None:
            return code
        at = app.at
        try:
            code = run(app.chosen.argv)
        except SystemExit as left:  # a command that could not be read says so itself
            code = left.code if isinstance(left.code, int) else 2
        if code >= 128:
            return code
        if app.chosen.waits or code:
            try:
                input("\nEnter: back to the start ")
            except EOFError:
                return code
