"""Sounds and spoken words of cues: through the speaker, or else the terminal's bell; and their check."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final, Literal

from coach.app.screens.source import Source
from coach.app.screens.words import headline
from coach.cues.table import CUES, SOUNDS
from coach.session.folders import note_sounds_heard
from coach.session.settings import Settings

if TYPE_CHECKING:
    from coach.app.sound.speaker import Speaker
    from coach.app.sound.speech import Voice
    from coach.cues.situation import ActiveCue, Situation


AUDIBLE: Final = tuple(s for s in SOUNDS if s != "none")
"""The sounds that the sound check plays, one after the other."""
BETWEEN: Final = 3.0
"""Time from one sound of the check to the next, s."""


class Sounding:
    """Sounds cues, and checks before the roast that they are heard: each sound in turn, then the question.  Without
    ``settings`` the bell alone is used."""

    def __init__(self, bell: Callable[[], object], settings: Settings | None) -> None:
        self.bell = bell
        self.settings = settings
        self.speaker: Speaker | None = None
        self.voice: Voice | None = None
        self.check: Literal["off", "playing", "asking", "done"] = "off"
        self.heard: bool | None = None
        """The person's answer to the check."""
        self._next = 0.0
        self._count = 0

    def open(self) -> None:
        """Open the sound device."""
        if self.settings is not None:
            from coach.app.sound.speaker import Speaker
            from coach.app.sound.speech import Voice

            self.speaker = Speaker(self.bell)
            self.voice = Voice(self.speaker.play) if self.settings.speech else None

    @property
    def output(self) -> str:
        """The way out of the sounds, in words."""
        return "terminal bell" if self.speaker is None else self.speaker.output

    @property
    def words(self) -> str:
        """The trouble with it, or else the way out; '' where only the bell is used."""
        if self.speaker is None:
            return ""
        trouble = "" if self.voice is None else self.voice.trouble
        return self.speaker.trouble or trouble or f"cues through: {self.speaker.output}"

    def follow(self, source: Source) -> None:
        """Let a source that sounds all the time be heard."""
        if self.speaker is not None and source.sound is not None:
            self.speaker.set_background(source.sound)

    def _play(self, name: str) -> None:
        """Play the sound of a cue, or of the check."""
        if self.speaker is not None:
            self.speaker.play(name)
        else:
            self.bell()

    def start_check(self, now: float) -> None:
        """Begin the check (again) at ``now`` (s)."""
        self.check, self._count, self._next = "playing", 0, now
        self.play_check(now)

    def play_check(self, now: float) -> None:
        """Play the sound of the check that is due at ``now`` (s), if one is."""
        if self.check != "playing" or now < self._next:
            return
        if self._count == len(AUDIBLE):
            self.check = "asking"
            return
        self._play(AUDIBLE[self._count])
        self._count += 1
        self._next = now + BETWEEN

    def answer(self, heard: bool) -> None:
        """Take the person's answer."""
        self.check, self.heard = "done", heard
        if heard:
            note_sounds_heard()

    def check_line(self) -> str:
        """The line about the check on the page before the roast."""
        if self.check == "playing":
            name = AUDIBLE[self._count - 1]
            cues = ", ".join(n for n, cue in CUES.items() if cue.sound == name)
            return f"Sound {self._count} of {len(AUDIBLE)}: {name} ({cues})"
        if self.check == "asking":
            return "Were all of them heard?  y yes   n no   h once more"
        if self.check == "done":
            word = "heard" if self.heard else "NOT HEARD: keep the screen in view"
            return f"Sound check: {word} ({self.output}).  h once more"
        return f"h  plays every cue's sound ({self.output})"

    def ring(self, cues: Sequence[ActiveCue], s: Situation) -> None:
        """Sound the first of these cues that sounds, and speak it where that is wanted."""
        sounding = next((c for c in cues if c.sounds), None)
        if sounding is None:
            return
        self._play(sounding.name)
        if self.voice is not None:
            self.voice.say(spoken(sounding, s), after=1.5)

    def close(self) -> None:
        """Close the sound device."""
        for part in (self.voice, self.speaker):
            if part is not None:
                part.close()


def spoken(cue: ActiveCue, s: Situation) -> str:
    """A cue in a few words: 'gas to 0.8 by 6:20. crack early'."""
    return f"{headline(cue, s)}. {cue.name}"
