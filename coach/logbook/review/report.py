"""The review of a roast as one page that prints on one sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from coach.logbook.review.review import Review
from coach.logbook.review.review_text import MILESTONES, milestone_rows
from coach.logbook.review.roast_drawing import roast_svg
from coach.logbook.text.html import Table, render
from coach.logbook.text.text_table import cut, noted, number_text, signed_clock, time_text
from coach.roast.units import TemperatureUnit, clock, number
from coach.verification.advice_outcomes import AdviceOutcome
from coach.verification.advice_outcomes_text import answer, value
from coach.verification.aggregate import ScoredForecast

MOST_CUES: Final = 10
MOST_NOTES: Final = 3
MOST_ADVISED: Final = 3
NOTE_CELLS: Final = 100
TAUGHT_CELLS: Final = 160
"""Limits of texts on the one sheet; the journal has all of them, and the page counts those left out."""


def report(r: Review) -> str:
    """The page."""
    h = r.roast.header
    unit, result, called = h.unit, r.roast.result, r.summary.name or h.id
    about = [
        r.summary.moment[:16].replace("T", " "), h.person, h.machine, h.coffee,
        number_text(h.batch_kg, 3, "kg") if h.batch_kg else "", "rehearsal" if h.run == "rehearsal" else "",
    ]  # fmt: skip
    notes = r.roast.notes
    told = _told(r)
    return render(
        "review/page.html", title=f"Roast {called}: {r.profile.name}", name=cut(r.profile.name, 60),
        about=" · ".join(cut(x, 40) for x in [called, *about] if x), invented=r.profile.document.invented,
        drawing=roast_svg(r, MOST_CUES), milestones=_milestones(r), phases=_phases(r), facts=_facts(r),
        cup=cut(f"Cup: {result.cup_notes}", 160) if result is not None and result.cup_notes else "",
        differences=r.differences, forecasts=_forecasts(r.forecasts, r.basis), proposal=r.proposal.text,
        taught=cut(r.taught, TAUGHT_CELLS),
        notes=[cut(f"{noted(t, r.summary.drop_time)} {text}", NOTE_CELLS) for t, text in notes[:MOST_NOTES]],
        notes_left=f"{len(notes) - MOST_NOTES} more in the journal." if len(notes) > MOST_NOTES else "",
        cues=_cues(r), advised=_advised(told, len(r.advised), unit),
        advised_note="* against the forecast for the moves that were made"
        if any(t.inside is not None and not t.as_said for t in told) else "",
    )  # fmt: skip


def _milestones(r: Review) -> Table:
    def far(off: float | None, tolerance: float | None) -> str:
        return " !" if off is not None and tolerance is not None and abs(off) > tolerance else ""

    rows = [
        (*row[:3], row[3] + far(m.late, m.time_tolerance), *row[4:6], row[6] + far(m.hotter, m.temperature_tolerance))
        for row, m in zip(milestone_rows(r), r.milestones, strict=True)
    ]
    return Table("Milestones (! outside tolerance)", ("event", *MILESTONES), rows, frozenset(range(1, 7)))


def _phases(r: Review) -> Table:
    drop, planned_drop = r.summary.drop_time, r.profile.drop_time
    rows = []
    for p in r.phases:
        rows.append(
            (
                p.name, time_text(p.planned), time_text(p.actual),
                "–" if p.planned is None or p.actual is None else signed_clock(p.actual - p.planned),
                "–" if p.planned is None else f"{100 * p.planned / planned_drop:.0f} %",
                "–" if p.actual is None or not drop else f"{100 * p.actual / drop:.1f} %",
            )
        )  # fmt: skip
    return Table("Phases", ("phase", "plan", "today", "off", "plan share", "today"), rows, frozenset(range(1, 6)))


def _facts(r: Review) -> str:
    """Weights, measurements and judgements, in one sentence."""
    s, result = r.summary, r.roast.result
    weighed = result is not None and result.weight_in is not None
    facts = [("weight in", number_text(s.weight_in, 3, "kg") + ("" if weighed else " (as planned)"))]
    facts.append(("weight out", number_text(s.weight_out, 3, "kg")))
    facts.append(("weight loss", number_text(s.loss, 1, "%")))
    if result is not None and result.moisture is not None:
        facts.append(("moisture of the green", number_text(result.moisture, 1, "%")))
    if result is not None and result.colour is not None:
        facts.append((f"colour ({cut(result.colour_scale or '', 20)})", number_text(result.colour, 1)))
    facts.append(("cup score", number_text(s.cup_score, 2)))
    if result is not None and result.accepted is not None:
        facts.append(("verdict", "accepted" if result.accepted else "refused"))
    text = "; ".join(f"{name} {value}" for name, value in facts)
    return text[0].upper() + text[1:] + "."


def _forecasts(rows: Sequence[ScoredForecast], basis: str) -> Table:
    found = []
    for r in rows:
        name, said = f"{r.event}, {clock(r.lead)} before", r.said
        if said is None or r.error is None:
            found.append((name, "–", "–", "–", cut(r.why, 24)))
            continue
        inside = "inside" if r.inside else "OUTSIDE"
        found.append((name, clock(said.median), f"{clock(said.q10)}–{clock(said.q90)}", signed_clock(r.error), inside))
    head = ("forecast", "time", "4 in 5 within", "came", "")
    return Table(f"Forecasts as shown ({basis})", head, found, frozenset({1, 2, 3}))


def _cues(r: Review) -> Table:
    heard = [c for c in r.cues if c.counts and c.when >= 0]
    rows = []
    for i, c in enumerate(heard[:MOST_CUES], 1):
        acted = "" if c.delay is None or not c.reply else f", {c.reply} after {number(c.delay, 0)} s"
        rows.append(
            (f"{i} {c.cue}", clock(c.when), c.outcome + (" (your word)" if c.own else ""), cut(c.why + acted, 44))
        )
    more = f" ({len(heard) - MOST_CUES} more in the journal)" if len(heard) > MOST_CUES else ""
    name = "Cues heard" if r.heard else "Cues, recomputed from the journal"
    return Table(f"{name}{more}", ("cue", "at", "it was", "because"), rows, frozenset({1}))


def _told(r: Review) -> list[AdviceOutcome]:
    """The advised moves that are shown: those that were acted on go first."""
    return sorted(r.advised, key=lambda t: (t.inside is None, t.given.t))[:MOST_ADVISED]


def _advised(told: Sequence[AdviceOutcome], count: int, unit: TemperatureUnit) -> Table:
    rows = []
    for t in sorted(told, key=lambda t: t.given.t):
        g = t.given
        stated = f"{g.about} {value(t, g.stated[0], unit)}–{value(t, g.stated[2], unit)}"
        came = "" if t.inside is None or t.came is None else f"{value(t, t.came, unit)} "
        came += "" if t.inside is None else ("inside" if t.inside else "OUTSIDE") + ("" if t.as_said else " *")
        rows.append((f"{g.control} to {number(g.shown, 2)}", clock(g.t), stated, answer(t), came))
    left = count - len(rows)
    head = ("advised", "at", "4 in 5 within", "it was", "came")
    name = f"Advised moves{f' ({left} more in the journal)' if left else ''}"
    return Table(name, head, rows, frozenset({1}))
