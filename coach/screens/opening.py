"""From the command to the roast: the first paint, what is made ready after it, and the page before the roast."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Final

from coach.entries import SoundCheck
from coach.errors import CoachError
from coach.library import printable
from coach.screens.asides import Asides
from coach.screens.source import Sounds
from coach.screens.widgets import Page
from coach.sound.speaker import Speaker
from coach.sound.speech import Voice

if TYPE_CHECKING:
    from coach.knowledge import Knowledge
    from coach.live import LiveRoast, Offer, Onlooker


SETTLED: Final = 20.0
"""So long after the drop (s) its correction is no longer to be expected at every moment."""


class Opening(Asides):
    """The screen with its way in and out."""

    _ended = False
    """Whether what follows the drop was begun."""
    _warned = False
    """Whether the person was told, on leaving, that not all is on disk."""

    def on_mount(self) -> None:
        self.refresh_all()
        self.call_after_refresh(self._after_first_paint)

    def _after_first_paint(self) -> None:
        """What the first paint does not wait for: sound, the estimator, the logbook."""
        if self._use_device:
            self._speaker = Speaker(self.app.bell, rising=self.settings.rising)
            self._voice = Voice(self._speaker.play, on=self.settings.speech)
        if self.desk is not None:
            self.run_worker(self._prepare, thread=True, name="desk", exit_on_error=True)
        self.set_interval(self._period, self.pulse)
        self.refresh_entry()

    def _prepare(self) -> None:
        """In a thread: what was left unfinished, then what earlier roasts teach."""
        assert self.desk is not None
        desk, guard = self.desk, self.guard
        if not guard.run(lambda: self.app.call_from_thread(self._found, desk.look())):
            self.app.call_from_thread(self._found, None)
        if not guard.run(lambda: self.app.call_from_thread(self._learnt, *desk.learn())):
            self.app.call_from_thread(self._learnt, None, "earlier roasts are not used")
        guard.run(lambda: self.app.call_from_thread(self._briefed, desk.handed_on(max(self.size.width - 3, 20))))
        guard.run(lambda: self.app.call_from_thread(self._withhold, desk.withheld()))

    def _found(self, offer: Offer | None) -> None:
        self.offer, self._desk_ready = offer, True
        if self._waiting == "open":
            self._leave_brief(resume=False)
        self.refresh_all()

    def _briefed(self, lines: list[str]) -> None:
        self.handed_on = lines
        self.refresh_all()

    def _withhold(self, why: str) -> None:
        if self._live is not None:
            self.live.coach.withhold(why)

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
        """Once, some time after the drop: what the next roast begins with is worked out in a thread that nothing waits
        for, neither the screen nor the way out."""
        roast = self.live.coach.roast
        drop = roast.marks.get("drop")
        if self.desk is None or self._ended or self.live.read_only or drop is None:
            return
        if now - (roast.charge_at or 0.0) - drop > SETTLED:
            self._ended = True
            desk, live, guard = self.desk, self.live, self.guard
            threading.Thread(target=lambda: guard.run(lambda: desk.ended(live)), name="ended", daemon=True).start()

    def _leave_brief(self, *, resume: bool) -> None:
        """Begin a new roast, or go on with the unfinished one (read back in a thread: that takes a second or two)."""
        self._waiting = ""
        if self.desk is None or self._live is not None:
            self._go(resume=False)
        elif not self._desk_ready or (resume and self._learning):
            self._waiting = "resume" if resume else "open"
            self.message = "Opening…"
        elif resume:
            self.message = "Opening…"
            self.run_worker(self._resume, thread=True, name="resume")
        else:
            self._live = self.desk.open(self.knowledge)
            self._go(resume=False)

    def _resume(self) -> None:
        assert self.desk is not None
        assert self.offer is not None
        try:
            live = self.desk.resume(self.offer, self.knowledge)
        except CoachError as error:
            self.app.call_from_thread(self._not_resumed, printable(str(error)))
        else:
            self.app.call_from_thread(self._go, resume=True, live=live)

    def _not_resumed(self, why: str) -> None:
        self.message, self.offer = why, None
        self.refresh_all()

    def _go(self, *, resume: bool, live: LiveRoast | Onlooker | None = None) -> None:
        """From the brief to the roast."""
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
        if self._aside_key(key, sign) or self.query_one("#brief", Page).turn(key):
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
        elif sign == "u" and self.offer is not None:
            self._leave_brief(resume=True)
        elif key == "enter":
            self._leave_brief(resume=self.enter_resumes)
        elif sign == "n" and self.enter_resumes:
            self._leave_brief(resume=False)
        else:
            return False
        self.refresh_all()
        return True

    def _play_check(self) -> None:
        due = self.check.due(self.monotonic())
        if due is not None and self._speaker is not None:
            self._speaker.play(due)
        elif due is not None:
            self.app.bell()
        if self.check.state == "playing" or due is not None:
            self._show_brief()

    def may_leave(self) -> bool:
        """Is nothing lost by leaving?  Says once what is not on disk; asked again, it may."""
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
