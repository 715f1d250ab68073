"""From the command to the roast: the first paint, the preparations after it, and the page before the roast."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from typing import TYPE_CHECKING, Final, TypeVarTuple

from coach.app.screens.asides import Asides
from coach.app.screens.before_roast import column
from coach.app.screens.program import hand_over
from coach.app.screens.source import Sounds
from coach.app.screens.widgets import PageView
from coach.app.sound.speaker import Speaker
from coach.app.sound.speech import Voice
from coach.roast.entries import SoundCheck
from coach.roast.errors import CoachError, printable
from coach.roast.remarks import collected, remark

if TYPE_CHECKING:
    from coach.app.live import LiveRoast, Onlooker
    from coach.forecast.knowledge import Knowledge
    from coach.session.unfinished import Choice, Offer


Found = TypeVarTuple("Found")
MID_LINE: Final = 5.0
"""Time after a key without a meaning before the roast in which keys may be letters of a line, s."""
SETTLED: Final = 20.0
"""Time after the drop from which on its correction is unlikely, s."""


class Opening(Asides):
    """The screen with its way in and out."""

    _meant: Offer | None = None
    """The unfinished roast that is gone on with."""
    _asked_again = ""
    """The key pressed last before the roast: its capital confirms some."""
    _typed_at = -1e9
    """Time of the last key without a meaning before the roast (s): somebody types on, and means the entry line."""
    _ahead: deque[tuple[str, str, float]] | None = None
    """Keys, signs and times (s) typed while a roast is being opened: they are for its entry line.  None before."""
    _ended = False
    """True once the work after the drop was begun."""
    _warned = False
    """True once the person was told, on leaving, that not all is on disk."""

    def on_mount(self) -> None:
        self.refresh_all()
        self.call_after_refresh(self._after_first_paint)

    def _after_first_paint(self) -> None:
        """Start the work that the first paint does not wait for: sound, the estimator, the logbook."""
        if self._use_device:
            self._speaker = Speaker(self.app.bell, rising=self.settings.rising)
            self._voice = Voice(self._speaker.play, on=self.settings.speech)
        if self.desk is not None:
            self.run_worker(self._prepare, thread=True, name="desk", exit_on_error=True)
        self.set_interval(self._period, self.pulse)
        self.refresh_entry()

    def _prepare(self) -> None:
        """Find the unfinished roasts, then learn from earlier ones; runs in a thread."""
        assert self.desk is not None
        desk, guard = self.desk, self.guard
        with collected() as remarks:
            if not guard.run(lambda: self._hand_over(self._found, desk.look())):
                self._hand_over(self._found, ())
            if not guard.run(lambda: self._hand_over(self._learnt, *desk.learn())):
                self._hand_over(self._learnt, None, "earlier roasts are not used")
            guard.run(lambda: self._hand_over(self._briefed, desk.handed_on(column(self.size.width))))
            guard.run(lambda: self._hand_over(self._withhold, desk.stands()))
            guard.run(lambda: self._hand_over(self._found, desk.look_further()))
        guard.run(lambda: self._hand_over(self._remarked, list(remarks)))

    def _hand_over(self, taken: Callable[[*Found], None], *found: *Found) -> None:
        """Give a thread's results to the screen; a fault is noted."""
        hand_over(self, lambda: self.guard.run(lambda: taken(*found)))

    def _found(self, offers: tuple[Offer, ...]) -> None:
        meant = self.offer
        self.offers, self._desk_ready = tuple(o for o in offers if o.path not in self._over), True
        self.chosen = next((i for i, o in enumerate(self.offers) if meant is not None and o.path == meant.path), 0)
        if self._waiting == "look":
            self._waiting = ""
            self.choose("enter")
            if self._live is None and self._meant is None:
                self._ahead = None
        self.refresh_all()

    def _remarked(self, remarks: list[str]) -> None:
        """Report files of the logbook that were passed over: in short here, each by name when the screen is left."""
        if remarks:
            more = f" (+{len(remarks) - 1} more: coach log)" if len(remarks) > 1 else ""
            self.message = self.message or remarks[0] + more
            for text in remarks:
                remark(text)
        self.refresh_all()

    def _briefed(self, lines: list[str]) -> None:
        self.handed_on = lines
        self.refresh_all()

    def _withhold(self, stands: tuple[str, float]) -> None:
        if self._live is not None:
            self.live.coach.withhold(*stands)

    def _learnt(self, knowledge: Knowledge | None, trouble: str) -> None:
        self.knowledge, self._learning = knowledge, False
        self.message = self.message or trouble
        if self._waiting == "resume":
            self._leave_brief(resume=True)
        elif knowledge is not None and knowledge.count and self._live is not None:
            if self.live.coach.roast.charge_at is None or not self.live.coach.roast.readings:
                self.live.coach.learn(knowledge)
            else:  # a forecast is not changed under the person's hands
                self.message = self.message or "Earlier roasts were read too late to be used in this one."
        self.refresh_all()

    def _after_drop(self, now: float) -> None:
        """Compute the knowledge for the next roast once, some time after the drop, in a thread that nothing waits for,
        neither the screen nor the way out."""
        roast = self.live.coach.roast
        drop = roast.marks.get("drop")
        if self.desk is None or self._ended or self.live.read_only or drop is None:
            return
        if now - (roast.charge_at or 0.0) - drop > SETTLED:
            self._ended = True
            desk, live, guard = self.desk, self.live, self.guard
            threading.Thread(target=lambda: guard.run(lambda: desk.ended(live)), name="ended", daemon=True).start()

    def _leave_brief(self, *, resume: bool) -> None:
        """Begin a new roast, or go on with the one that was chosen (in a thread: it takes a second or two)."""
        self._waiting = ""
        if self.desk is None or self._live is not None:
            self._go(resume=False)
        elif resume:
            self.message, self._ahead = "Opening…", self._ahead or deque()
            if self._learning:
                self._waiting = "resume"
            else:
                self.run_worker(self._resume, thread=True, name="resume")
        else:
            self._live = self.desk.open(self.knowledge)
            self._go(resume=False)

    def _resume(self) -> None:
        assert self.desk is not None
        assert self._meant is not None
        try:
            live = self.desk.resume(self._meant, self.knowledge)
        except CoachError as error:
            self._hand_over(self._not_resumed, printable(str(error)))
        else:
            self._hand_over(lambda: self._go(resume=True, live=live))

    def _not_resumed(self, why: str) -> None:
        self.message, self._ahead = why, None
        self.refresh_all()

    def _go(self, *, resume: bool, live: LiveRoast | Onlooker | None = None) -> None:
        """Go from the brief to the roast."""
        if live is not None:
            if self._live is not None:
                live.close()
                return
            self._live = live
        try:
            self.live.refuse()
        except CoachError as error:
            self.line.read_only = str(error)
        self.view = "glance" if self.settings.glance else "roast"
        self.message = getattr(self.live, "word", "") or ("Going on with the roast where it stands." if resume else "")
        if self._begin is not None:
            self._begin()
        if self._speaker is not None and isinstance(self.source, Sounds):
            self._speaker.set_source(self.source.sound)
        if not self.live.read_only and self.check.heard is not None:
            way = self._speaker.output if self._speaker is not None else "terminal bell"
            self._enter(SoundCheck(at=self.live.now(), heard=self.check.heard, output=way))
        elif not resume and self._speaker is not None and not self.live.read_only:
            self.message = "The sounds were not checked."
        self.refresh_all()

    def _brief_key(self, key: str, sign: str) -> bool:
        if self._ahead is not None:
            self._ahead.append((key, sign, self.monotonic()))
            return True
        if self._aside_key(key, sign) or self.query_one("#brief", PageView).turn(key):
            return True
        if sign and sign == self.keys.sign("help"):
            self._before_help, self.view = "brief", "help"
        elif sign.isdigit() and sign != "0":
            self.ticked ^= {int(sign)}
        elif self.check.state == "asking" and sign in ("y", "n"):
            self.check.answer(sign == "y")
        elif sign == "h":
            self.check.start(self.monotonic())
            self._play_check()
        elif not self.choose("enter" if sign == "u" and self.enter_resumes else sign or key):
            return False
        self.refresh_all()
        return True

    def choose(self, key: str) -> bool:
        """Do the choice of a key (``unfinished.choices``); return True if the key has one."""
        key = "enter" if key == "\r" else key
        if key in ("enter", "escape", "\x1b"):
            self._typed_at = -1e9
        if self.desk is None or self._live is not None:
            if key == "enter":
                self._leave_brief(resume=False)
            return key == "enter"
        if self.offers is None:  # nothing begins before the running roasts are known
            if len(key) == 1 and key.isprintable():
                self._typed_at = self.monotonic()
            if key == "enter":
                self._waiting, self.message = "look", "Looking for a roast that runs…"
                self._ahead = self._ahead or deque()
            return key == "enter"
        confirmed = key.isupper() and len(key) == 1 and self._asked_again == key.lower()
        choice = next((c for c in self._choices() if c.key == (key.lower() if confirmed else key)), None)
        self._asked_again = key
        if choice is None or self.monotonic() - self._typed_at < MID_LINE:
            if len(key) == 1 and key.isprintable():
                self._typed_at = self.monotonic()
            if choice is not None:
                self._asked_again = ""
                self.message = f"{key} is not taken in the middle of a line. Esc, then {key}."
            return choice is not None
        if choice.confirm and not confirmed:  # a word may hold "nn", at any pace, but hardly "nN"
            self.message = choice.confirm
            return True
        self._asked_again = ""
        if choice.act == "begin":
            self._leave_brief(resume=False)
        elif choice.act == "choose":
            assert choice.offer is not None
            self.chosen = (self.offers or ()).index(choice.offer)
        elif choice.act == "close":
            self._close(choice)
        else:
            self._meant = choice.offer
            self._leave_brief(resume=True)
        return True

    def _close(self, choice: Choice) -> None:
        assert self.desk is not None
        assert choice.offer is not None
        try:
            self.message = self.desk.close(choice.offer)
        except CoachError as error:
            self.message = str(error)
            return
        self._over.add(choice.offer.path)
        self.offers = tuple(o for o in self.offers or () if o.path not in self._over)
        self.chosen = 0

    def _play_check(self) -> None:
        due = self.check.due(self.monotonic())
        if due is not None and self._speaker is not None:
            self._speaker.play(due)
        elif due is not None:
            self.app.bell()
        if self.check.state == "playing" or due is not None:
            self._show_brief()

    def may_leave(self) -> bool:
        """True if nothing is lost by leaving.  Names the entries that are not on disk the first time; True the second
        time."""
        live = self._live
        if live is not None and live.pending and live.trouble and not self._warned:
            self._warned = True
            self.message = "NOT ALL IS ON DISK. Ctrl+q again leaves; you can then write the roast to another folder."
            self.refresh_all()
            return False
        return True

    def on_unmount(self) -> None:
        if self._voice is not None:
            self._voice.close()
        if self._speaker is not None:
            self._speaker.close()
        if self._live is not None:
            self._live.close()
