"""Pages beside the roast: flame-off pulses through the crack, the review, the trend before charge."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from coach.app.printing import WIDEST_SCREEN
from coach.app.screens.act import act, others
from coach.app.screens.acting import Acting
from coach.app.screens.program import hand_over
from coach.app.screens.roast_panes import WORDS, alert_words
from coach.app.screens.widgets import PageView
from coach.roast.errors import CoachError
from coach.session.settings import Action

if TYPE_CHECKING:
    from coach.cues.episodes import Episode
    from coach.forecast.knowledge import Knowledge
    from coach.roast.profile import Profile

Drawn = Callable[[int, bool], Sequence[str]]
"""Function that draws a page for a width in cells, in plain characters alone or not."""


class Asides(Acting):
    """The screen with its pages aside.  A mark typed while one is open is taken, and closes it."""

    _page: Drawn | None = None
    _laid: tuple[object, tuple[float, ...], list[str]] | None = None
    """Inputs of the page last laid out, and its lines."""

    def _act(self, action: Action) -> None:
        """Do an action that logs nothing."""
        if action == "pulses":
            self._open_aside("pulses")
        elif action == "review":
            self._look_back()
        else:
            if action == "help":
                self.aside = ""
            super()._act(action)

    def page_lines(self) -> list[str]:
        """Lines of the page aside; help, where none is open."""
        if not self.aside:
            return super().page_lines()
        wide = min(max(self.size.width - 3, 30), WIDEST_SCREEN)
        return self._pulses(wide) if self.aside == "pulses" else self._gathered(wide)

    def _show_brief(self) -> None:
        if self.aside and self.view == "brief":
            self._show_page("brief", self.page_lines())
        else:
            super()._show_brief()

    def _open_aside(self, aside: Literal["pulses", "review", "trend"]) -> None:
        self.aside = aside
        if self.view == "brief":
            self.query_one("#brief", PageView).turn("home")
        else:
            if self.view != "help":
                self._before_help = self.view
            self.view = "help"
            self.query_one("#help", PageView).turn("home")
        self.refresh_all()

    def _aside_key(self, key: str, sign: str) -> bool:
        """Handle a key before the roast: t shows the profile's trend, l its last roast, s the state of the unfinished
        roast; Esc or Enter returns from each."""
        if self.aside:
            if key in ("escape", "enter"):
                self.aside = ""
                self.query_one("#brief", PageView).turn("home")
                self.refresh_all()
                return True
            return self.query_one("#brief", PageView).turn(key)
        if self.desk is None:
            return False
        profile, folder = self.desk.profile, self.desk.folder
        if sign == "s" and self.offer is not None and self.offer.charged:
            path = self.offer.path
            self._gather("review", lambda: standing_page(profile, folder, path))
            return True
        if sign not in ("t", "l") or not self.handed_on:
            return False
        if sign == "t":
            self._gather("trend", lambda: trend_page(profile, folder))
        else:
            self._gather("review", lambda: last_page(profile, folder))
        return True

    # -- through the crack ----------------------------------------------------------------------------------------

    def _pulses(self, wide: int) -> list[str]:
        """The choices, recomputed with each forecast, under the action band's text."""
        from coach.app.screens.pulses import lines

        coach = self.live.coach
        s = coach.situation
        of = ((s.t or 0.0) // 5, wide)
        if self._laid is None or self._laid[0] is not s.forecast or self._laid[1] != of:
            self._laid = (s.forecast, of, lines(s, coach.pulses(), wide, "." if self.ascii_only else "·"))
        return [*self._now(), *self._laid[2]]

    def _now(self) -> list[str]:
        """Lines on the thing to do now and the cues: a page aside hides neither."""
        coach = self.live.coach
        s = coach.situation
        shown = act(s, coach.cues, self.keys.name)
        head = f"{WORDS[shown.urgency]}: {shown.what} {shown.left}".rstrip()
        return [head, *(alert_words(c, s) for c in others(coach.cues, shown)[:2])]

    # -- review ---------------------------------------------------------------------------------------------------

    def _look_back(self) -> None:
        """Show the roast against its reference, once it was dropped."""
        live = self.live
        coach = live.coach
        if coach.roast.phase != "cooling":
            self.message = f"After drop {self.keys.name('review')} reviews the roast."
            return
        if not live.path.is_file():
            self.message = "There is no journal on disk to look back on."
            return
        path, profile, episodes, knowledge = live.path, coach.profile, coach.record.episodes, coach.knowledge
        self._gather("review", lambda: review_page(path, profile, path.parent, episodes, knowledge))

    def _gather(self, aside: Literal["review", "trend"], make: Callable[[], Drawn]) -> None:
        """Open a page, and compute it in a thread, which takes a second or two."""
        self._page, self._laid = None, None

        def work() -> None:
            try:
                page = make()
            except CoachError as error:
                said = [str(error)]
                page = lambda wide, plain: said  # noqa: E731
            hand_over(self, lambda: self._made_page(page))

        self._open_aside(aside)
        self.run_worker(lambda: self.guard.run(work), thread=True, name="aside")

    def _made_page(self, page: Drawn) -> None:
        self._page, self._laid = page, None
        self.refresh_all()

    def _gathered(self, wide: int) -> list[str]:
        """The computed page, laid out for a width of ``wide`` cells."""
        if self._page is None:
            return ["Looking back … (some seconds the first time)"]
        if self._laid is None or self._laid[0] is not self._page or self._laid[1] != (wide,):
            self._laid = (self._page, (wide,), list(self._page(wide, self.ascii_only)))
        return self._laid[2]


def review_page(
    path: Path,
    profile: Profile,
    folder: Path,
    episodes: Sequence[Episode] | None = None,
    knowledge: Knowledge | None = None,
) -> Drawn:
    """The review of a roast, with its recorded cues and the coach's knowledge, where given.  Raises CoachError."""
    from coach.logbook.learning.reviewed import gather
    from coach.logbook.review.review_text import page

    found = gather(path, profile, folder, episodes=episodes, knowledge=knowledge)
    return lambda wide, plain: page(found, wide, plain)


def standing_page(profile: Profile, folder: Path, running: Path) -> Drawn:
    """The page for the person who takes a running roast over, by its present state.  Raises CoachError."""
    from datetime import UTC, datetime

    from coach.app.commands.brief import earlier, stands
    from coach.logbook.brief.brief import brief
    from coach.logbook.brief.brief_page import text
    from coach.logbook.brief.brief_plots import drawn

    now = datetime.now(UTC)
    standing = stands(profile, running, None, now, folder)
    past, before = earlier(profile, folder, running)
    found = brief(profile, past, now, on_machine=before, standing=standing)
    return lambda wide, plain: [*text(found, wide), "", *drawn(profile, standing, wide, plain)]


def last_page(profile: Profile, folder: Path) -> Drawn:
    """The review of the newest roast of a profile.  Raises CoachError."""
    from coach.logbook.index.index import Index

    with Index.of(folder) as index:
        index.refresh()
        row = next(iter(index.rows("profile = ? AND run = 'live' AND ended = 'dropped'", (profile.name,), 1)), None)
    if row is None:
        raise CoachError("The logbook has no finished roast of this profile.", "")
    return review_page(folder / row.file, profile, folder)


def trend_page(profile: Profile, folder: Path) -> Drawn:
    """The trend of a profile's roasts.  Raises CoachError."""
    from coach.logbook.index.find import of_profile
    from coach.logbook.index.index import Index
    from coach.logbook.trend.text import text
    from coach.logbook.trend.trend import trend

    with Index.of(folder) as index:
        index.refresh()
        found = trend(profile, of_profile(index, profile.name))
    return lambda wide, plain: text(found, wide, plain)
