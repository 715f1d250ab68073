"""The full page of help: every key and every kind of typed line, as the settings have them."""

from __future__ import annotations

from typing import get_args

from coach.app.screens.keys import TEXTS, KeyMap
from coach.app.screens.results_form import RESULTS
from coach.app.screens.words import SIGNS
from coach.session.settings import Action

TYPED = (
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
