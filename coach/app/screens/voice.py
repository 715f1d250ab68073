"""Spoken words for a cue, where they are wanted: its action, then its finding."""

from __future__ import annotations

from coach.app.screens.words import headline
from coach.cues.situation import ActiveCue, Situation


def spoken(cue: ActiveCue, s: Situation) -> str:
    """A cue in a few words: 'gas to 0.8 by 6:20. crack early'."""
    return f"{headline(cue, s)}. {cue.name}"
