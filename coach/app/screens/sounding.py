"""Sounds and spoken words of cues: through the speaker, or else the terminal's bell."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from coach.app.screens.before_roast import HearingCheck
from coach.app.screens.source import Source
from coach.session.settings import Settings

if TYPE_CHECKING:
    from coach.app.sound.speaker import Speaker
    from coach.app.sound.speech import Voice
    from coach.cues.situation import ActiveCue, Situation


class Sounding:
    """Sounds cues, and the sound check before the roast.  Without ``settings`` the bell alone is used."""

    def __init__(self, bell: Callable[[], object], settings: Settings | None) -> None:
        self.bell = bell
        self.settings = settings
        self.check = HearingCheck()
        self.speaker: Speaker | None = None
        self.voice: Voice | None = None

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

    def play_check(self, now: float) -> None:
        """Play the sound of the check that is due at ``now`` (s), if one is."""
        due = self.check.due(now)
        if due is not None and self.speaker is not None:
            self.speaker.play(due)
        elif due is not None:
            self.bell()

    def ring(self, cues: Sequence[ActiveCue], s: Situation) -> None:
        """Sound the first of these cues that sounds, and speak it where that is wanted."""
        sounding = next((c for c in cues if c.sounds), None)
        if sounding is None:
            return
        if self.speaker is not None:
            self.speaker.play(sounding.name)
        else:
            self.bell()
        if self.voice is not None:
            self.voice.say(spoken(sounding, s), after=1.5)

    def close(self) -> None:
        """Close the sound device."""
        for part in (self.voice, self.speaker):
            if part is not None:
                part.close()


def spoken(cue: ActiveCue, s: Situation) -> str:
    """A cue in a few words: 'gas to 0.8 by 6:20. crack early'."""
    from coach.app.screens.words import headline

    return f"{headline(cue, s)}. {cue.name}"
