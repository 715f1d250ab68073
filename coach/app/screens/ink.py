"""The colours of a page's text, on a screen and printed on a terminal."""

from __future__ import annotations

from typing import Final

from rich.text import Text

from coach.app.screens.palette import Sketch

INKED: Final = (
    (r"(?m)(?:^|(?<=   ))[A-Z](?:[A-Z0-9.,()°/:-]| (?! {3})){3,}(?=$|[^a-z\n]).*?(?= {4}|$)", "heading"),
    (r"(?m)(?:^|(?<=   ))[a-z]+(?: [a-z]+)?(?:  +[a-z]+(?: [a-z]+)*){2,}$", "label"),
    (r"[⠁-⣿]+", "plan"),
    (r"(?:(?<=  )|(?<=[│|⠁-⣿.:])|(?<=[│o⠁-⣿] ))(?<!\n  )o+(?=[ \n⠁-⣿.:]|$)|(?<=\n)o(?= readings)", "today"),
    (r"·", "edge"),
    (r"(?<=[·.\[|])X|X(?=[·.\]|])|[<>](?=[·.]{2})|(?<=[·.]{2})[<>]", "now"),
    (r"\b(?:OUTSIDE|FALSE|LATE)\b|\S+ !(?!\S)", "doubt"),
)
"""Patterns of what a page draws, heads or marks, each with its ink: headings (in capitals), heads of columns, lines of
dots, readings, scales with their marks, and what was outside or wrong."""


def inked(text: str, how: Sketch) -> Text:
    """A page in the colours of the screen: what is drawn, headed or marked differs from the words."""
    inks = how.inks()
    page = Text(text)
    for pattern, ink in INKED:
        page.highlight_regex(pattern, inks[ink])
    return page
