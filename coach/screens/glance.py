"""The glance view: a sign, one number, one word and the next action, big enough to be read from three metres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.text import Text

from coach.screens.blocks import big, fitting, width
from coach.screens.words import next_action, proposal, upcoming, urgent
from coach.situation import ActiveCue, Situation
from coach.units import clock, from_celsius, number


@dataclass(frozen=True)
class Glance:
    """What the view shows: ``sign`` (▲ too hot or early, ▼ too cool or late, ! act now, ▸ a prompt, = as planned),
    ``number``, ``word`` and ``action``."""

    sign: str
    number: str
    word: str
    action: str


def glance(s: Situation, cues: Sequence[ActiveCue]) -> Glance:
    """The sign, number, word and action of a moment."""
    text, until = next_action(s, cues)
    unit = s.roast.header.unit
    if s.t is None:
        ready = s.preheat
        shown = "-" if ready is None else number(from_celsius(ready.temperature, unit), 0) + "°"
        return Glance("=", shown, "WAIT" if until is None or until > 10 else "CHARGE", text)
    if s.roast.phase == "cooling":
        return Glance("✓", clock(s.roast.marks["drop"]), "DROPPED", text)
    standing = [c for c in cues if c.state not in ("acknowledged", "shelved") and c.family != "diagnostic"]
    now = urgent(cues)
    planned = upcoming(s)
    shown = clock(planned[0] if planned is not None else s.t)
    if now is not None and now.priority == "high":
        e = s.estimate
        shown = shown if e is None else number(from_celsius(e.temperature, unit), 0) + "°"
        return Glance("!", shown, _word(now.name), now.action)
    if now is not None:
        return Glance(_direction(now.name, s), shown, _word(now.name), proposal(s) or now.action)
    if until is not None and until <= 0 and standing:
        return Glance("▸", clock(s.t), "NOW", text)
    return Glance("▸" if standing else _direction("", s), shown, _word(s.roast.phase), text)


def _word(name: str) -> str:
    return {"over safety limit": "HEAT OFF", "drop now": "DROP", "drop near": "DROP NEAR", "crack early": "EARLY",
            "crack late": "LATE"}.get(name, name.upper())  # fmt: skip


def _direction(name: str, s: Situation) -> str:
    if name.endswith(("early", "over")):
        return "▲"
    if name.endswith(("late", "under")):
        return "▼"
    off = s.forecast.deviation
    band = s.profile.band(s.t or 0.0, s.roast.phase)
    if off is None or abs(off) <= band:
        return "=" if not name else "▸"
    return "▲" if off > 0 else "▼"


def glance_text(g: Glance, columns: int, lines: int, *, whole: bool = False) -> Text:
    """The view in ``columns`` x ``lines`` cells: sign and number as big as fit, word and action below them.

    ``whole``: for a terminal without half blocks, where word and action are plain text if there is not much room.
    """
    top = f"{g.sign} {g.number}"
    small = (2, 0) if whole else (2, 1, 0)
    for below in small:
        words = [
            x for text in (g.word, g.action) for x in ["", *_big_or_plain(text, columns, below, 2 if whole else 1)]
        ]
        left = max(lines - len(words), 1)
        scales = [(text, fitting(text, columns, left, whole=whole)) for text in (top, g.number)]
        text, scale = scales[0] if scales[0][1] else scales[1]
        if scale >= 2 or below == small[-1]:
            break
    out = big(text, scale) if scale else [top]
    return Text("\n".join(line[:columns] for line in [*out, *words][:lines]), style="bold", no_wrap=True)


def _big_or_plain(text: str, columns: int, scale: int, smallest: int) -> list[str]:
    """A text in the largest letters up to ``scale`` that fit one line, else in two lines of small ones, else plain."""
    for size in range(scale, smallest - 1, -1) if scale else ():
        if width(text, size) <= columns:
            return big(text, size)
    words = text.split()
    for i in range(len(words) - 1, 0, -1) if scale and smallest == 1 else ():
        first, second = " ".join(words[:i]), " ".join(words[i:])
        if width(first) <= columns and width(second) <= columns:
            return [*big(first), *big(second)]
    return [text.upper()]
