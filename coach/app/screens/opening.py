"""The way to an open roast: unfinished ones are found, earlier ones learnt from, and one is opened."""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Final, TypeVarTuple

from coach.app.screens.asides import Drawn, handover_page, last_page, trend_page
from coach.app.screens.before_roast import column
from coach.app.screens.choosing import Choosing
from coach.app.screens.program import hand_over
from coach.roast.errors import CoachError, printable
from coach.roast.remarks import collected, remark

if TYPE_CHECKING:
    from coach.app.live import OpenRoast
    from coach.app.screens.app import RoastApp
    from coach.app.screens.desk import Desk
    from coach.forecast.knowledge import Knowledge
    from coach.session.offers import Choice, Offer


Found = TypeVarTuple("Found")
SETTLED: Final = 20.0
"""Time after the drop from which on its correction is unlikely, s."""


class Opening:
    """Opens the roast of a ``desk`` on the ``program``, and does the work that no screen waits for in threads.

    Without a desk the program has its roast already, and Enter begins it.
    """

    def __init__(self, desk: Desk | None, program: RoastApp) -> None:
        self.desk = desk
        self.choosing = Choosing() if desk is None else Choosing(desk.profile.name)
        self.choosing.offers = () if desk is None else None
        self.handed_on: list[str] = []
        """Findings that the logbook hands on to the person who roasts now."""
        self.learning = desk is not None
        """True until earlier roasts were learnt from."""
        self._program = program
        self._knowledge: Knowledge | None = None
        self._meant: Offer | None = None
        """The roast that is gone on with once earlier ones were learnt from."""
        self._ended = False

    # -- found and learnt in a thread -------------------------------------------------------------------------------

    def start(self) -> None:
        """Find the unfinished roasts, then learn from earlier ones, in a thread."""
        if self.desk is not None:
            self._program.run_worker(partial(self._prepare, self.desk), thread=True, name="desk", exit_on_error=True)

    def _prepare(self, desk: Desk) -> None:
        guard, tell, width = self._program.guard, self._tell, column(self._program.size.width)
        with collected() as remarks:
            if not guard.run(lambda: tell(self._found, desk.look())):
                tell(self._found, ())
            guard.run(_load)
            if not guard.run(lambda: tell(self.learnt, *desk.learn())):
                tell(self.learnt, None, "earlier roasts are not used")
            guard.run(lambda: tell(self._briefed, desk.handed_on(width)))
            guard.run(lambda: tell(self._withhold, *desk.advice_state()))
            guard.run(lambda: tell(self._found, desk.look_further()))
        guard.run(lambda: tell(self._remarked, list(remarks)))

    def _tell(self, taken: Callable[[*Found], None], *found: *Found) -> None:
        """Give a thread's results to the program, which shows them; a fault is noted."""
        program = self._program
        hand_over(program, lambda: program.guarded(lambda: taken(*found)))

    def _found(self, offers: tuple[Offer, ...]) -> None:
        choice = self.choosing.found(offers)
        if choice is not None and not self._program.begun:
            self._carry_out(choice)

    def learnt(self, knowledge: Knowledge | None, trouble: str) -> None:
        """Take what earlier roasts teach, and the trouble in learning it, in words."""
        self._knowledge, self.learning = knowledge, False
        self._program.say_in_quiet(trouble)
        meant, self._meant = self._meant, None
        if meant is not None:
            self._resume(meant)
        elif self._program.begun and knowledge is not None and knowledge.count:
            coach = self._program.roast.live.coach
            if coach.roast.charge_at is None or not coach.roast.readings:
                coach.learn(knowledge)
            else:  # a forecast is not changed under the person's hands
                self._program.say_in_quiet("Earlier roasts were read too late to be used in this one.")

    def _briefed(self, lines: list[str]) -> None:
        self.handed_on = lines

    def _withhold(self, reason: str, wider: float) -> None:
        if self._program.begun:
            self._program.roast.live.coach.withhold(reason, wider)

    def _remarked(self, remarks: list[str]) -> None:
        """Report files of the logbook that were passed over: in short here, each by name when the screen is left."""
        if remarks:
            more = f" (+{len(remarks) - 1} more: coach log)" if len(remarks) > 1 else ""
            self._program.say_in_quiet(remarks[0] + more)
            for text in remarks:
                remark(text)

    # -- choices ----------------------------------------------------------------------------------------------------

    def press(self, key: str) -> None:
        """Take a key, its character or its name, as a choice; do nothing where it has none."""
        choice = self.choosing.press(key, self._program.turns.monotonic())
        if choice is not None:
            self._carry_out(choice)

    def _carry_out(self, choice: Choice) -> None:
        self._meant = None
        if choice.act == "begin":
            self._program.begin(None if self.desk is None else self.desk.open(self._knowledge))
        elif choice.offer is not None and choice.act == "close":
            self._close(choice.offer)
        elif choice.offer is not None:
            self.choosing.message, self.choosing.ahead = "Opening…", self.choosing.ahead or []
            self._resume(choice.offer)

    def _close(self, offer: Offer) -> None:
        assert self.desk is not None
        try:
            self.choosing.message = self.desk.close(offer)
        except CoachError as error:
            self.choosing.message = str(error)
        else:
            self.choosing.closed(offer)

    def _resume(self, offer: Offer) -> None:
        """Go on with a roast, once earlier ones were learnt from, in a thread: it takes a second or two."""
        if self.learning:
            self._meant = offer
        else:
            self._program.run_worker(partial(self._read_back, offer), thread=True, name="resume")

    def _read_back(self, offer: Offer) -> None:
        assert self.desk is not None
        try:
            live = self.desk.resume(offer, self._knowledge)
        except CoachError as error:
            self._tell(self._not_resumed, printable(str(error)))
        else:
            self._tell(lambda: self._program.begin(live, resumed=True))

    def _not_resumed(self, why: str) -> None:
        self.choosing.message, self.choosing.ahead = why, None

    # -- pages aside, and the end -----------------------------------------------------------------------------------

    def page(self, sign: str) -> Callable[[], Drawn] | None:
        """Function that computes the page of a character before the roast: t the profile's trend, l its last roast, s
        the state of the unfinished roast; None where it opens none."""
        if self.desk is None:
            return None
        profile, folder, offer = self.desk.profile, self.desk.folder, self.choosing.offer
        if sign == "s" and offer is not None and offer.charged:
            return partial(handover_page, profile, folder, offer.path)
        pages = {"t": trend_page, "l": last_page} if self.handed_on else {}
        return partial(pages[sign], profile, folder) if sign in pages else None

    def after_drop(self, live: OpenRoast, now: float) -> None:
        """Compute the knowledge for the next roast once, some time after the drop (``now``, s), in a thread that
        nothing waits for, neither the screen nor the way out."""
        roast, desk, guard = live.coach.roast, self.desk, self._program.guard
        drop = roast.marks.get("drop")
        if desk is None or self._ended or live.read_only or drop is None:
            return
        if now - (roast.charge_at or 0.0) - drop > SETTLED:
            self._ended = True
            threading.Thread(target=lambda: guard.run(lambda: desk.ended(live)), name="ended", daemon=True).start()


def _load() -> None:
    """Load what works in a roast, which no first paint waits for, before one is begun."""
    import coach.app.live
    import coach.app.screens.roast_screen  # noqa: F401
