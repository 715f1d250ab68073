"""Pages beside the roast: help, the review, the trend before charge."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from textual.app import ComposeResult

from coach.app.printing import Lines, hung, page_width
from coach.app.screens.keyed import Caution, KeyedScreen
from coach.app.screens.palette import Sketch
from coach.app.screens.program import look_of
from coach.app.screens.widgets import PageView
from coach.roast.errors import CoachError, printable

if TYPE_CHECKING:
    from coach.cues.episodes import Episode
    from coach.forecast.knowledge import Knowledge
    from coach.logbook.index.summary import Summary
    from coach.roast.profile import Profile


def waiting(wide: int, plain: bool) -> Sequence[str]:
    """The page until it is computed."""
    return ["Looking back … (some seconds the first time)"]


class PageScreen(KeyedScreen):
    """A page aside, over the screen ``below``: ``lines`` gives it, or ``make`` computes it in a thread (it may take a
    second or two).  ``closes`` takes a key and says if it closes it."""

    view = "page"

    def __init__(
        self, below: KeyedScreen, closes: Callable[[str, str], bool], lines: Lines = waiting, *,
        make: Callable[[], Lines] | None = None, caution: bool = False,
    ) -> None:  # fmt: skip
        super().__init__(below.turns)
        self.below = below
        self.closes = closes
        self.lines = lines
        self.make = make
        self.page = PageView("page")
        self.caution = Caution() if caution else None
        self._laid: tuple[Lines, int, Sketch] | None = None
        """The page as it is shown, its width (cells) and its look."""

    def compose(self) -> ComposeResult:
        if self.caution is not None:
            yield self.caution
        yield self.page
        yield self.foot

    def on_mount(self) -> None:
        super().on_mount()
        if self.make is not None:
            self.turns.in_thread(partial(self._gather, self.make), "aside")

    def _gather(self, make: Callable[[], Lines]) -> None:
        try:
            self.lines = make()
        except CoachError as error:
            said = [str(error)]
            self.lines = lambda wide, plain: said

    def show(self) -> None:
        wide = page_width(self.app.size.width)
        how = look_of(self.app)
        if self._laid != (self.lines, wide, how):
            self._laid = self.lines, wide, how
            self.page.show_lines(hung(map(printable, self.lines(wide, how.plain)), wide))
        if self.caution is not None:
            self.caution.show_for(self.app.size)
        parts = (("Esc", "returns", ""), ("PgDn PgUp", "turn", ""), ("^q", "leave", ""))
        self.foot.show_page("Esc returns", self.page, self.said(), parts)

    def said(self) -> str:
        return self.below.said()

    def press(self, key: str, sign: str) -> None:
        if not self.page.turn(key) and self.closes(key, sign):
            self.app.pop_screen()

    def paste(self, text: str) -> None:
        self.below.paste(text)


def review_page(
    path: Path,
    profile: Profile,
    folder: Path,
    episodes: Sequence[Episode] | None = None,
    knowledge: Knowledge | None = None,
) -> Lines:
    """The review of a roast, with its recorded cues and the coach's knowledge, where given.  Raises CoachError."""
    from coach.logbook.learning.reviewed import gather
    from coach.logbook.review.review_text import page

    found = gather(path, profile, folder, episodes=episodes, knowledge=knowledge)
    return lambda wide, plain: page(found, wide, plain)


def handover_page(profile: Profile, folder: Path, running: Path) -> Lines:
    """The page for the person who takes a running roast over, by its present state.  Raises CoachError."""
    from coach.logbook.brief.brief_page import text
    from coach.logbook.brief.gathered import gather

    return partial(text, gather(profile, folder, running=running))


def last_page(profile: Profile, folder: Path) -> Lines:
    """The review of the newest roast of a profile.  Raises CoachError."""
    found = _roasts(profile, folder)
    if not found:
        raise CoachError("The logbook has no finished roast of this profile.", "")
    return review_page(folder / found[-1].file, profile, folder)


def trend_page(profile: Profile, folder: Path) -> Lines:
    """The trend of a profile's roasts.  Raises CoachError."""
    from coach.logbook.trend.text import text
    from coach.logbook.trend.trend import trend

    return partial(text, trend(profile, _roasts(profile, folder)))


def _roasts(profile: Profile, folder: Path) -> list[Summary]:
    """The finished roasts of a profile, oldest first."""
    from coach.logbook.index.find import of_profile
    from coach.logbook.index.index import Index

    with Index.of(folder) as index:
        index.refresh()
        return of_profile(index, profile.name)
