"""The review of a roast as one page that prints on one sheet."""

from __future__ import annotations

from typing import Final

from coach.logbook.index.one_roast import about, facts
from coach.logbook.review.review import Review
from coach.logbook.review.review_text import (
    advised_lines,
    cue_lines,
    cues_head,
    forecast_lines,
    milestone_table,
    phase_table,
)
from coach.logbook.review.roast_drawing import roast_svg
from coach.logbook.text.html import render
from coach.logbook.text.text_table import cut, noted

MOST_CUES: Final = 10
MOST_NOTES: Final = 3
MOST_ADVISED: Final = 3
LINE_CELLS: Final = 100
TAUGHT_CELLS: Final = 160
"""Limits of texts on the one sheet; the journal has all of them, and the page counts those left out."""


def report(r: Review) -> str:
    """The page."""
    h, result, notes = r.roast.header, r.roast.result, r.roast.notes
    cues = [line for line in cue_lines(r)[:-1] if not line.startswith(" ")]  # none before charge, and not their number
    name = r.summary.name or h.id
    return render(
        "review/page.html", title=f"Roast {name}: {r.profile.name}", name=cut(r.profile.name, 60),
        about=" · ".join([cut(name, 40), *about(r.summary)]), invented=r.profile.document.invented,
        drawing=roast_svg(r, MOST_CUES), milestones=milestone_table(r), phases=phase_table(r),
        facts=facts(r.summary, result),
        cup=cut(f"Cup: {result.cup_notes}", 160) if result is not None and result.cup_notes else "",
        differences=r.differences, basis=r.basis, forecasts=forecast_lines(r), proposal=r.proposal,
        taught=cut(r.taught, TAUGHT_CELLS), cues_head=cues_head(r),
        notes=_some([f"{noted(t, r.summary.drop_time)} {text}" for t, text in notes], MOST_NOTES),
        cues=_some(cues, MOST_CUES), advised=_some(advised_lines(r), MOST_ADVISED),
    )  # fmt: skip


def _some(lines: list[str], most: int) -> list[str]:
    """The first lines, and the number of those left out."""
    left = [f"{len(lines) - most} more in the journal."] if len(lines) > most else []
    return [*(cut(line, LINE_CELLS) for line in lines[:most]), *left]
