"""Actions of keys, as the settings give them, and their words where single keys are switched off."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final, get_args

from coach.session.settings import Action, Settings

if TYPE_CHECKING:
    from coach.roast.entries import Event

MARKS: Final[Mapping[Action, Event]] = {
    "charge": "charge",
    "yellow": "yellow",
    "first_crack": "first crack",
    "second_crack": "second crack",
    "drop": "drop",
}
TEXTS: Final[Mapping[Action, str]] = {
    "charge": "charge, now",
    "yellow": "yellow",
    "first_crack": "first crack (also confirms a crack called from taps)",
    "second_crack": "second crack",
    "drop": "drop",
    "made": "the move that the band shows was made; where it shows none, the one that was missed",
    "leave_out": "the planned move that was missed, or is due, is left out today",
    "redo": "brings the entry back that was withdrawn last",
    "pop": "one pop heard: tap each, and the crack is called from the taps",
    "seen": "seen: the most urgent cue keeps quiet until it is clearly worse",
    "mute": "mute: the most urgent cue keeps quiet for this roast",
    "not_yet": "not yet: the crack called from taps was none",
    "review": "after drop: review the roast against its plan",
    "glance": "the glance view, to be read from three metres; the same key returns",
    "picture": "off plan, temperature, or lists of alerts and entries, where there is room for one of them",
    "help": "the page of keys; the same key, or Esc, returns",
    "look": "a look at the trier (rehearsal)",
    "pause": "pause and go on (rehearsal and replay)",
    "jump": "jump to a minute before the crack (rehearsal)",
    "take_over": "take over from the simulated person (rehearsal)",
}
WORDS: Final[Mapping[str, Action]] = {
    **{a.replace("_", " "): a for a in get_args(Action) if a not in MARKS},
    "?": "help",
}
"""Typed words that do the same as a key; the marks are words of the entry line anyhow."""
BEFORE_DROP: Final = frozenset({*MARKS, "made", "leave_out", "pop", "mute", "look", "jump", "take_over", "not_yet"})
"""Actions whose keys are letters of a typed result once the roast has been dropped."""
ENTER: Final = ("enter", "ctrl+j")
BOUNCE: Final = 0.15
"""Time within which the same key again is a held or a bouncing one, s."""


class KeyMap:
    """Actions by typed characters."""

    def __init__(self, settings: Settings) -> None:
        self.single = settings.single_keys
        self._keys = settings.keys
        self._by_sign: dict[str, Action] = {
            sign: a for a in get_args(Action) if (sign := settings.keys.sign(a)) and self.single
        }

    def action(self, sign: str, phase: str) -> Action | None:
        """The action of a character on an empty line in this phase; None when it is the beginning of a typed line.
        A capital does what its small letter does, for Caps Lock may be on."""
        action = self._by_sign.get(sign) or self._by_sign.get(sign.lower())
        if phase == "cooling" and action in BEFORE_DROP:
            return None
        return action

    def sign(self, action: Action) -> str:
        """The character that does an action, '' for none."""
        return self._keys.sign(action)

    def name(self, action: Action) -> str:
        """Name of an action on screen: its key, or the word to type."""
        key: str = getattr(self._keys, action)
        return key if key and self.single else f"{action.replace('_', ' ')} Enter"

    def footer(self, phase: str, *, ascii_only: bool = False) -> list[tuple[str, str, str]]:
        """Key, word and action ('' where it is typed) for the last row; the way to the full page among the first."""
        undo = ("Bksp" if ascii_only else "⌫", "undo", "")
        helps = (self.name("help"), "keys", "help")
        if phase == "cooling":
            typed = [(x, "", "") for x in ("out 690g", "colour 58", "score 85", "cup TEXT")]
            return [(self.name("review"), "review", "review"), helps, *typed, ("^q", "leave", "")]
        if not self.single:
            return [
                ("198", "Enter", ""),
                ("c y f s d", "Enter", ""),
                ("g a r", "VALUE", ""),
                helps,
                undo,
                ("/", "note", ""),
            ]
        by_phase: Mapping[str, tuple[Action, ...]] = {
            "drying": ("yellow", "first_crack", "drop"),
            "browning": ("first_crack", "drop"),
            "development": ("drop", "second_crack"),
        }
        short = {"first_crack": "crack", "second_crack": "2nd crack", "made": "done"}

        def part(action: Action) -> tuple[str, str, str]:
            return self.name(action), short.get(action, action), action

        parts = [*map(part, by_phase.get(phase, ("charge",))), ("g", "gas", ""), ("a", "air", "")]
        parts += [part("made"), part("pop"), helps, undo, ("w", "what if", "")]
        return [p for p in [*parts, part("seen"), part("glance"), part("picture"), ("/", "note", "")] if p[0]]


class Bounce:
    """Distinguishes a key that is held down, or bounces, from one that is pressed again."""

    def __init__(self) -> None:
        self._last: dict[str, float] = {}

    def since(self, key: str, now: float) -> float:
        """Time since the press of this key before the one at ``now`` (s); infinite at its first."""
        last = self._last.get(key, float("-inf"))
        self._last[key] = now
        return now - last
