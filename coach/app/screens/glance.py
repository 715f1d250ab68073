"""The glance view, to be read from three metres: the thing to do, countdown, temperature and first crack.  Pure.

It fills the height, and the whole of it takes the look of its urgency.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from rich.cells import cell_len
from rich.text import Text

from coach.app.screens.act import Act, Urgency
from coach.app.screens.blocks import BIG
from coach.app.screens.palette import Sketch
from coach.app.screens.roast_panes import WORDS, fitted, inside
from coach.app.screens.words import temperature
from coach.cues.situation import Situation
from coach.roast.units import clock, from_celsius


@dataclass(frozen=True)
class Glance:
    """Content of the view: ``what`` to do, the time ``left`` ('' without one), ``facts`` (temperature; first crack,
    development or drop), a ``sign`` (▲ above the band, ▼ below it, = inside) and the key."""

    urgency: Urgency
    what: str
    left: str
    facts: tuple[str, ...]
    sign: str
    key: str = ""


def glance(s: Situation, a: Act) -> Glance:
    """The view of a moment."""
    probe = temperature(s)
    hot = "–" if probe is None else f"{from_celsius(probe, s.roast.header.unit):.0f}°"
    marks, f = s.roast.marks, s.forecast
    if "drop" in marks:
        facts: tuple[str, ...] = (f"DROP {clock(marks['drop'])}",)
    elif "first crack" in marks:
        facts = (hot, f"DEV {clock((s.t or 0.0) - marks['first crack'])}")
    elif f.first_crack is not None:
        facts = (hot, f"CRACK {clock(f.first_crack.time.median)}")
    else:
        facts = (hot, clock(s.t if s.t is not None else s.at))
    ok = inside(s)
    sign = "" if ok is None or s.roast.phase == "cooling" else "=" if ok else "▲" if (f.deviation or 0.0) > 0 else "▼"
    left = "" if a.until is None else clock(max(a.until, 0.0))
    what = re.sub(r"\S+ → ", "", a.what)  # the targets of moves alone, for reading from far away
    return Glance(a.urgency, what, left, facts, sign, f"{a.key}  {a.does}" if a.key else "")


def glance_text(g: Glance, columns: int, lines: int, how: Sketch) -> Text:
    """The view in ``columns`` x ``lines`` cells."""
    style = f"bold {how.look.text}" if g.urgency == "later" else "bold reverse" if how.plain else how.urgent(g.urgency)
    head = f" {WORDS[g.urgency]}   {g.key}"
    frame = ["═" * columns] if g.urgency == "danger" else []
    room = lines - 1 - 2 * len(frame)
    facts = " ".join(g.facts)
    choices = (f"{g.sign} {facts}".strip(), facts, facts.replace("°", ""))
    least = 2 if how.plain else 1
    below = next((x for x in choices if BIG.width(x, least) <= columns - 2), choices[0])
    body = _body(g, below, columns - 2, room, whole=how.plain)
    rows = [*(fitted(f" {x}", columns) for x in body), *[" " * columns] * room][:room]
    out = [fitted(head, columns), *frame, *rows, *frame]
    return Text("\n".join(out), style, no_wrap=True)


def _body(g: Glance, below: str, columns: int, lines: int, *, whole: bool) -> list[str]:
    """The thing to do, countdown and facts, as large as fits: first the smaller facts give way, then the countdown."""
    least = 2 if whole else 1
    for facts_scale in (3, 2, 1, 0):
        if facts_scale and (facts_scale < least or BIG.width(below, facts_scale) > columns):
            continue
        small = BIG.draw(below, facts_scale) if facts_scale else [below]
        count = BIG.fitting(g.left, columns, lines, whole=whole) if g.left else 0
        for count_scale in range(count, -1, -1):
            if count_scale and count_scale < least:
                continue
            time = BIG.draw(g.left, count_scale) if g.left and count_scale else [g.left] if g.left else []
            room = lines - len(small) - len(time) - (2 if time else 1)
            words = _words(g.what, columns, room, whole=whole)
            if words and (count_scale <= 2 or len(words) >= BIG.rows(2)):
                blank = [""] if lines > len(small) + len(time) + len(words) + 2 else []
                return [*words, "", *time, *([""] if time else []), *blank, *small]
    return [g.what.upper(), g.left, below]


def _words(text: str, columns: int, lines: int, *, whole: bool) -> list[str]:
    """A text in the largest letters that fit into one line or two; none where none do."""
    parts = text.split()
    splits = [[text], *([" ".join(parts[:i]), " ".join(parts[i:])] for i in range(1, len(parts)))]
    best: tuple[int, list[str]] = (0, [])
    for split in splits:
        room = (lines - (len(split) - 1)) // len(split)
        scale = min(BIG.fitting(x, columns, room, whole=whole) for x in split)
        if scale > best[0]:
            best = scale, split
    if not best[0]:
        return [text.upper()] if lines >= 1 and cell_len(text) <= columns and lines < BIG.rows(1) else []
    out: list[str] = []
    for i, x in enumerate(best[1]):
        out += ([""] if i else []) + BIG.draw(x, best[0])
    return out
