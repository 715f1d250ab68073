"""The screen of a roast: shows a situation, sends what is typed."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Literal

from rich.text import Text
from textual.app import App, ComposeResult
from textual.containers import Horizontal, Vertical
from textual.events import Key, Paste, Resize
from textual.filter import Monochrome, NoColor
from textual.timer import Timer

from coach.entries import Mark, Pop, Reply, SoundCheck
from coach.errors import CoachError
from coach.library import printable
from coach.screens.brief import SoundCheck as Check
from coach.screens.brief import brief, offer_line
from coach.screens.chart import Charted
from coach.screens.entryline import EntryLine
from coach.screens.glance import glance, glance_text
from coach.screens.helppage import help_lines
from coach.screens.keys import MARKS, WORDS, Bounce, KeyMap
from coach.screens.palette import GROUND, ORANGE, SKY, TEXT
from coach.screens.results import result_of
from coach.screens.signs import plain, terminal_encoding
from coach.screens.source import Jumps, Looks, Pauses, Sounds, Source
from coach.screens.voice import spoken
from coach.screens.widgets import Number, Page, Pane
from coach.screens.words import cue_lines, freshness, next_action, status, tapped, temperature
from coach.settings import Action, Settings
from coach.situation import ActiveCue
from coach.sound.speaker import Speaker
from coach.sound.speech import Voice
from coach.units import clock

if TYPE_CHECKING:
    from coach.knowledge import Knowledge
    from coach.live import LiveRoast, Offer, Onlooker
    from coach.screens.desk import Desk
    from coach.screens.playback import Replayed

View = Literal["brief", "roast", "glance", "help"]


class RoastApp(App[None]):
    """One roast on the screen.

    ``live`` is the roast; without it ``desk`` opens one when the brief is left.  ``source`` (a rehearsal, a replay) is
    told each entry and gives entries and a line of its dials.  ``begin`` is called when the brief is left.
    """

    CSS = f"""
    Screen {{ background: {GROUND}; color: {TEXT}; scrollbar-size: 0 0; }}
    #top {{ height: 3; }}
    #clock, #temperature, #until {{ width: 1fr; color: {TEXT}; text-style: bold; }}
    #temperature.old {{ color: #9a9a9a; text-style: none; }}
    #next {{ height: 1; text-style: bold reverse; }}
    #figures {{ height: auto; max-height: 7; }}
    #cues {{ height: auto; max-height: 4; text-style: bold; }}
    #chart {{ height: 1fr; }}
    #dial {{ height: auto; max-height: 2; color: {SKY}; }}
    #entry {{ height: 1; }}
    #message {{ height: auto; min-height: 1; max-height: 2; color: {ORANGE}; }}
    #trouble {{ height: auto; max-height: 2; text-style: bold reverse; }}
    #brief, #help {{ height: 1fr; padding: 0 1; scrollbar-size: 0 0; }}
    #glance {{ height: 1fr; }}
    #brief-text, #help-text {{ height: auto; }}
    """
    ENABLE_COMMAND_PALETTE = False
    BINDINGS = [("ctrl+q", "quit", "leave")]  # noqa: RUF012

    def __init__(self, live: LiveRoast | Onlooker | Replayed | None = None, *, desk: Desk | None = None,
                 source: Source | None = None, sound: bool = False, resumed: bool = False, tick: float = 0.25,
                 begin: Callable[[], None] | None = None, settings: Settings | None = None) -> None:  # fmt: skip
        super().__init__()
        if os.environ.get("NO_COLOR"):  # present and not empty: no colour at all, not even greys
            self._filters = [f for f in self._filters if not isinstance(f, Monochrome)] + [NoColor()]
        elif self.no_color:
            self._filters = [f for f in self._filters if not isinstance(f, Monochrome)]
        self.settings = settings or Settings()
        self.keys = KeyMap(self.settings)
        self.ascii_only = plain(self.settings.signs, terminal_encoding(), os.environ)
        self._live = live
        self.desk = desk
        self.source = source
        self.line = EntryLine()
        self.message = "Going on with the roast where it stands." if resumed else ""
        self.view: View = "roast" if resumed else "brief"
        self._before_help: View = self.view
        self.monotonic: Callable[[], float] = time.monotonic
        self.offer: Offer | None = None
        self.knowledge: Knowledge | None = None
        self.check = Check()
        self._bounce = Bounce()
        self._erased = False
        self._saying: str | None = None
        self._desk_ready = desk is None
        self._learning = desk is not None
        self._waiting: Literal["", "open", "resume"] = ""
        self._speaker: Speaker | None = None
        self._voice: Voice | None = None
        self._use_device = sound and self.settings.sound
        self._period = tick
        self._begin = begin
        self._chart = Charted()
        self._timer: Timer | None = None

    @property
    def live(self) -> Any:
        """The roast that is open.  RuntimeError before one is."""
        if self._live is None:
            raise RuntimeError("no roast is open yet")
        return self._live

    @property
    def opened(self) -> LiveRoast | Onlooker | Replayed | None:
        """The roast that is open, None before one is."""
        return self._live

    @property
    def buffer(self) -> str:
        """What stands in the entry line."""
        return self.line.text

    @property
    def brief_open(self) -> bool:
        """Whether the page before the roast is shown."""
        return self.view == "brief"

    def compose(self) -> ComposeResult:
        plain_only = self.ascii_only
        yield Page("brief", ascii_only=plain_only)
        yield Page("help", ascii_only=plain_only)
        yield Pane("glance", ascii_only=plain_only)
        with Vertical(id="roast"):
            if plain_only:
                yield Pane("plain-top", grows=True, ascii_only=True)
            else:
                with Horizontal(id="top"):
                    yield Number("0:00", id="clock")
                    yield Number("–", id="temperature")
                    yield Number("", id="until")
            yield Pane("next", ascii_only=plain_only)
            yield Pane("figures", grows=True, ascii_only=plain_only)
            yield Pane("cues", grows=True, ascii_only=plain_only)
            yield Pane("chart", ascii_only=plain_only)
            yield Pane("dial", grows=True, ascii_only=plain_only)
        yield Pane("entry", ascii_only=plain_only)
        yield Pane("message", grows=True, ascii_only=plain_only)
        yield Pane("trouble", grows=True, ascii_only=plain_only)

    def on_mount(self) -> None:
        self.refresh_all()
        self.call_after_refresh(self._after_first_paint)

    def _after_first_paint(self) -> None:
        """What the first paint does not wait for: sound, the estimator, the logbook."""
        if self._use_device:
            self._speaker = Speaker(self.bell)
            self._voice = Voice(self._speaker.play, on=self.settings.speech)
        if self.desk is not None:
            self.run_worker(self._prepare, thread=True, name="desk", exit_on_error=True)
        self._timer = self.set_interval(self._period, self.pulse)
        self.refresh_entry()

    def _prepare(self) -> None:
        """In a thread: what was left unfinished, then what earlier roasts teach."""
        assert self.desk is not None
        self.call_from_thread(self._found, self.desk.look())
        self.call_from_thread(self._learnt, *self.desk.learn())

    def _found(self, offer: Offer | None) -> None:
        self.offer, self._desk_ready = offer, True
        if self._waiting == "open":
            self._leave_brief(resume=False)
        self.refresh_all()

    def _learnt(self, knowledge: Knowledge | None, trouble: str) -> None:
        self.knowledge, self._learning = knowledge, False
        self.message = trouble or self.message
        if self._waiting == "resume":
            self._leave_brief(resume=True)
        elif knowledge is not None and self._live is not None:
            if self.live.coach.roast.charge_at is None or not self.live.coach.roast.readings:
                self.live.coach.learn(knowledge)
            else:  # a forecast is not changed under the person's hands
                self.message = "Earlier roasts were read too late to be used in this one."
        self.refresh_all()

    def on_unmount(self) -> None:
        if self._voice is not None:
            self._voice.close()
        if self._speaker is not None:
            self._speaker.close()
        if self._live is not None:
            self._live.close()

    def on_resize(self, event: Resize) -> None:
        self.call_after_refresh(self.refresh_all)

    # -- time ---------------------------------------------------------------------------------------------------

    def pulse(self) -> None:
        """Time goes on."""
        if self._live is None or self.view == "brief":
            self._play_check()
            self.refresh_entry()
            return
        now, coach = self.live.now(), self.live.coach
        self._ring(self.live.poll())
        if self.source is not None:
            for entry in self.source.advance(now, coach):
                self._ring(coach.advance(entry.came))
                self._enter(entry, typed=False)
        coach.typing = bool(self.line.text)
        self._ring(coach.advance(now))
        if self._saying is not None and not self.live.pending:
            self.message, self._saying = self._saying, None
        self.refresh_all()

    def _ring(self, cues: Sequence[ActiveCue]) -> None:
        """Sound the first of these that is to be heard."""
        sounding = next((c for c in cues if c.sounds), None)
        if sounding is None or getattr(self.source, "silent", False):  # a drill without sound
            return
        if self._speaker is not None:
            self._speaker.play(sounding.name)
        else:
            self.bell()
        if self._voice is not None:
            self._voice.say(spoken(sounding), after=1.5)

    def _play_check(self) -> None:
        due = self.check.due(self.monotonic())
        if due is not None and self._speaker is not None:
            self._speaker.play(due)
        elif due is not None:
            self.bell()
        if self.check.state == "playing" or due is not None:
            self._show_brief()

    # -- keys ---------------------------------------------------------------------------------------------------

    def on_paste(self, event: Paste) -> None:
        event.stop()
        if self.view == "brief":
            return
        for done, line in enumerate(lines := self.line.paste(event.text)):
            if not self.submit(line):
                left = len(lines) - done - 1
                self.message += f"  (line {done + 1} of the paste; {left} more not taken)" if left else ""
                break
        self.refresh_entry()

    def on_key(self, event: Key) -> None:
        key, sign = event.key, event.character or ""
        taken = self._brief_key(key, sign) if self.view == "brief" else self._roast_key(key, sign)
        if taken:
            event.stop()
            self.refresh_entry()

    def _brief_key(self, key: str, sign: str) -> bool:
        if self.query_one("#brief", Page).turn(key):
            return True
        if self.check.state == "asking" and sign in ("y", "n"):
            self.check.answer(sign == "y")
        elif sign == "h":
            self.check.start(self.monotonic())
            self._play_check()
        elif sign == "u" and self.offer is not None:
            self._leave_brief(resume=True)
        elif key == "enter":
            self._leave_brief(resume=False)
        else:
            return False
        self.refresh_all()
        return True

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
            self.call_from_thread(self._not_resumed, printable(str(error)))
        else:
            self.call_from_thread(self._go, resume=True, live=live)

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

    def _roast_key(self, key: str, sign: str) -> bool:
        erased, self._erased = self._erased, key == "backspace"
        self.line.give_way(sign or key)
        action = self.keys.action(sign, self.live.coach.roast.phase) if not self.line.text and sign else None
        if self.view == "help":
            return self._help_key(key, action)
        if key == "enter":
            if self.line.text.strip():
                self.submit(self.line.take())
        elif key == "escape":
            self.line.clear()
            self.message = ""
        elif key == "backspace":
            if self.line.erase():
                pass
            elif erased:  # a held key must not eat the roast
                self.message = "⌫ withdraws one entry. Escape, then ⌫ withdraws one more."
            else:
                self._try(self._withdraw)
        elif action is not None:
            if not self._bounce.again(key, self.monotonic()):
                self.do(action)
        elif sign and sign.isprintable():
            self.line.type(sign)
        else:
            return False
        return True

    def _help_key(self, key: str, action: Action | None) -> bool:
        if self.query_one("#help", Page).turn(key):
            return True
        if key == "escape" or action == "help":
            self.view = self._before_help
            self.refresh_all()
            return True
        if action in MARKS or action == "pop":  # a mark is never lost to a page that happens to be open
            self.view = self._before_help
            self.do(action)  # type: ignore[arg-type]
        return True

    def do(self, action: Action) -> None:
        """One key's action."""
        now = self.live.now()
        if action in MARKS:
            event = MARKS[action]
            if not self._try(lambda: self._enter(Mark(at=now, event=event), event)):
                letter = self.settings.keys.sign(action)
                if letter.isalpha() and event not in self.live.coach.roast.marks and not self.live.read_only:
                    self.line.offer(event if letter != event[0] else letter)
                    self.message += f" Or give its time: {self.line.text}@4:10"
        elif action == "pop":
            self._try(lambda: self._enter(Pop(at=now), "pop"))
        elif action in ("seen", "mute"):
            self._answer("seen" if action == "seen" else "shelved")
        elif action == "not_yet":
            self._not_yet(now)
        elif action == "help":
            self._before_help, self.view = self.view, "help"
            self.refresh_all()
        elif action == "glance":
            self.view = "roast" if self.view == "glance" else "glance"
            self.refresh_all()
        else:
            self._with_source(action)

    def _with_source(self, action: Action) -> None:
        source, coach = self.source, self._live.coach if self._live is not None else None
        assert coach is not None
        if action == "look" and isinstance(source, Looks):
            seen = source.look(coach)
            self.message = printable(f"trier: {seen.words}; smells of {seen.smell}")
        elif action == "pause" and isinstance(source, Pauses):
            source.toggle_pause()
            self.message = "PAUSED" if source.paused else "going on"
        elif action == "jump" and isinstance(source, Jumps):
            self.message = printable(source.jump(coach))
            self.pulse()
        else:
            self.message = f"{action}: not in this roast."

    def _withdraw(self) -> None:
        correction = self.live.coach.withdraw_last(self.live.now())
        gone = next(n.entry for n in self.live.coach.entries if n.line == correction.of)
        what = getattr(gone, "event", None) or getattr(gone, "temperature", None) or getattr(gone, "control", "")
        self._enter(correction, f"withdrawn: {getattr(gone, 'kind', 'entry')} {what}".rstrip())

    def _answer(self, answer: Literal["seen", "shelved"]) -> None:
        held = ("unacknowledged",) if answer == "seen" else ("unacknowledged", "acknowledged")
        cues = [c for c in self.live.coach.cues if c.state in held and c.family != "diagnostic"]
        if not cues:
            self.message = "No cue stands."
            return
        word = "seen" if answer == "seen" else "mute for this roast"
        reply = Reply(at=self.live.now(), cue=cues[0].name, answer=answer)
        self._try(lambda: self._enter(reply, f"{word}: {cues[0].name}"))

    def _not_yet(self, now: float) -> None:
        from coach.taps import CUE

        if self.live.coach.situation.tapped_onset is None:
            self.message = "No crack was called from taps."
            return
        self._try(lambda: self._enter(Reply(at=now, cue=CUE, answer="not yet"), "not yet: that was no crack"))

    # -- the typed line -----------------------------------------------------------------------------------------

    def submit(self, line: str) -> bool:
        """Take a typed line; whether it was taken."""
        action = WORDS.get(" ".join(line.lower().split()))
        if action is not None and (action == "help" or not self.keys.single):
            self.do(action)
            return True
        return self._try(lambda: self._take(line), line)

    def _take(self, line: str) -> None:
        from coach.amend import retimed
        from coach.parse import parse

        coach, now = self.live.coach, self.live.now()
        entry: Any = result_of(line, now) if coach.roast.phase == "cooling" else None
        if entry is None:
            typed = parse(line)
            entry = retimed(coach, typed, now) if typed.only_time else coach.entry_from(typed, now)
        self._enter(entry, line)

    def _try(self, action: Callable[[], None], line: str = "") -> bool:
        try:
            action()
        except CoachError as error:
            self.message = printable(str(error))
            if line and not self.live.read_only:
                self.line.text = line[:200]
            return False
        return True

    def _enter(self, entry: Any, said: str = "", *, typed: bool = True) -> None:
        if typed and self.live.read_only:
            self.live.refuse()
        numbered = self.live.enter(entry)
        coach = self.live.coach
        if self.source is not None:
            self.source.hear(entry, coach)
        estimate = coach.situation.estimate
        doubt = estimate.doubtful.get(numbered.line) if estimate is not None else None
        self._saying = None
        if doubt is not None:
            self.message = f"{printable(said)}: {doubt}. Kept in the journal, not used. Type it again if it is wrong."
        elif said:
            logged = f"logged {clock(coach.roast.time(entry.at))}  {printable(said)}"
            waits = "in memory only: " if self.live.trouble else "saving "
            self.message = logged if not self.live.pending else waits + printable(said)
            self._saying = logged if self.live.pending else None
        self._ring(coach.cues)
        self.refresh_all()

    # -- showing ------------------------------------------------------------------------------------------------

    def _pane(self, ident: str) -> Pane:
        return self.query_one(f"#{ident}", Pane)

    def refresh_entry(self) -> None:
        """The line that is typed into, and the message beside it."""
        if self.view in ("brief", "help"):
            page = self.query_one(f"#{self.view}", Page)
            more = "  MORE BELOW: ↓ PgDn" if page.more else ""
            ends = "Enter begins the roast" if self.view == "brief" else "Esc returns"
            self._pane("entry").show(Text(f"› {ends}{more}", style="bold"))
        else:
            room = max(self.size.width - len(self.line.text) - 5, 10)
            hint = (
                ""
                if self.line.text
                else self.keys.short_help(room, self.live.coach.roast.phase, ascii_only=self.ascii_only)
            )
            self._pane("entry").show(Text(f"› {self.line.text[-(self.size.width - 4) :]}▏ {hint}", no_wrap=True))
        self._pane("message").show(Text(self._said() or " "))
        trouble = self._live.trouble if self._live is not None else ""
        self._pane("trouble").show(Text(f" {printable(trouble)}") if trouble else "")

    def _said(self) -> str:
        if self._live is not None and self.view != "brief":
            keys = self.keys
            call = tapped(self._live.coach.situation, keys.name("first_crack"), keys.name("not_yet"))
            if call:
                return f"{call}   {self.message}"
        return self.message or self._sound_word()

    def _sound_word(self) -> str:
        if self._speaker is None:
            return ""
        trouble = self._voice.trouble if self._voice is not None else ""
        return self._speaker.trouble or trouble or f"cues through: {self._speaker.output}"

    def _show_brief(self) -> None:
        if self._live is not None:
            document, unit = self._live.coach.profile.document, self._live.coach.header.unit
        else:
            assert self.desk is not None
            document, unit = self.desk.profile.document, self.desk.unit or self.desk.profile.unit
        way = self._speaker.output if self._speaker is not None else "terminal bell"
        head = [offer_line(self.offer)] if self.offer is not None else []
        lines = [*head, self.check.line(way), "", *brief(document, unit)]
        self.query_one("#brief", Page).body.show(Text("\n".join(map(printable, lines))))

    def refresh_all(self) -> None:
        """Everything that has changed."""
        for view in ("brief", "help", "glance", "roast"):
            self.query_one(f"#{view}").display = self.view == view
        if self.view == "brief":
            self._show_brief()
        elif self.view == "help":
            self.query_one("#help", Page).body.show(Text("\n".join(help_lines(self.keys))))
        elif self.view == "glance":
            coach, pane = self.live.coach, self._pane("glance")
            seen = glance(coach.situation, coach.cues)
            room = self.size.width, max(self.size.height - 3, 3)
            pane.show(glance_text(seen, *room, whole=self.ascii_only))
        else:
            self._show_roast()
        self.refresh_entry()

    def _show_roast(self) -> None:
        coach = self.live.coach
        s = coach.situation
        text, until = next_action(s, coach.cues)
        now = clock(s.t if s.t is not None else s.at)
        left = "" if until is None else f"-{clock(until)}" if until >= 0.5 else "0:00"
        if self.ascii_only:
            self._pane("plain-top").show(Text(f" {now}    {temperature(s)}    {left}", style="bold"))
        else:
            self.query_one("#clock", Number).show(now)
            probe = self.query_one("#temperature", Number)
            probe.show(temperature(s))
            probe.set_class(freshness(s) == "old", "old")
            self.query_one("#until", Number).show(left)
        due = "" if until is None else " NOW" if until < 0.5 else f" in {clock(until)}"
        self._pane("next").show(f" NEXT: {text}{due}")
        self._pane("figures").show("\n".join(status(s)))
        self._pane("cues").show("\n".join(cue_lines(coach.cues)[:4]))
        self._pane("dial").show("" if self.source is None else printable(self.source.line(coach)))
        pane = self._pane("chart")
        if pane.size.height > 3:
            pane.show(self._chart.at(s, pane.size.width, pane.size.height))
