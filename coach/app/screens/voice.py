"""What is said aloud for a cue, where spoken words are wanted: what it asks for, then what it is about."""

from __future__ import annotations

from coach.app.screens.words import headline
from coach.cues.situation import ActiveCue, Situation


def spoken(cue: ActiveCue, s: Situation) -> str:
    """A few words: 'gas to 0.8 by 6:20. crack early'."""
    return f"{headline(cue, s)}. {cue.name}"
