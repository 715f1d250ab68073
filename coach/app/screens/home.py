"""The home screen: everything of a week from one list.  A chosen task is a command, run when the screen is left."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextvars import ContextVar
from dataclasses import dataclass, replace
from datetime import datetime
from textwrap import wrap
from typing import TYPE_CHECKING, Final

from coach.app.printing import hung
from coach.app.screens.board import Board, show_board
from coach.app.screens.lists import KEYS, Listing, Row, Task
from coach.app.screens.program import hand_over
from coach.app.screens.roast_rows import roast_heads, roast_row, weigh_row
from coach.logbook.index.overview import AHEAD, HomePage, ProfileLine, error_of, home_page, profile_lines
from coach.logbook.text.text_table import padded
from coach.session.folders import logbook_folder
from coach.session.settings import Settings, load_settings

if TYPE_CHECKING:
    from coach.session.offers import Offer

_below: ContextVar[bool] = ContextVar("home", default=False)
"""True while the home screen is shown, or waits below another."""
ENOUGH_TO_JUDGE: Final = 10
"""Number of roasts below which a mean error means little."""
CAUTION: Final = "Fire, gas, CO, burns: manual and codes first. Never leave a running roaster."
HELP: Final = ("HOME", *KEYS, "", "Every line is a command too: coach --help lists them.")


ALWAYS: Final = (
    Task("l", "logbook", ("log", "--screen"), waits=False),
    Task("i", "import", ("import",), "The sheet's file", "roast.csv --batch 0.8 --follows larch-hill"),
    Task("p", "plan", ("plan",), "Profiles, with how many batches of each", "larch-hillx3 moss-lane"),
    Task("s", "sounds", ("sounds",)),
)
"""Tasks of letters for any line, where that gives them no other meaning."""


def profile_tasks(p: ProfileLine) -> tuple[Task, ...]:
    """Tasks for a profile."""
    return (
        Task("enter", "roast", ("follow", p.called), waits=False),
        Task("r", "rehearse", ("rehearse", p.called, "--speed", "4"), waits=False),
        Task("b", "brief", ("brief", p.called, "--screen"), waits=False),
        Task("c", "charge", ("charge", p.called)),
        Task("t", "trend", ("trend", p.called, "--screen"), waits=False),
        Task("a", "accuracy", ("accuracy", p.called)),
        Task("n", "learnt", ("learnt", p.called)),
        Task("v", "versions", ("compare", p.called)),
        Task("m", "merge", ("merge", p.called, "--show")),
    )


def sections(page: HomePage, now: datetime, wide: int = 76) -> Iterator[str | Row]:
    """The list for a width of ``wide`` cells: headings, and lines under them."""
    if page.unfinished:
        yield "UNFINISHED"
        called = {p.title: p.called for p in page.profiles}
        yield from (_unfinished(offer, called.get(offer.profile, "")) for offer in page.unfinished)
    if page.first_steps:
        yield "FIRST STEPS"
        yield from _steps(page)
    off = "crack off by" if any(p.error is not None for p in page.profiles) else ""
    yield f"{'ROAST':<{_room(wide) + 2}} {'roasts':>6}  {'last':<11}  {off}".rstrip()
    yield from (_profile(p, now, wide) for p in page.profiles)
    attention = list(_attention(page, now, wide))
    if attention:
        yield "NEEDS ATTENTION"
        yield from attention
    if page.roasts:
        yield roast_heads("LAST ROASTS", wide)
        yield from (roast_row(r, now, wide) for r in page.roasts)
    yield "MORE"
    yield from _more(page)


def _unfinished(offer: Offer, called: str) -> Row:
    """An unfinished roast; ``called``: the short name of its profile ('' where it is not among the person's)."""
    from coach.session.offers import described

    file = offer.path.stem
    acts = [] if offer.in_use else [Task("x", "close without a drop", ("close", file))]
    if offer.resumable and called:
        acts = [
            Task("enter", "look on" if offer.in_use else "go on", ("follow", called), waits=False),
            *acts,
            Task("b", "brief", ("brief", called, "--roast", file, "--screen"), waits=False),
        ]
    else:
        acts = [Task("enter", "what it holds", ("log", file)), *acts]
    return Row(f"open {file}", f"{offer.profile}, {described(offer, offer.profile)}", tuple(acts), strong=True)


def _done(page: HomePage) -> Sequence[tuple[str, bool]]:
    """The first steps, each with True if it is done."""
    return ("step 1", page.heard), ("step 2", page.rehearsed), ("step 3", page.own)


def _steps(page: HomePage) -> Iterator[Row]:
    done = dict(_done(page))

    def step(n: int, text: str, tasks: tuple[Task, ...], told: str) -> Row:
        ident = f"step {n}"
        mark = "done" if done[ident] else "    "
        return Row(ident, f"{n}  {text:<38} {mark}", tasks, lambda wide, plain: wrap(told, wide))

    demo = "larch-hill"
    yield step(1, "Hear the sounds", (Task("enter", "hear them", ("sounds",)),),
               "Each cue has its sound. Hear them once on this machine, with the drum running if you can: what you "
               "don't hear can't warn you.")  # fmt: skip
    watch = Task("enter", "watch and take over", ("rehearse", demo, "--auto", "--speed", "4"), waits=False)
    own = Task("o", "work yourself", ("rehearse", demo, "--own", "--speed", "4"), waits=False)
    yield step(
        2,
        "Watch a rehearsal, then take over",
        (watch, own),
        "A simulated person roasts on a simulated roaster. One key takes over at any moment. No beans are lost.",
    )
    sheet = replace(next(a for a in ALWAYS if a.word == "import"), key="enter", word="import a sheet")
    yield step(3, "Bring a roast of your own", (sheet,),
               "A sheet of comma-separated values with time and bean temperature is enough; what it does not say is "
               "asked. Then a, on its line here, makes it the reference to follow.")  # fmt: skip


def _day(moment: str, now: datetime) -> str:
    """A day as '26 Nov'; with the year where it is another."""
    try:
        at = datetime.fromisoformat(moment)
    except ValueError:
        return moment[:10]
    return f"{at:%d %b}" if at.year == now.year else f"{at:%d %b %Y}"


def _room(wide: int) -> int:
    """Width of a profile's name, cells."""
    return max(min(wide - 36, 44), 20)


def _profile(p: ProfileLine, now: datetime, wide: int) -> Row:
    off = f"{p.error:.0f} s" if p.error is not None else ""
    last = _day(p.last, now) if p.roasts else ""
    text = f"{padded(p.title, _room(wide))} {p.roasts or '–':>6}  {last:<11}  {off:>5}"
    return Row(
        f"profile {p.called}", text.rstrip(), profile_tasks(p), lambda wide, plain: _told_profile(p, wide, plain)
    )


def _told_profile(p: ProfileLine, wide: int, plain: bool) -> Sequence[str]:
    from coach.roast.units import clock, from_celsius, number
    from coach.session.profile_files import load_profile

    profile = load_profile(p.called)
    unit = profile.unit
    hot = number(from_celsius(profile.charge_temperature, unit), 0)
    lines = [p.title, f"batch {profile.document.batch_kg:g} kg, charge at {hot} °{unit}", ""]
    lines += [f"{event:<14} {clock(g.time):>5}" for event, g in profile.goals.items() if g.time is not None]
    moves = [f"{clock(s.time):>5}  {s.control} {number(s.shown, 2)}" for s in profile.steps]
    lines += ["", "planned moves", *(f"  {x}" for x in moves), "", *wrap(told_error(p), wide)]
    return hung(lines, wide)


def told_error(p: ProfileLine) -> str:
    """The mean error of the forecasts, in a sentence."""
    if p.error is None:
        return "How far its forecasts can be trusted shows after some roasts of your own."
    roasts = "1 roast" if p.judged == 1 else f"{p.judged} roasts"
    few = " Too few to judge by." if p.judged < ENOUGH_TO_JUDGE else ""
    return f"First crack came {p.error:.0f} s from where it was forecast {AHEAD} s ahead, on average of {roasts}.{few}"


def _attention(page: HomePage, now: datetime, wide: int) -> Iterator[Row]:
    yield from (weigh_row(r, now, wide) for r in page.without_results)
    if not page.heard and not page.first_steps:
        yield Row("sounds", "The sounds were never heard on this machine", (Task("enter", "hear them", ("sounds",)),))
    if page.unreadable:
        count = "1 roast can't be read" if page.unreadable == 1 else f"{page.unreadable} roasts can't be read"
        yield Row("unreadable", count, (Task("enter", "list", ("log", "--ended", "unreadable")),))


def _more(page: HomePage) -> Iterator[Row]:
    by_word = {a.word: a for a in ALWAYS}

    def row(text: str, act: Task) -> Row:
        return Row(f"more {text}", text, (replace(act, key="enter"),))

    first = page.profiles[0].called if page.profiles else "larch-hill"
    yield row("Logbook: every roast", by_word["logbook"])
    yield row("Plan the day: several batches in a row", by_word["plan"])
    yield row("Import a sheet", by_word["import"])
    yield row("Find roasts", Task("", "find", ("log",), "What to find", "--coffee kenya --since 2026-10"))
    yield row("Drills: rehearse something that goes wrong", Task("", "list", ("drills", "--screen"), waits=False))
    yield row("Progress of each person", Task("", "show", ("progress", "--screen"), waits=False))
    yield row("A simulated roaster like yours", Task("", "fit", ("fit",)))
    weight = Task("", "scale", ("scale", first), "Weight and file", "--batch 1.0 --output profile.toml")
    yield row("A first guess at another batch weight", weight)
    yield row("Compare two profiles", Task("", "compare", ("compare",), "Two profiles", "larch-hill moss-lane"))
    yield row("The cues and what each means", Task("", "list", ("cues",)))
    yield row("Hear the sounds", by_word["sounds"])
    yield row("Settings", Task("", "show", ("settings",)))


@dataclass(frozen=True)
class Home(Listing):
    """Everything of a week; not ``read``: the profiles alone."""

    page: HomePage
    now: datetime
    read: bool = True

    always = ALWAYS
    note = CAUTION
    guide = HELP

    def heading(self) -> str:
        """The program, and the size of the logbook."""
        if not self.read:
            return "coach   reading the logbook ..."
        count = self.page.count
        if not count:
            return "coach   no roast yet"
        last = _day(self.page.roasts[0].moment, self.now)
        return f"coach   {count} roast{'' if count == 1 else 's'}, the last {last}"

    def ready(self) -> bool:
        """False while what is to be done next is not known yet: Enter then means nothing."""
        return self.read

    def items(self, wide: int) -> Iterator[str | Row]:
        return sections(self.page, self.now, wide)

    def first(self) -> str:
        """The line to do next: an unfinished roast, the first step that was not done, the profile roasted last."""
        if self.page.unfinished or not self.page.first_steps:
            return ""
        return next((ident for ident, done in _done(self.page) if not done), "")


class HomeApp(Board):
    """The home screen: painted from the profiles' names, then from the logbook."""

    def __init__(self, settings: Settings | None = None, *, at: str = "", now: datetime | None = None) -> None:
        self._now = now or datetime.now()
        names = HomePage(profiles=profile_lines(), heard=True, rehearsed=True, own=True)
        super().__init__(Home(names, self._now, read=False), settings, at=at)

    def on_mount(self) -> None:
        super().on_mount()
        self.call_after_refresh(self.after_first_paint)

    def after_first_paint(self) -> None:
        """Read the logbook in a thread."""
        self.run_worker(self._look, thread=True, exit_on_error=False)

    def _look(self) -> None:
        """Read the logbook, then the errors of forecasts."""
        page = home_page(self._now)
        hand_over(self, lambda: self._found(page))
        folder, lines = logbook_folder(), []
        for p in page.profiles:
            error, judged = error_of([folder / f for f in p.files])
            lines.append(replace(p, error=error, judged=judged))
        if any(p.judged for p in lines):
            whole = replace(page, profiles=tuple(lines))
            hand_over(self, lambda: self._found(whole))

    def _found(self, page: HomePage) -> None:
        self.listing = Home(page, self._now)
        if dict(_done(page)).get(self.at):  # a step that was done leads to the next
            self.at = ""
        self.fill()


def home_screen(run: Callable[[Sequence[str]], int]) -> int:
    """Show the home screen, ``run`` the command that is chosen, and show the screen again, until it is left.  Where it
    is already shown, below another screen, nothing is to do."""
    if _below.get():  # the way home is to leave
        return 0
    _below.set(True)
    return show_board(lambda at: HomeApp(load_settings(), at=at), run)
