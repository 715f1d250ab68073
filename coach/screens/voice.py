"""What is said aloud for a cue, where spoken words are wanted: the action, then what it is about."""

from __future__ import annotations

from coach.situation import ActiveCue


def spoken(cue: ActiveCue) -> str:
    """A few words: 'less heat now. crack early'."""
    return f"{cue.action}. {cue.name}"
