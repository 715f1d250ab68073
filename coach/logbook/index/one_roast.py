"""One roast in words, and its readings as a picture in characters.  Pure."""

from __future__ import annotations

from coach.logbook.index.summary import Summary, summarise
from coach.logbook.text.picture import Picture, framed, spread
from coach.logbook.text.text_table import cut, noted, number_text, time_text
from coach.roast.entries import Result
from coach.roast.errors import printable
from coach.roast.roast import Roast
from coach.roast.units import clock, from_celsius, number
from coach.session.journal import Journal


def roast_text(journal: Journal) -> list[str]:
    """One roast, short: header, marks, results, notes."""
    roast, h = journal.roast, journal.header
    s = summarise(roast, journal.path.name)
    lines = [f"{printable(s.name)}: {printable(h.profile) or 'no profile'}"]
    lines.append("  " + ", ".join(about(s)))
    for event, (t, celsius) in s.events.items():
        t = None if roast.charge_at is None else t
        hot = None if celsius is None else from_celsius(celsius, h.unit)
        lines.append(f"  {event:<14} {time_text(t):>6}  {number_text(hot, 0, '°' + h.unit):>7}")
    share = "" if s.ratio is None else f" ({100 * s.ratio:.0f} % of the roast)"
    lines.append(f"  {'development':<14} {time_text(s.development):>6}{share}")
    if roast.result is not None:
        lines.append(f"  {facts(s, roast.result)}")
        lines += [f"  cup: {printable(roast.result.cup_notes)}"] if roast.result.cup_notes else []
    lines += [f"  note {noted(t, s.drop_time)}  {printable(text)}" for t, text in roast.notes]
    if not roast.teaches:
        lines.append("  left out of what the coach learns (coach result ROAST learn yes takes it back in)")
    lines.append(f"  {s.readings} readings, {len(roast.moves)} moves, {len(roast.pops)} pops; {s.ended}")
    if journal.torn:
        lines.append("  a torn last line was left out")
    return lines


def about(s: Summary) -> list[str]:
    """Moment, person, machine, coffee and batch; and what was unusual in the roast as a whole."""
    ended = {"unfinished": "NOT DROPPED", "no drop": "NO DROP", "abandoned": "ABANDONED"}.get(s.ended, "")
    batch = number_text(s.batch_kg, 3, "kg") if s.batch_kg else ""
    said = [s.moment[:16].replace("T", " "), s.person, s.machine, s.coffee, batch]
    return [cut(x, 40) for x in (*said, "REHEARSAL" if s.run == "rehearsal" else "", ended) if x]


def facts(s: Summary, result: Result | None) -> str:
    """Weights, measurements and judgements, in one sentence."""
    weighed = "" if result is not None and result.weight_in is not None else " (as planned)"
    known = (
        ("weight in", s.weight_in, 3, f"kg{weighed}"), ("weight out", s.weight_out, 3, "kg"),
        ("weight loss", s.loss, 1, "%"), ("moisture of the green", result.moisture if result else None, 1, "%"),
        ("colour", s.colour, 1, f"({cut(s.colour_scale, 20) or 'no scale named'})"), ("cup score", s.cup_score, 2, ""),
    )  # fmt: skip
    said = [f"{name} {number_text(value, digits, unit)}" for name, value, digits, unit in known if value is not None]
    said += [] if s.accepted is None else ["accepted" if s.accepted else "refused"]
    return "; ".join(said)[:1].upper() + "; ".join(said)[1:] + "." if said else "Nothing was weighed or judged."


def readings_picture(roast: Roast, width: int, height: int, plain: bool) -> list[str]:
    """A roast's readings against its roast time, in dots; nothing where there are too few."""
    unit, end = roast.header.unit, roast.marks.get("drop", float("inf"))
    points = [(r.t, from_celsius(r.celsius, unit)) for r in roast.readings if 0 <= r.t <= end]
    if len(points) < 3 or width < 30:
        return []
    last, (t, values) = points[-1][0], zip(*points, strict=True)
    p = Picture(width - 12, height, (0.0, last), spread(values, 0.0))
    p.line(p.along(t, values))
    for event, sign in (("yellow", "y"), ("first crack", "f"), ("drop", "d")):
        t = roast.marks.get(event)  # type: ignore[call-overload]
        if t is not None:
            p.sign(t, min(points, key=lambda p: abs(p[0] - t))[1], sign)
    return framed(p, lambda v: f"{number(v, 0)} °{unit}", "0:00", clock(last), plain)
