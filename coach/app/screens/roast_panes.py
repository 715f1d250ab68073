"""The panes of the roast screen beside its pictures: state, figures, action band, alerts, ranges, entries.  Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import zip_longest
from textwrap import wrap
from typing import Final, NamedTuple

from rich.cells import cell_len, set_cell_size
from rich.text import Text

from coach.app.screens.act import Act, Urgency
from coach.app.screens.blocks import SMALL
from coach.app.screens.entryline import short_name
from coach.app.screens.palette import Sketch
from coach.app.screens.roast_pictures import range_bar
from coach.app.screens.words import SIGNS, freshness, temperature
from coach.cues.evidence import crack_of, drop_due, provisional
from coach.cues.situation import ActiveCue, Situation
from coach.roast.entries import Entry, Mark, Move, Note, Pop, Reading, Result
from coach.roast.roast import Numbered, Roast
from coach.roast.units import TemperatureUnit, clock, from_celsius, from_kelvins, number

WORDS: Final[dict[Urgency, str]] = {"later": "· NEXT", "soon": "▸ SOON", "now": "▶ NOW", "danger": "‼ DANGER"}
DRIFT: Final = 60.0
"""Time ahead at which drift is judged, s."""
HOLDS: Final = 0.5
"""Change of the distance from plan below which it holds, K."""


def fitted(text: str, width: int) -> str:
    """A text in exactly ``width`` cells; a longer one ends in an ellipsis."""
    return text + " " * (width - cell_len(text)) if cell_len(text) <= width else set_cell_size(text, width - 1) + "…"


def row(left: Text, right: Text, width: int) -> Text:
    """Two texts at both ends of ``width`` cells; the left one gives way."""
    room = max(width - right.cell_len - 1, 0)
    left = left.copy()
    left.truncate(room, overflow="ellipsis", pad=True)
    return Text.assemble(left, " ", right, no_wrap=True)


def drift(s: Situation) -> str:
    """Drift away from the plan or back to it, by the forecast a minute ahead, in a word; '' where unknown."""
    f, path = s.forecast, s.forecast.path
    if f.deviation is None or path is None or s.t is None:
        return ""
    i = int(abs(path.t - (s.t + DRIFT)).argmin())
    change = abs(float(path.mean[i]) - s.profile.curve.value(float(path.t[i]))) - abs(f.deviation)
    return "holding" if abs(change) < HOLDS else "drifting off" if change > 0 else "coming back"


def inside(s: Situation) -> bool | None:
    """True if the roast is inside its tolerance band now; None where unknown."""
    f = s.forecast
    if f.deviation is None or s.t is None:
        return None
    return abs(f.deviation) <= s.profile.band(s.t, s.roast.phase)


def signed(value: float) -> str:
    """A number with one decimal and its sign; zero has none."""
    text = f"{abs(value):.1f}"
    return text if text == "0.0" else ("+" if value > 0 else "−") + text


def per_minute(rate: float, unit: TemperatureUnit) -> str:
    """A rate of rise (K/s) as degrees a minute."""
    return f"{from_kelvins(rate * 60, unit):.1f}/min".replace("-0.0", "0.0").replace("-", "−")


def phase_words(s: Situation) -> str:
    """The phase and its length until now."""
    if s.t is None:
        return "BEFORE CHARGE"
    starts = ("charge", "yellow", "first crack", "drop")
    began = max([t for e, t in s.roast.marks.items() if e in starts], default=0.0)
    return f"{s.roast.phase.upper()} {clock(max(s.t - began, 0.0))}"


def state_row(s: Situation, name: str, right: str, width: int, how: Sketch) -> Text:
    """The first row: phase, profile, and health."""
    k = how.look
    left = Text.assemble((f" {phase_words(s)}   ", f"bold {k.text}"), (name, k.soft))
    return row(left, Text(f"{right} ", k.good), width)


class Figure(NamedTuple):
    """A figure: its label, its number, up to three notes beside it, and its tone ('old', 'off' plan, or '')."""

    label: str
    value: str
    notes: Sequence[str] = ()
    tone: str = ""


def figure_values(s: Situation, next_in: float | None) -> list[Figure]:
    """The four figures."""
    unit, e, f, marks = s.roast.header.unit, s.estimate, s.forecast, s.roast.marks

    def shown(celsius: float | None) -> str:
        return "–" if celsius is None else f"{from_celsius(celsius, unit):.0f}"

    last = s.roast.readings[-1].celsius if s.roast.readings else None
    if s.roast.phase == "cooling":
        drop, crack = marks.get("drop", 0.0), marks.get("first crack")
        figures = [Figure("DROPPED AT", clock(drop)), Figure(f"LAST READ °{unit}", shown(last))]
        if crack is None:
            return [*figures, Figure("FIRST CRACK", "–"), Figure("DEVELOPED", "–")]
        share = f" {(drop - crack) / drop:.0%}" if drop else ""
        off = Figure("FIRST CRACK", clock(crack), [_crack_words(s)[1]])
        return [*figures, off, Figure(f"DEVELOPED{share}", clock(drop - crack))]
    if s.t is None:
        rise = [] if s.preheat is None else [per_minute(s.preheat.rate, unit)]
        return [
            Figure("WAITING", clock(s.at)), Figure(f"DRUM °{unit}", shown(temperature(s)), rise),
            Figure(f"CHARGE AT °{unit}", shown(s.profile.charge_temperature)),
            Figure("READY IN", "" if next_in is None else clock(next_in)),
        ]  # fmt: skip
    fresh = freshness(s)
    notes = [] if last is None else [f"read {shown(last)}"]
    if e is not None and e.age is not None:
        notes.append(f"{e.age:.0f} s ago" if e.age < 100 else f"{clock(e.age)} ago")
    else:
        notes.append("no reading")
    if e is not None and fresh == "fresh":
        notes.append(per_minute(e.rate, unit))
    elif fresh == "old":
        notes.append("old")
    if f.deviation is None or fresh == "none":
        ended = ["plan ended", f"at {clock(s.profile.curve.end)}"] if s.beyond_reference else []
        off = Figure(f"OFF PLAN °{unit}", "–", ended)
    else:
        out_of = not inside(s)
        where = ["outside band" if out_of else "inside band", drift(s)]
        if f.lag is not None and abs(f.lag) >= 1:
            where.append(f"{abs(f.lag):.0f} s {'late' if f.lag > 0 else 'early'}")
        value = signed(from_kelvins(f.deviation, unit))
        off = Figure(f"OFF PLAN °{unit}", value, where, "off" if out_of else "")
    about = Figure(f"BEANS °{unit} about", shown(temperature(s)), notes, "" if fresh == "fresh" else "old")
    to_next = Figure("TO NEXT", "" if next_in is None else clock(max(next_in, 0.0)))
    return [Figure("TIME", clock(s.t)), about, off, to_next]


def in_short(s: Situation, next_in: float | None, width: int, how: Sketch) -> Text:
    """The figures in one row, as many as fit."""
    out = Text(no_wrap=True)
    for label, value, _, tone in figure_values(s, next_in):
        name = label.split(" °")[0].lower()
        if out.cell_len + len(value) + len(name) + 3 > width:
            break
        style = how.look.off if tone == "off" else how.look.text
        out.append(f" {name} ", how.look.soft).append(f"{value} ", f"bold {style}")
    return out


SHORTER: Final = {"outside band": "outside", "inside band": "inside", "drifting off": "off more", "coming back": "back"}
"""Notes where a figure leaves little room beside it; of others the last word stays."""
SHARES: Final = (17 / 80, 21 / 80, 27 / 80, 15 / 80)
"""Share of the width for each figure."""


def figures(s: Situation, next_in: float | None, width: int, how: Sketch, *, scale: int = 1) -> Text:
    """The four figures with label and age: one row of labels over three of block digits (five at scale 2)."""
    k = how.look
    parts = figure_values(s, next_in)
    tones = {"": f"bold {k.text}", "old": k.soft, "off": f"bold {k.off}"}
    ends = [round(sum(SHARES[: i + 1]) * width) for i in range(4)]
    wide = [b - a for a, b in zip([0, *ends], ends, strict=False)]
    rows = [Text(no_wrap=True) for _ in range(1 + (2 if how.plain else 5 if scale == 2 else 3))]
    for (label, value, notes, tone), w in zip(parts, wide, strict=True):
        use = scale if SMALL.width(value, scale) + 13 <= w or not notes else 1
        block = [value] if how.plain else SMALL.draw(value, use)
        taken = cell_len(block[0])
        rows[0].append(fitted(f" {label.split(' °')[0] if how.plain else label}", w), k.soft)
        top = (len(rows) - 1 - len(block)) // 2
        for i in range(len(rows) - 1):
            line = block[i - top] if 0 <= i - top < len(block) else ""
            n = i - (1 if len(rows) > 5 else 0)
            note = notes[n] if 0 <= n < len(notes) else ""
            rows[i + 1].append(f" {line:<{taken}}", tones[tone])
            rest = w - 1 - taken
            note = note if cell_len(note) < rest or not note else SHORTER.get(note, note.split()[-1])
            rows[i + 1].append(fitted(f" {note}", rest) if rest > 0 else "", tones["off"] if tone == "off" else k.soft)
    return Text("\n", no_wrap=True).join(rows)


def band(a: Act, width: int, height: int, how: Sketch) -> Text:
    """The action band in ``height`` rows (3 or more): outline, filled, larger and filled, double frame and filled."""
    style = how.urgent(a.urgency)
    frame = {"later": "╭─╮│╰╯", "danger": "╔═╗║╚╝"}.get(a.urgency)
    if big := None if how.plain else large(a, width, height):
        side = "║║" if a.urgency == "danger" else "  "
        return Text("\n".join(f"{side} {line} {side}" for line in big), style, no_wrap=True)
    word, key = WORDS[a.urgency], _key(a)

    def first(text: str, cells: int) -> str:
        return fitted(text, cells - cell_len(key) - 1) + " " + key if key else fitted(text, cells)

    if height < 3:
        return Text(first(f" {word}  {a.what.upper()} {a.left}", width - 1) + " ", style)
    inner, room = width - 4, height - (2 if frame else 0)
    head = f"{word:<9}{a.what.upper()}{'   ' + a.left if a.left else ''}"
    if a.more and room < 2:
        body = [first(f"{head}   {a.more}", inner)]
    else:
        body = [first(head, inner), *([fitted(" " * 9 + a.more, inner)] if a.more else [])]
    blank = [" " * inner]
    above = 0 if frame else max((room - len(body)) // 2, 0)
    edge = frame[3] if frame else " "
    lines = [f"{edge} {x} {edge}" for x in (blank * above + body + blank * room)[:room]]
    if frame:
        lines = [frame[0] + frame[1] * (width - 2) + frame[2], *lines, frame[4] + frame[1] * (width - 2) + frame[5]]
    strong = 1 if a.urgency == "later" else -1
    styled = [Text(x, f"{style} bold" if i == strong else style) for i, x in enumerate(lines)]
    return Text("\n", no_wrap=True).join(styled)


def _key(a: Act) -> str:
    """The key of an act, with its word; '' for none."""
    wide = a.urgency == "now" and " yes" in a.key
    return f"{a.key}{'   ' if wide else '  '}{a.does}" if a.key else ""


def large(a: Act, width: int, height: int) -> list[str] | None:
    """The band with its verb in block letters: where it is urgent, or soon and there are five rows, and they fit."""
    if a.urgency == "later" or (a.urgency == "soon" and height < 5):
        return None
    text, word, key, inner = a.what.upper(), WORDS[a.urgency], _key(a), width - 6
    side = max(cell_len(word) + 2, 7)
    right = max(cell_len(key), cell_len(a.left)) + 2
    for scale in (2, 1) if height >= 6 and a.urgency != "soon" else (1,):
        if SMALL.width(text, scale) + side + right <= inner:
            block = SMALL.draw(text, scale)
            break
    else:
        return None
    out = [
        f"{left:<{side}}{fitted(line, inner - side - cell_len(right))}{right}"
        for line, left, right in zip_longest(block, [word], [key, a.left], fillvalue="")
    ]
    if height > len(block):
        out.append(fitted(" " * side + a.more, inner))
    blank = [" " * inner]
    return (blank * max((height - len(out) + 1) // 2, 0) + out + blank * height)[:height]


def alert_words(c: ActiveCue, how: Sketch) -> tuple[str, str]:
    """A cue in words, the finding, then the action; and its style."""
    k, seen = how.look, {"acknowledged": "  (seen)", "shelved": "  (muted)"}.get(c.state, "")
    style = k.soft if seen else f"bold {k.off}" if c.family == "alarm" else k.text
    return f"{SIGNS[c.priority]} {c.text}: {c.action}{seen}", style


def alert(cues: Sequence[ActiveCue], s: Situation, width: int, how: Sketch, more: str = "", missed: str = "") -> Text:
    """The first alert in words, and the number of others; before them ``more``, the text that the band has no room for,
    and the moves that were missed."""
    k = how.look
    if more or missed:
        others = len(cues) + (1 if more and missed else 0)
        count = f"+{others} more " if others else ""
        return row(Text(f" {more or missed}", f"bold {k.text if more else k.off}"), Text(count, k.soft), width)
    if not cues:
        return Text(" ", no_wrap=True)
    words, style = alert_words(cues[0], how)
    count = f"+{len(cues) - 1} more " if len(cues) > 1 else ""
    return row(Text(f" {words}", style), Text(count, k.soft), width)


def wrapped(lines: Iterable[tuple[str, str]], width: int, height: int, indent: str = "") -> Text:
    """Lines with their styles, wrapped, the rest of each after an ``indent``, as far as ``height`` rows reach."""
    rows = [(row, style) for text, style in lines for row in wrap(text, max(width, 10), subsequent_indent=indent)]
    return Text.assemble(*((f"{row}\n", style) for row, style in rows[:height]), no_wrap=True)


def alerts(cues: Sequence[ActiveCue], s: Situation, width: int, height: int, how: Sketch, missed: str = "") -> Text:
    """All alerts as a list, wrapped; moves that were missed first; an empty text where there are none."""
    lines = [(missed, f"bold {how.look.off}")] if missed else []
    return wrapped([*lines, *(alert_words(c, how) for c in cues)], width, height, "  ")


def _crack_words(s: Situation) -> tuple[str, str, bool]:
    """First crack: its time, its distance from the plan, and True if that is outside the tolerance."""
    mark, found, goal = crack_of(s), s.forecast.first_crack, s.profile.goals.get("first crack")
    middle = mark if mark is not None else found.time.median if found is not None else None
    if middle is None:
        return "–", "", False
    if goal is None:
        return clock(middle), "", False
    off = middle - goal.time
    word = "on plan" if abs(off) < 3 else f"{abs(off):.0f} s {'late' if off > 0 else 'early'}"
    return clock(middle), word, abs(off) > (goal.time_tolerance or 20.0)


def ranges(s: Situation, width: int, how: Sketch) -> Text:
    """One row: first crack and drop, each with its range bar."""
    k, unit = how.look, s.roast.header.unit
    half = width // 2
    out = Text(no_wrap=True)
    time, word, off = _crack_words(s)
    out.append(" crack ", k.soft).append(time, f"bold {k.text}")
    found, goal = s.forecast.first_crack, s.profile.goals.get("first crack")
    cracked = crack_of(s)
    marked = cracked is not None
    told = "tapped" if provisional(s) else f"heard {word}" if marked else word
    out.append(f" {told} ", f"bold {k.off}" if off else k.soft)
    room = half - out.cell_len - 1
    if found is not None and goal is not None and room >= 9 and not marked:
        out.append(range_bar(found.time, goal.time, 40.0, room, how))
    elif cracked is not None and s.t is not None and provisional(s):
        out.append(f" development {clock(s.t - cracked)}", k.text)
    d, due = s.forecast.drop, drop_due(s)
    if d is not None and due is not None:
        out.append(" " * max(half - out.cell_len, 0))
        hot = number(from_celsius(due.temperature, unit), 0)
        out.append(" drop ", k.soft).append(clock(due.time), f"bold {k.text}").append(f" {hot} °{unit} ", k.text)
        room = width - out.cell_len - 1
        if room >= 9:
            out.append(range_bar(d.temperature, s.profile.drop_temperature, 5.0, room, how))
    elif s.forecast.reasons and s.roast.phase != "cooling":
        out.append(f" no forecast: {'; '.join(s.forecast.reasons)}", k.soft)
    return out


def forecast_panel(s: Situation, width: int, how: Sketch) -> Text:
    """First crack and drop with their bars, some rows; empty where nothing is to come."""
    k, unit = how.look, s.roast.header.unit
    out = Text(no_wrap=True)
    if s.t is None or s.roast.phase == "cooling":
        return out
    time, word, off = _crack_words(s)
    goal, found = s.profile.goals.get("first crack"), s.forecast.first_crack
    cracked = crack_of(s)
    marked = cracked is not None
    name = "as tapped" if provisional(s) else "crack heard" if marked else "first crack"
    out.append(f"{name:<12}", k.soft).append(f"{time}  ", f"bold {k.text}")
    out.append(f"{word}\n", f"bold {k.off}" if off else k.soft)
    if found is not None and goal is not None and not marked:
        out.append(range_bar(found.time, goal.time, 40.0, width, how)).append("\n")
        out.append(f"{clock(found.time.q10)} to {clock(found.time.q90)}, plan {clock(goal.time)}\n", k.soft)
    elif cracked is not None:
        out.append(f"development {clock(s.t - cracked)}\n", k.text)
    d, due = s.forecast.drop, drop_due(s)
    if d is not None and due is not None:
        plan = s.profile.drop_temperature
        degrees = (number(from_celsius(x, unit), 0) for x in (due.temperature, due.lowest, due.highest))
        hot, low, high = degrees
        out.append(f"{'drop':<12}", k.soft).append(f"{clock(due.time)}  ", f"bold {k.text}")
        out.append(f"{hot} °{unit}\n", f"bold {k.text}")
        out.append(range_bar(d.temperature, plan, 5.0, width, how)).append("\n")
        out.append(f"{low} to {high}, plan {number(from_celsius(plan, unit), 0)} °{unit}\n", k.soft)
    elif s.forecast.reasons:
        return out.append_text(wrapped([("no forecast: " + "; ".join(s.forecast.reasons), k.soft)], width, 4))
    return out.append("━ 8 of 10   ", k.fan).append("┃ plan", k.text)


def advice_panel(s: Situation, width: int, height: int, how: Sketch) -> Text:
    """The advised move: amount, deadline, the time from which it takes effect, first crack with it; or the reason why
    there is none; empty where nothing is to be said."""
    k, a = how.look, s.advice
    if a is None:
        return Text()
    lines: list[tuple[str, str]] = []
    if a.kind == "move" and a.control is not None and a.shown is not None:
        what, *then = a.text.split("; ")
        lines.append((what, f"bold {k.text}"))
        lines += [(x, k.text) for x in then]
    else:
        lines.append((a.text, k.text))
    if s.sensitivity:
        lines.append((s.sensitivity, k.soft))
    return wrapped(lines, width, height)


def results_panel(roast: Roast, width: int, how: Sketch) -> Text:
    """Results after the drop: each as it is known, or the text to type for it; the weight loss follows from two."""
    k, r, batch = how.look, roast.result or Result(at=0.0), roast.header.batch_kg
    out = Text(no_wrap=True)

    def put(name: str, value: str, example: str = "") -> None:
        if value:
            out.append(f"{name:<9}", k.soft).append(f"{value}\n", f"bold {k.text}")
        elif example:
            out.append(f"type  {example}\n", k.faint)

    green, scale = r.weight_in or batch, f" ({r.colour_scale})" if r.colour_scale else ""
    put("in", f"{number(r.weight_in, 3)} kg" if r.weight_in else "", f"in {number(batch, 3) if batch else '0.8'}")
    put("out", f"{number(r.weight_out, 3)} kg" if r.weight_out else "", "out 690g")
    if green and r.weight_out:
        put("loss", f"{1 - r.weight_out / green:.1%}")
    put("moisture", "" if r.moisture is None else f"{number(r.moisture, 1)} %", "moisture 11.2")
    put("colour", "" if r.colour is None else f"{number(r.colour, 1)}{scale}", "colour 58 our meter")
    put("score", "" if r.cup_score is None else number(r.cup_score, 2), "score 85")
    put("cup", fitted(r.cup_notes, width - 10).rstrip() if r.cup_notes else "", "cup sweet, nutty")
    return out


def advice_line(s: Situation, width: int, how: Sketch) -> Text:
    """The advice in one row that is never wrapped."""
    k, a = how.look, s.advice
    if a is None or s.roast.phase == "cooling" or not a.text:
        return Text(f" {s.sensitivity}" if s.sensitivity and s.roast.phase != "cooling" else "", k.soft, no_wrap=True)
    out = Text(f" advice: {a.text}", k.text, no_wrap=True)
    out.truncate(width, overflow="ellipsis")
    return out


def entry_words(entry: Entry) -> str:
    """An entry in a word or two; '' for one that is not listed."""
    if isinstance(entry, Note):
        return f"“{entry.text}”"
    return short_name(entry) if isinstance(entry, Reading | Move | Mark | Pop) else ""


def entries_list(entries: Sequence[Numbered], roast: Roast, width: int, height: int, how: Sketch) -> Text:
    """The last entries, newest first, each with its time; rejected and late ones are marked."""
    k = how.look
    out = Text(no_wrap=True)
    left = height
    for n in reversed(entries):
        words = entry_words(n.entry)
        if not words or left <= 0:
            continue
        late = n.entry.came - n.entry.at
        note = f"  typed {late:.0f} s later" if late >= 3 else ""
        t = roast.time(n.entry.at) if roast.charge_at is not None else n.entry.at
        out.append(f"{clock(t):>6}  ", k.soft)
        out.append(fitted(words + note, max(width - 8, 6)).rstrip() + "\n", k.text if left == height else k.soft)
        left -= 1
    return out
