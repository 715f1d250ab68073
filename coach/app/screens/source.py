"""Sources of entries beside the keyboard: a simulated roaster, or a journal that is replayed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

from coach.session.settings import Action

if TYPE_CHECKING:
    from coach.app.sound.mixer import Background
    from coach.roast.entries import Entry
    from coach.session.coach import Coach


class Source(Protocol):
    """Hears what is entered, gives entries of its own as time passes, and shows a line of dials: a simulated roaster
    with a person at it, or a replay.  As it stands here it does nothing, as in a live roast.
    """

    @property
    def silent(self) -> bool:
        """True in a drill without sound."""
        return False

    @property
    def stage(self) -> str:
        """The person's stage in a rehearsal; '' for none."""
        return ""

    @property
    def sound(self) -> Background | None:
        """Sound that it makes all the time; None if none."""
        return None

    def begin(self) -> None:
        """Let its time run, as the page before the roast is left."""
        return

    def hear(self, entry: Entry, coach: Coach) -> None:
        """Hear an entry, after it was taken."""
        return

    def advance(self, now: float, coach: Coach) -> Sequence[Entry]:
        """Let time pass to ``now`` (s since the roast was opened); return the entries to be entered."""
        return ()

    def line(self, coach: Coach) -> str:
        """One line for the screen, '' for none."""
        return ""

    def do(self, action: Action, coach: Coach) -> str:
        """Look at the trier, pause or go on, jump to the next interesting moment, or take over from a simulated person;
        return the message about it, '' where it can't."""
        return ""


class Live(Source):
    """The source of a live roast, which gives nothing."""
