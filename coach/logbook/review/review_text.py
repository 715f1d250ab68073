"""A review in plain lines for a terminal, with its curve drawn.  Pure."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from itertools import zip_longest

from rich.cells import cell_len

from coach.logbook.index.one_roast import about, facts
from coach.logbook.review.review import Review, ReviewMilestone, degrees
from coach.logbook.review.review_plots import SIGNS, bar, plots
from coach.logbook.text.html import Table
from coach.logbook.text.text_table import cut, noted, signed, signed_clock, table, time_text
from coach.roast.units import TemperatureUnit, clock, from_kelvins
from coach.verification.advice_outcomes import line as advised

BESIDE = 140
"""Width from which on the pictures are beside the words, cells."""
PROPOSED = "Only a proposal: nothing changes by itself. The maker's manual and local rules go first."


def page(r: Review, width: int, plain: bool = False) -> list[str]:
    """The whole review as a page of at most ``width`` cells."""
    name = r.summary.name or r.roast.header.id
    out = textwrap.wrap(outcome(r), width)
    out += textwrap.wrap(", ".join([cut(r.profile.name, 60), *about(r.summary), cut(name, 40)]), width)
    if r.profile.document.invented:
        out.append("Invented demonstration data.")
    if width >= BESIDE:
        left = width * 11 // 20
        drawn = [*plots(r, left, plain), *textwrap.wrap(_key(r), left)]
        out += ["", *beside(drawn, left, _body(r, width - left - 3, plain, drawn=False))]
    else:
        out += ["", *_body(r, width, plain)]
    if r.roast.notes:
        out += ["", "NOTES"]
        said = [f"{noted(t, r.summary.drop_time)}  {' '.join(note.split())}" for t, note in r.roast.notes]
        out += [w for line in said for w in textwrap.wrap(line, width, subsequent_indent="      ")]
    return out


def outcome(r: Review) -> str:
    """First crack and drop, with their differences from the plan: 'First crack 8:12 (+0:05), drop 9:35 (on plan) at
    210 °C (+1.5)'."""
    said = []
    for m in (m for m in r.milestones if m.event in ("first crack", "drop")):
        text = f"no {m.event}" if m.actual is None else f"{m.event} {clock(m.actual)}"
        text += "" if m.late is None else f" ({signed_clock(m.late)})".replace("(0:00)", "(on plan)")
        if m.event == "drop" and m.celsius is not None:
            text += f" at {degrees(m.celsius, r.roast.header.unit)} ({_hotter(m, r.roast.header.unit)})"
        said.append(text)
    joined = ", ".join(said)
    return joined[:1].upper() + joined[1:]


def beside(left: list[str], cells: int, right: list[str]) -> list[str]:
    """Two columns of lines, the left one ``cells`` wide."""
    pairs = zip_longest(left, right, fillvalue="")
    return [f"{a}{' ' * max(cells - cell_len(a), 0)}   {b}".rstrip() for a, b in pairs]


def _key(r: Review) -> str:
    key = "o readings, the line in the lower picture: the plan; Y F D events today, y f d as planned"
    return key + ("; numbers: cues, as listed." if r.cues else ".")


def _body(r: Review, width: int, plain: bool, *, drawn: bool = True) -> list[str]:
    """The review without its head; with plots unless they are ``drawn`` elsewhere (False)."""
    out = plots(r, width, plain) if drawn else []
    if out:
        out += [*textwrap.wrap(_key(r), width), ""]

    def listed(head: str, lines: Sequence[str], indent: int) -> None:
        if lines:
            out.extend(["", *textwrap.wrap(head, width)])
            for line in lines:
                out.extend(textwrap.wrap(line, width, subsequent_indent=" " * indent))

    for t, more in ((milestone_table(r), _bars(r, width, "." if plain else "·")), (phase_table(r), [])):
        out += [*table(t.head, t.rows, t.numbers), *more, ""]
    out += textwrap.wrap(facts(r.summary, r.roast.result), width)
    if r.roast.result is not None and r.roast.result.cup_notes:
        out += textwrap.wrap(f"Cup: {' '.join(r.roast.result.cup_notes.split())}", width)
    listed("LARGEST DIFFERENCES", [f"{i}. {d}" for i, d in enumerate(r.differences, 1)], 3)
    listed(f"FORECASTS AS SHOWN ({r.basis})", forecast_lines(r), 2)
    listed(cues_head(r).upper(), cue_lines(r), 10)
    listed("ADVISED MOVES, RECOMPUTED FROM THE JOURNAL", [f"  {line}" for line in advised_lines(r)], 7)
    if r.proposal:
        listed(f"Next time: {r.proposal}", [PROPOSED], 0)
    if r.taught:
        out += ["", *textwrap.wrap(r.taught, width)]
    return out


