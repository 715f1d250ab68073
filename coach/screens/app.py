"""The screen of a roast: shows a situation, sends what is typed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from rich.text import Text
from textual.app import App, ComposeResult
from textual.containers import Horizontal, Vertical
from textual.events import Key, Paste
from textual.widgets import Digits, Static

from coach.entries import Mark, Pop, Reply, Result
from coach.errors import CoachError, EntryError
from coach.library import printable
from coach.live import LiveRoast
from coach.parse import parse
from coach.screens.chart import chart
from coach.screens.words import brief, cue_lines, next_action, status
from coach.situation import ActiveCue
from coach.sound.speaker import Speaker
from coach.units import clock, from_celsius

MARK_KEYS = {"c": "charge", "y": "yellow", "f": "first crack", "s": "second crack", "d": "drop"}
HELP = "digits+Enter reading · c y f s d marks · g a r moves · space pop · ⌫ withdraw · n seen · / note · ^q leave"


class RoastApp(App[None]):
    """One roast on the screen.  ``source`` (a rehearsal) is told each entry and gives a line of its dials."""

    CSS = """
    Screen { background: #121212; color: #e8e8e8; }
    #top { height: 3; }
    #clock, #temperature, #until { width: 1fr; color: #e8e8e8; }
    #next { height: 1; text-style: bold reverse; }
    #figures { height: auto; max-height: 7; }
    #cues { height: auto; max-height: 4; text-style: bold; }
    #chart { height: 1fr; }
    #dial { height: auto; color: #56b4e9; }
    #entry { height: 1; }
    #message { height: 1; color: #e69f00; }
    #trouble { height: 1; text-style: bold reverse; }
    #brief { height: 1fr; padding: 1 2; }
    """
    ENABLE_COMMAND_PALETTE = False
    BINDINGS = [("ctrl+q", "quit", "leave")]  # noqa: RUF012

    def __init__(self, live: LiveRoast, *, source: Any = None, sound: bool = False,
                 resumed: bool = False, tick: float = 0.25,
                 begin: Callable[[], None] | None = None) -> None:  # fmt: skip
        super().__init__()
        self.live = live
        self.source = source
        self.buffer = ""
        self._erased = False
        self.message = "Going on with the roast where it stands." if resumed else ""
        self.brief_open = not resumed
        self._speaker: Speaker | None = None
        self._use_device = sound
        self._period = tick
        self._begin = begin

    def compose(self) -> ComposeResult:
        yield Static("\n".join(brief(self.live.coach.profile)), id="brief", markup=False)
        with Vertical(id="roast"):
            with Horizontal(id="top"):
                yield Digits("0:00", id="clock")
                yield Digits("–", id="temperature")
                yield Digits("", id="until")
            yield Static("", id="next", markup=False)
            yield Static("", id="figures", markup=False)
            yield Static("", id="cues", markup=False)
            yield Static("", id="chart", markup=False)
            yield Static("", id="dial", markup=False)
        yield Static("", id="entry", markup=False)
        yield Static("", id="message", markup=False)
        yield Static("", id="trouble", markup=False)

    def on_mount(self) -> None:
        if self._use_device:
            self._speaker = Speaker(self.bell)
        self.refresh_all()
        self.set_interval(self._period, self.pulse)

    def on_unmount(self) -> None:
        self.live.close()

    def pulse(self) -> None:
        """Time goes on."""
        if self.brief_open:
            return
        now = self.live.now()
        if self.source is not None:
            for entry in self.source.advance(now, self.live.coach):
                self._enter(entry)
        self.live.coach.typing = bool(self.buffer)
        self._ring(self.live.coach.advance(now))
        self.refresh_all()

    def _ring(self, cues: Sequence[ActiveCue]) -> None:
        """Sound the first of these that is to be heard."""
        sounding = next((c.name for c in cues if c.sounds), None)
        if sounding is None:
            return
        if self._speaker is not None:
            self._speaker.play(sounding)
        else:
            self.bell()

    # -- typing -------------------------------------------------------------------------------------------------

    def on_paste(self, event: Paste) -> None:
        self.buffer = (self.buffer + printable(event.text))[:200]
        self.refresh_entry()

    def on_key(self, event: Key) -> None:
        key, sign = event.key, event.character or ""
        if self.brief_open:
            if key == "enter":
                self.brief_open = False
                if self._begin is not None:
                    self._begin()
                self.refresh_all()
            return
        erased, self._erased = self._erased, key == "backspace"
        if key == "enter":
            self.submit()
        elif key == "escape":
            self.buffer = self.message = ""
        elif key == "backspace":
            if self.buffer:
                self.buffer = self.buffer[:-1]
            elif erased:  # a held key must not eat the roast
                self.message = "⌫ withdraws one entry. Escape, then ⌫ withdraws one more."
            else:
                self._try(self._withdraw)
        elif not self.buffer and sign in MARK_KEYS and not self._result_words():
            event_name = MARK_KEYS[sign]
            now = self.live.now()
            self._try(lambda: self._enter(Mark(at=now, event=event_name), f"{event_name}"))  # type: ignore[arg-type]
        elif not self.buffer and sign == " ":
            self._try(lambda: self._enter(Pop(at=self.live.now()), "pop"))
        elif not self.buffer and sign == "n":
            self._seen()
        elif sign and sign.isprintable() and len(self.buffer) < 200:
            self.buffer += sign
        else:
            return
        event.stop()
        self.refresh_entry()

    def _result_words(self) -> bool:
        return self.live.coach.roast.phase == "cooling"

    def _withdraw(self) -> None:
        correction = self.live.coach.withdraw_last(self.live.now())
        gone = next(n.entry for n in self.live.coach.entries if n.line == correction.of)
        what = getattr(gone, "event", None) or getattr(gone, "temperature", None) or getattr(gone, "control", "")
        self._enter(correction, f"withdrawn: {getattr(gone, 'kind', 'entry')} {what}".rstrip())

    def _seen(self) -> None:
        cues = [c for c in self.live.coach.cues if c.state == "unacknowledged" and c.family != "diagnostic"]
        if cues:
            now = self.live.now()
            self._try(lambda: self._enter(Reply(at=now, cue=cues[0].name, answer="seen"), f"seen: {cues[0].name}"))
        else:
            self.message = "No cue stands."

    def submit(self) -> None:
        """Take the typed line."""
        line, now = self.buffer, self.live.now()
        self.buffer = ""

        def take() -> None:
            entry: Any = self._result(line, now) or self.live.coach.entry_from(parse(line), now)
            self._enter(entry, line)

        self._try(take, line)

    def _result(self, line: str, now: float) -> Result | None:
        word, _, rest = line.strip().partition(" ")
        if not self._result_words() or word not in ("in", "out", "colour", "cup", "score"):
            return None
        try:
            if word == "cup":
                return Result(at=now, cup_notes=rest)
            value = float(rest.replace(",", "."))
            name = {"in": "weight_in", "out": "weight_out", "colour": "colour", "score": "cup_score"}[word]
            return Result.model_validate({"at": now, name: value})
        except ValueError:
            raise EntryError(f"'{rest[:20]}' is no value for {word}.", f"For example: {word} 0.69") from None

    def _try(self, action: Callable[[], None], line: str = "") -> None:
        try:
            action()
        except CoachError as error:
            self.message = printable(str(error))
            self.buffer = line[:200]

    def _enter(self, entry: Any, said: str = "") -> None:
        numbered = self.live.enter(entry)
        if self.source is not None:
            self.source.hear(entry, self.live.coach)
        estimate = self.live.coach.situation.estimate
        doubt = estimate.doubtful.get(numbered.line) if estimate is not None else None
        if doubt is not None:
            self.message = f"{printable(said)}: {doubt}. Kept in the journal, not used. Type it again if it is wrong."
        elif said:
            self.message = f"logged {clock(self.live.coach.roast.time(entry.at))}  {printable(said)}"
        self._ring(self.live.coach.cues)
        self.refresh_all()

    # -- showing ------------------------------------------------------------------------------------------------

    def refresh_entry(self) -> None:
        """The line that is typed into, and the message beside it."""
        prompt = "Enter goes on" if self.brief_open else f"› {self.buffer}▏ {'' if self.buffer else HELP}"
        self.query_one("#entry", Static).update(Text(prompt, no_wrap=True))
        self.query_one("#message", Static).update(Text(self.message or self._sound_word(), no_wrap=True))
        self.query_one("#trouble", Static).update(Text(self.live.trouble, no_wrap=True))
        self.query_one("#trouble").display = bool(self.live.trouble)

    def _sound_word(self) -> str:
        if self._speaker is None:
            return ""
        return self._speaker.trouble or f"cues through: {self._speaker.output}"

    def refresh_all(self) -> None:
        """Everything."""
        self.query_one("#brief").display = self.brief_open
        self.query_one("#roast").display = not self.brief_open
        self.refresh_entry()
        if self.brief_open:
            return
        coach = self.live.coach
        s, unit = coach.situation, coach.header.unit
        self.query_one("#clock", Digits).update(clock(s.t if s.t is not None else s.at))
        value = s.estimate.temperature if s.estimate else s.preheat.temperature if s.preheat else None
        age = s.estimate.age if s.estimate else None
        modelled = s.estimate is not None and age is None  # no reading was used yet: nothing to show as measured
        old = value is None or modelled or (age is not None and age > 150)
        self.query_one("#temperature", Digits).update("–" if old else f"{from_celsius(value or 0.0, unit):.0f}°{unit}")
        text, until = next_action(s, coach.cues)
        self.query_one("#until", Digits).update("" if until is None else f"-{clock(until)}")
        self.query_one("#next", Static).update(f" NEXT: {text}" + ("" if until is None else f" in {clock(until)}"))
        self.query_one("#figures", Static).update("\n".join(status(s)))
        self.query_one("#cues", Static).update("\n".join(cue_lines(coach.cues)[:4]))
        pane = self.query_one("#chart", Static)
        if pane.size.height > 3:
            pane.update(chart(s, pane.size.width, pane.size.height))
        self.query_one("#dial", Static).update("" if self.source is None else self.source.line(coach))
