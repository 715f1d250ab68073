"""The full page of help: every key and everything that can be typed, as the settings have it."""

from __future__ import annotations

from typing import get_args

from coach.screens.keys import TEXTS, KeyMap
from coach.screens.words import SIGNS
from coach.settings import Action

TYPED = (
    ("198 Enter", "a reading, also 198.5"),
    ("198@5:45", "a reading at roast time 5:45"),
    ("198 -10", "a reading ten seconds ago; y@4:10 and g 0.9@2:00 in the same way"),
    ("@5:45  @-10", "the entry made last happened at 5:45, or ten seconds ago"),
    ("g 0.9  a 3  r 55", "gas, air, drum speed set to a value"),
    ("w 0.9  w a 3", "what if: the forecast with that gas or air, and the way it would take (◆); Enter logs it"),
    ("/text", "a note"),
    ("Backspace", "on an empty line: withdraws the entry made last"),
    ("Esc", "clears the line and the message"),
    ("Ctrl+q", "leaves; a live roast without drop is offered again"),
)
RESULTS = (("in 0.8", "weight in, kg"), ("out 0.69", "weight out, kg"), ("colour 58", "colour as measured"),
           ("score 85", "cup score"), ("cup TEXT", "tasting words"))  # fmt: skip


def help_lines(keys: KeyMap) -> list[str]:
    """The page, a line each."""
    out = ["KEYS" + ("" if keys.single else " (single keys are switched off: type the word, then Enter)")]
    actions: tuple[Action, ...] = get_args(Action)
    out += [f"  {keys.name(a):18} {TEXTS[a]}" for a in actions]
    out += ["", "TYPED, then Enter (digits need no mode: just begin)"]
    out += [f"  {what:18} {text}" for what, text in TYPED]
    out += ["", "AFTER DROP"] + [f"  {what:18} {text}" for what, text in RESULTS]
    out += ["", "SIGNS"]
    out += [f"  {SIGNS['high']} high  {SIGNS['medium']} medium  {SIGNS['low']} low  {SIGNS['none']} note"]
    out += ["  ● reading  ? one kept out  ○ line  ─ plan  · tolerance band"]
    out += ["  ░ what is likely to come  [ × ] crack window: 10 %, median, 90 %"]
    out += ["  in the glance view: ▲ hot or early  ▼ cool or late  ! act now  ▸ a prompt  = as planned  ✓ dropped"]
    return out