def milestone_table(r: Review) -> Table:
    """The milestones, a row each: time, then temperature, as planned, today, and the difference."""
    unit = r.roast.header.unit

    def warm(celsius: float | None) -> str:
        return "–" if celsius is None else degrees(celsius, unit)

    def far(off: float | None, tolerance: float | None) -> str:
        return " !" if off is not None and tolerance is not None and abs(off) > tolerance else ""

    rows = [
        (
            m.event, time_text(m.planned), time_text(m.actual),
            ("–" if m.late is None else signed_clock(m.late)) + far(m.late, m.time_tolerance),
            warm(m.planned_celsius), warm(m.celsius), _hotter(m, unit) + far(m.hotter, m.temperature_tolerance),
        )
        for m in r.milestones
    ]  # fmt: skip
    head = ("event", "plan", "today", "off", "plan", "today", "off")
    return Table("Milestones (! outside tolerance)", head, rows, frozenset(range(1, 7)))


def _hotter(m: ReviewMilestone, unit: TemperatureUnit) -> str:
    """Difference of a milestone's temperature from the plan."""
    return "–" if m.hotter is None else signed(from_kelvins(m.hotter, unit), 1)


def _bars(r: Review, width: int, dot: str) -> list[str]:
    """Each milestone's difference on its scale of tolerance, where there is a ``width`` for it."""
    if width < 60:
        return []
    cells = min((width - 32) // 2, 25)
    cells -= 1 - cells % 2
    out = ["", f"{'[ ] tolerance':<15}{'early | late':^{cells}}{'':9}{'cooler | hotter':^{cells}}".rstrip()]
    for m in r.milestones:
        late, hot = bar(m.late, m.time_tolerance, cells, dot), bar(m.hotter, m.temperature_tolerance, cells, dot)
        if late.strip() or hot.strip():
            said = signed_clock(m.late) if late.strip() and m.late is not None else ""
            warmer = _hotter(m, r.roast.header.unit) if hot.strip() else ""
            out.append(f"{m.event:<14} {late} {said:>6}  {hot} {warmer:>5}".rstrip())
    return out


def phase_table(r: Review) -> Table:
    """The phases, a row each: length as planned and today, the difference, and their shares of the roast."""
    drop, planned_drop = r.summary.drop_time, r.profile.drop_time
    rows = [
        (
            p.name, time_text(p.planned), time_text(p.actual),
            "–" if p.planned is None or p.actual is None else signed_clock(p.actual - p.planned),
            "–" if p.planned is None else f"{100 * p.planned / planned_drop:.0f} %",
            "–" if p.actual is None or not drop else f"{100 * p.actual / drop:.1f} %",
        )
        for p in r.phases
    ]  # fmt: skip
    return Table("Phases", ("phase", "plan", "today", "off", "plan share", "today"), rows, frozenset(range(1, 6)))


def cues_head(r: Review) -> str:
    """Heading of the cues: those that sounded, or those that a replay gives."""
    return "Cues heard" if r.heard else "Cues, recomputed from the journal"


def cue_lines(r: Review) -> list[str]:
    """Each cue that asked for attention, with its outcome and the reason for it; then their number by outcome."""
    heard = [c for c in r.cues if c.counts]
    if not heard:
        return ["None."] if r.cues else []
    after, out = iter(SIGNS), []
    for c in heard:
        sign = next(after, "+") if c.when >= 0 else " "
        when = clock(c.when) if c.when >= 0 else "before"
        out.append(f"{sign} {when:>6}  {c.cue}: {c.verdict}")
    counts = [(o, sum(1 for c in heard if c.outcome == o)) for o in dict.fromkeys(c.outcome for c in heard)]
    return [*out, f"{len(heard)} in all: " + ", ".join(f"{n} {o}" for o, n in counts)]


def forecast_lines(r: Review) -> list[str]:
    """Each forecast of a time against what happened, in words."""
    out = []
    for f in r.forecasts:
        said, head = f.said, f"{clock(f.lead)} before {f.event}: "
        if said is None or f.error is None:
            out.append(head + f"no forecast ({f.why or 'none was issued'})")
            continue
        out.append(
            f"{head}{clock(said.median)} ({clock(said.q10)} to {clock(said.q90)}), came {clock(f.happened)}: "
            f"{signed_clock(f.error)}, {'inside' if f.inside else 'OUTSIDE'}"
        )
    return out


def advised_lines(r: Review) -> list[str]:
    """Each advised move with its adherence and its outcome."""
    return [advised(told, r.roast.header.unit) for told in r.advised]
