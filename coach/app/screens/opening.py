"""The way to an open roast: unfinished ones are found, earlier ones learnt from, and one is opened."""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from coach.app.printing import Lines
from coach.app.screens.asides import handover_page, last_page, trend_page
from coach.app.screens.choosing import Choosing
from coach.app.screens.turns import Turns
from coach.roast.errors import CoachError, printable
from coach.roast.remarks import collected, remark

if TYPE_CHECKING:
    from coach.app.live import OpenRoast
    from coach.app.screens.desk import Desk
    from coach.session.offers import Choice, Offer


class Opening:
    """Opens the roast of a ``desk``, and does the work that no screen waits for in threads.

    Without a desk there is a roast already, and Enter begins it.  ``begin`` is called with the roast that was opened,
    None for the one that was there, and True if it is gone on with; ``say`` shows words where nothing else is said.
    """

    def __init__(
        self, desk: Desk | None, turns: Turns, begin: Callable[[OpenRoast | None, bool], None],
        say: Callable[[str], None],
    ) -> None:  # fmt: skip
        self.desk = desk
        self.choosing = Choosing() if desk is None else Choosing(desk.profile.name)
        self.choosing.offers = () if desk is None else None
        self.handed_on: list[str] = []
        """Findings that the logbook hands on to the person who roasts now."""
        self._turns = turns
        self._begin = begin
        self._say = say
        self._live: OpenRoast | None = None
        """The roast that was opened."""
        self._learnt = threading.Event()
        """Set once earlier roasts were learnt from."""

    # -- found and learnt in a thread -------------------------------------------------------------------------------

    def start(self, width: int) -> None:
        """Find the unfinished roasts, then learn from earlier ones, in a thread; lines of what the logbook hands on
        have at most ``width`` cells."""
        if self.desk is not None:
            self._turns.in_thread(partial(self._prepare, self.desk, width), "desk")

    def _prepare(self, desk: Desk, width: int) -> None:
        guard, tell = self._turns.guard, self._turns.tell

        def found(offers: Callable[[], tuple[Offer, ...]]) -> bool:
            return guard.run(lambda: tell(partial(self._found, offers())))

        with collected() as remarks:
            if not found(desk.look):
                tell(partial(self._found, ()))
            guard.run(_load)
            if not guard.run(lambda: tell(partial(self._taught, desk.learn()))):
                tell(partial(self._taught, "earlier roasts are not used"))
            self._learnt.set()
            guard.run(lambda: tell(partial(self._briefed, desk.handed_on(width))))
            guard.run(lambda: tell(partial(self._withhold, *desk.advice_state())))
            found(desk.look_further)
        tell(partial(self._remarked, list(remarks)))

    def _found(self, offers: tuple[Offer, ...]) -> None:
        choice = self.choosing.found(offers)
        if choice is not None:
            self._carry_out(choice)

    def _taught(self, trouble: str) -> None:
        """Use what earlier roasts teach in a roast that was opened before; say the trouble in learning it."""
        self._say(trouble)
        knowledge = None if self.desk is None else self.desk.learnt.knowledge
        if self._live is None or knowledge is None or not knowledge.count or self._live.coach.knowledge is knowledge:
            return
        coach = self._live.coach
        if coach.roast.charge_at is None or not coach.roast.readings:
            coach.learn(knowledge)
        else:  # a forecast is not changed under the person's hands
            self._say("Earlier roasts were read too late to be used in this one.")

    def _briefed(self, lines: list[str]) -> None:
        self.handed_on = lines

    def _withhold(self, reason: str, wider: float) -> None:
        if self._live is not None and self._live.coach.profile.name == self.choosing.profile:
            self._live.coach.withhold(reason, wider)

    def _remarked(self, remarks: list[str]) -> None:
        """Report files of the logbook that were passed over: in short here, each by name when the screen is left."""
        if remarks:
            more = f" (+{len(remarks) - 1} more: coach log)" if len(remarks) > 1 else ""
            self._say(remarks[0] + more)
            for text in remarks:
                remark(text)

    # -- choices ----------------------------------------------------------------------------------------------------

    def press(self, key: str) -> None:
        """Take a key, its character or its name, as a choice; do nothing where it has none."""
        choice = self.choosing.press(key)
        if choice is not None:
            self._carry_out(choice)

    def _carry_out(self, choice: Choice) -> None:
        if choice.act == "begin":
            self._opened(None if self.desk is None else self.desk.open())
        elif choice.offer is not None and choice.act == "close":
            self._close(choice.offer)
        elif choice.offer is not None:
            self.choosing.message, self.choosing.ahead = "Opening…", self.choosing.ahead or []
            self._turns.in_thread(partial(self._resume, choice.offer), "resume")

    def _opened(self, live: OpenRoast | None, *, resumed: bool = False) -> None:
        self._live = live
        self._begin(live, resumed)

    def _close(self, offer: Offer) -> None:
        assert self.desk is not None
        try:
            self.choosing.message = self.desk.close(offer)
        except CoachError as error:
            self.choosing.message = str(error)
        else:
            self.choosing.closed(offer)

    def _resume(self, offer: Offer) -> None:
        """Go on with a roast, once earlier ones were learnt from; in a thread, for it takes a second or two."""
        assert self.desk is not None
        self._learnt.wait()
        try:
            live = self.desk.resume(offer)
        except CoachError as error:
            self._turns.tell(partial(self._not_resumed, printable(str(error))))
        else:
            self._turns.tell(partial(self._opened, live, resumed=True))

    def _not_resumed(self, why: str) -> None:
        self.choosing.message, self.choosing.ahead = why, None

    # -- pages aside ------------------------------------------------------------------------------------------------

    def page(self, sign: str) -> Callable[[], Lines] | None:
        """Function that computes the page of a character before the roast: t the profile's trend, l its last roast, s
        the state of the unfinished roast; None where it opens none."""
        if self.desk is None:
            return None
        profile, folder, offer = self.desk.profile, self.desk.folder, self.choosing.offer
        if sign == "s" and offer is not None and offer.charged:
            return partial(handover_page, profile, folder, offer.path)
        pages = {"t": trend_page, "l": last_page} if self.handed_on else {}
        return partial(pages[sign], profile, folder) if sign in pages else None


def _load() -> None:
    """Load what works in a roast, which no first paint waits for, before one is begun."""
    import coach.app.live
    import coach.app.screens.roast_screen  # noqa: F401
