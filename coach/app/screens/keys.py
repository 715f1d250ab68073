"""Actions of keys, as the settings give them, their words where single keys are switched off, and the page of help."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final, get_args

from coach.app.screens.results_form import RESULTS
from coach.app.screens.words import SIGNS
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
TYPED: Final = (
    ("198 Enter", "a reading, also 198.5"),
    ("198@6:20", "a reading at roast time 6:20"),
    ("198 -10", "a reading ten seconds ago; g 1.3@2:00 in the same way"),
    ("y@4:10", "the mark happened at 4:10: its key marks it now, the time moves it there, also much later"),
    ("Tab", "as the dial turns over: a reading of the number offered, or of the one typed, at that very moment"),
    ("@6:20  @-10", "the entry made last happened at 6:20, or ten seconds ago"),
    ("g 1.3  a 3  r 48", "gas, air, drum speed set to a value"),
    (
        "w 1.3  w a 3",
        "what if: the forecast with that gas or air, and the way it would take (◆); = logs it, Enter does not",
    ),
    ("/text", "a note"),
    ("Backspace", "on an empty line: names the entry made last; a second one withdraws it"),
    ("redo", "brings the entry back that was withdrawn last"),
    ("Up", "brings a refused line back"),
    ("Esc", "clears the line and the message"),
    ("Ctrl+q", "leaves; a live roast without drop is offered again"),
)
"""Lines that are typed, and what they do."""
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

    def footer(self, phase: str) -> list[tuple[str, str, str]]:
        """Key, word and action ('' where it is typed) for the last row; the way to the full page among the first."""
        undo = ("⌫", "undo", "")
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


def help_lines(keys: KeyMap) -> list[str]:
    """The page, a line each."""
    out = ["KEYS" + ("" if keys.single else " (single keys are switched off: type the word, then Enter)")]
    actions: tuple[Action, ...] = get_args(Action)
    out += [f"  {keys.name(a):18} {TEXTS[a]}" for a in actions]
    out += ["", "TYPED, then Enter (digits need no mode: just begin)"]
    out += [f"  {what:18} {text}" for what, text in TYPED]
    out += ["", "AFTER DROP"] + [f"  {what:20} {text}" for what, text in RESULTS.values()]
    out += ["", "SIGNS"]
    out += [f"  {SIGNS['high']} high  {SIGNS['medium']} medium  {SIGNS['low']} low  {SIGNS['none']} note"]
    out += ["  ● reading  ? not used  ◆ now  ▾ planned move  ├─┿─┤ crack, drop: 8 of 10"]
    out += ["  dashes: plan, and middle of the forecast; dots: 8 of 10; shade: tolerance"]
    out += ["  in the glance view: ▲ above the band  ▼ below it  = inside"]
    return out


class Bounce:
    """Distinguishes a key that is held down, or bounces, from one that is pressed again."""

    def __init__(self) -> None:
        self._last: dict[str, float] = {}

    def since(self, key: str, now: float) -> float:
        """Time since the press of this key before the one at ``now`` (s); infinite at its first."""
        last = self._last.get(key, float("-inf"))
        self._last[key] = now
        return now - last
