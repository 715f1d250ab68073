"""A review in plain lines for a terminal, with its curve drawn.  Pure."""

from __future__ import annotations

import numpy as np

from coach.logbook.dots import Canvas, framed, spread
from coach.logbook.foretold import Foretold
from coach.logbook.review import Review, degrees
from coach.logbook.table import number_text, signed, signed_clock, table, time_text
from coach.units import clock, from_celsius, from_kelvins, number


def plots(r: Review, width: int, plain: bool = False) -> list[str]:
    """Today's readings (o) on the reference (dots), and below how far off the reference they were."""
    unit = r.roast.header.unit
    if len(r.t) < 2:
        return []
    end = max(r.profile.curve.end, float(r.t[-1]))
    grid = np.arange(0.0, r.profile.curve.end, 4.0)
    line = r.profile.curve.at(grid)
    canvas = Canvas(max(width - 10, 20), 12, (0.0, end), spread([*line, *r.celsius], 0.03))
    canvas.line([(float(t), float(v)) for t, v in zip(grid, line, strict=True)])
    for t, v in zip(r.t, r.celsius, strict=True):
        canvas.sign(float(t), float(v), "o")
    for event, t in r.roast.marks.items():
        if event in ("yellow", "first crack", "drop"):
            canvas.sign(t, canvas.y0 + 0.02 * (canvas.y1 - canvas.y0), event[0].upper())
    top, bottom = (f"{number(from_celsius(y, unit), 0)} °{unit}" for y in (canvas.y1, canvas.y0))
    out = framed(canvas, top, bottom, "0:00", clock(end), plain)
    past = r.t > r.profile.curve.turning_point[0] + 10
    off = [(float(t), from_kelvins(float(v), unit)) for t, v in zip(r.t[past], r.off_by_clock[past], strict=True)]
    if len(off) > 1:
        most = max(abs(v) for _, v in off) * 1.1 or 1.0
        low = Canvas(max(width - 10, 20), 5, (0.0, end), (-most, most))
        low.dashed(0.0)
        low.line(off)
        out += [
            "",
            f"off the reference (°{unit}):",
            *framed(low, signed(most), signed(-most), "0:00", clock(end), plain),
        ]
    return out


def text(r: Review, width: int = 0, plain: bool = False) -> list[str]:
    """The review in plain lines; with plots where a ``width`` (cells) is given."""

    unit = r.roast.header.unit

    def warm(celsius: float | None) -> str:
        return "–" if celsius is None else degrees(celsius, unit)

    rows = [
        (
            m.event, time_text(m.planned), time_text(m.actual), "–" if m.late is None else signed_clock(m.late),
            warm(m.planned_celsius), warm(m.celsius),
            "–" if m.hotter is None else signed(from_kelvins(m.hotter, unit), 1),
        )
        for m in r.milestones
    ]  # fmt: skip
    head = ("", "plan", "today", "off", "plan", "today", "off")
    out = [*plots(r, width, plain), ""] if width else []
    out += table(head, rows, frozenset(range(1, 7)))
    out.append("")
    for p in r.phases:
        out.append(f"{p.name:<12} {time_text(p.actual):>6}  (plan {time_text(p.planned)})")
    s = r.summary
    share = None if s.ratio is None else 100 * s.ratio
    out.append(f"development {number_text(share, 1, '%')} of the roast; weight loss {number_text(s.loss, 1, '%')}")
    out += ["", *(f"{i}. {d}" for i, d in enumerate(r.differences, 1))]
    for f in r.foretold:
        out.append(foretold_text(f))
    if r.proposal.text:
        out += ["", f"Next time: {r.proposal.text}"]
    return out


def foretold_text(f: Foretold) -> str:
    """One forecast against what happened, in words."""
    head = f"{clock(f.lead)} before {f.event}: "
    if f.median is None or f.low is None or f.high is None or f.error is None:
        return head + f"no forecast ({f.why})"
    where = "inside" if f.inside else "OUTSIDE"
    return head + (
        f"foretold {clock(f.median)} ({clock(f.low)} to {clock(f.high)}), came {clock(f.actual)}: "
        f"{signed_clock(f.error)}, {where}"
    )
