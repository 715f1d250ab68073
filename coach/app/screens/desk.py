"""Work behind the brief: opening a roast, finding unfinished ones, learning from earlier ones.

The brief is painted before any of this is loaded (the estimator's libraries take longer to import than a first paint
may last), so everything here is imported on first use; ``look`` and ``learn`` run in a thread.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from coach.roast.errors import CoachError
from coach.roast.profile import Profile
from coach.roast.units import TemperatureUnit

if TYPE_CHECKING:
    from coach.app.live import LiveRoast, OpenRoast
    from coach.forecast.knowledge import Knowledge
    from coach.roast.entries import Dial
    from coach.session.coach import Coach
    from coach.session.offers import Offer


ON_SCREEN: Final = ("Recipe", "Safety")
"""Sections of the brief that the page before the roast shows by itself."""


@dataclass(frozen=True)
class Learnt:
    """Evidence from earlier roasts: ``knowledge``; ``demoted`` cues, which were wrong too often, each with its reason;
    the reason why moves are not advised ('' where they are), and the factor by which their ranges are wider."""

    knowledge: Knowledge | None = None
    demoted: Mapping[str, str] = field(default_factory=dict)
    advice: tuple[str, float] = ("", 1.0)

    def tell(self, coach: Coach) -> None:
        """Tell a coach what was found out about its cues and advice."""
        coach.demote(self.demoted)
        coach.withhold(*self.advice)


class Desk:
    """Opens live roasts of one profile, typed in ``unit`` (the profile's if none is given) and read off a ``dial``.
    Newer versions of it are looked for in the folder ``beside``, too."""

    def __init__(
        self, profile: Profile, folder: Path, *, person: str = "", unit: TemperatureUnit | None = None,
        beside: Path | None = None, dial: Dial | None = None,
    ) -> None:  # fmt: skip
        self.profile = profile
        self.folder = folder
        self.person = person
        self.unit = unit
        self.dial = dial
        self.beside = beside
        self.newer = ""
        """Remark that there is a newer version of the profile."""
        self.learnt = Learnt()
        """Evidence from earlier roasts of this profile, as far as they were learnt from; it holds for roasts that are
        opened after that."""

    def look(self) -> tuple[Offer, ...]:
        """The unfinished roasts that may still be running, of any profile, newest first."""
        from coach.session.unfinished import unfinished

        return unfinished(self.folder)

    def look_further(self) -> tuple[Offer, ...]:
        """All unfinished roasts of any age: they can be closed."""
        from coach.logbook.index.find import left_unfinished

        return left_unfinished(self.folder)

    def close(self, offer: Offer) -> str:
        """Close a roast that ended without a drop; return the message.  Raises FileError."""
        from datetime import UTC, datetime

        from coach.logbook.index.results import abandon
        from coach.session.offers import name_of

        abandon(offer.path, datetime.now(UTC))
        name = name_of(offer, self.profile.name)
        return f"{name[0].upper()}{name[1:]} is closed.  coach close {offer.path.stem} --undo  opens it again."

    def learn(self) -> str:
        """Learn from earlier roasts of this profile; return the error in it in words, '' if there was none."""
        from coach.logbook.learning.lessons import learn_from
        from coach.logbook.learning.replays import silenced

        knowledge, trouble = None, ""
        if self.folder.is_dir():
            try:
                knowledge = learn_from(self.folder, self.profile)
            except CoachError as error:
                trouble = f"earlier roasts are not used: {error}"
            self.learnt = replace(self.learnt, knowledge=knowledge, demoted=silenced(self.folder, self.profile))
        return trouble

    def advice_state(self) -> tuple[str, float]:
        """Find out the state of advice by the record, and return it: see ``Learnt``.  Up to two roasts are replayed for
        it, so it comes last."""
        from coach.logbook.learning.replays import advice_state

        if self.folder.is_dir():
            found = advice_state(self.folder, self.profile)
            self.learnt = replace(self.learnt, advice=(found.text, found.wider))
        return self.learnt.advice

    def handed_on(self, width: int) -> list[str]:
        """Notes of the logbook for the person who roasts now (last roasts, changes, open doubts, what to do if), as
        lines of at most ``width`` cells; none where the logbook is empty or can't be read."""
        from coach.logbook.brief.brief_page import text
        from coach.logbook.brief.gathered import gather
        from coach.session.journal_folder import scan

        if not self.folder.is_dir() or not scan(self.folder).journals:
            return []
        try:
            page = gather(self.profile, self.folder, unit=self.unit, beside=self.beside)
        except (CoachError, OSError):
            return []
        self.newer = page.newer
        sections = tuple(s for s in page.sections if s.title not in ON_SCREEN)
        return text(replace(page, sections=sections, newer=""), width)[1:]

    def open(self) -> LiveRoast:
        """Open a new roast; its clock runs from now on."""
        from datetime import UTC, datetime

        from coach.app.live import LiveRoast
        from coach.session.roast_clock import right_now, stopwatch

        live = LiveRoast.open(
            self.profile, self.folder, stopwatch(), started=datetime.now(UTC), run="live", person=self.person,
            knowledge=self.learnt.knowledge, unit=self.unit, dial=self.dial, now=right_now(),
        )  # fmt: skip
        self.learnt.tell(live.coach)
        return live

    def resume(self, offer: Offer) -> OpenRoast:
        """Go on with an unfinished roast, or look on where another coach has it; its coach is ``behind`` and catches up
        in parts.  Raises FileError, also where the profile that it follows is not found."""
        from coach.app.live import LiveRoast, Onlooker

        profile, learnt = self.profile, self.learnt
        if offer.profile not in ("", profile.name):
            from coach.logbook.learning.lessons import learn_from
            from coach.logbook.learning.replays import silenced

            profile = self._followed(offer)
            learnt = Learnt(learn_from(self.folder, profile), silenced(self.folder, profile))
        if offer.in_use:
            return Onlooker(offer.path, profile, learnt.knowledge)
        live = LiveRoast.resume(offer.path, profile, learnt.knowledge)
        learnt.tell(live.coach)
        return live

    def _followed(self, offer: Offer) -> Profile:
        """The profile that a roast follows, where it is another than the desk's.  Raises FileError."""
        from coach.logbook.profiles.kept_versions import versions
        from coach.roast.errors import FileError
        from coach.session.journal_folder import header_of
        from coach.session.settings import load_settings

        found = versions(offer.profile, self.beside)
        if not found:
            raise FileError(
                offer.profile, "the profile of that roast is not among yours.", "Name its file: coach follow FILE"
            )
        version = header_of(offer.path).profile_version
        same = next((v for v in found if v.document.version == version), found[-1])
        return load_settings().applied(Profile(same.document))
