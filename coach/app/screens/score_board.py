"""The score of a rehearsal as a board: its parts, its cues and how they were answered, what to do next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from textwrap import wrap
from typing import Final

from coach.app.screens.lists import KEYS, Listing, Row, Task
from coach.app.screens.roast_panes import entry_words
from coach.roast.units import clock
from coach.simulator.rehearsal.judged import Judged
from coach.simulator.rehearsal.score import MEANING, Part
from coach.verification.cue_outcomes import OutcomeLine

BEFORE, AFTER = 40.0, 60.0
"""Time around a cue of which the entries are shown, s."""
BAR: Final = 12
"""Width of a part's bar, cells."""


@dataclass(frozen=True)
class ScoreList(Listing):
    """The score.  ``again`` and ``other``: the commands that rehearse the same, or another day, once more."""

    outcome: Judged
    journal: Path
    again: tuple[str, ...]
    other: tuple[str, ...]

    guide = (
        "SCORE", *KEYS, "",
        "Points: each part's share of its worth, the part that cost most first. A hint costs points too.",
        "A cue is the coach's part: the list says of each, as the review does, if it was right, and the answer.",
    )  # fmt: skip

    @property
    def always(self) -> tuple[Task, ...]:
        return (
            Task("r", "rehearse again", self.again, waits=False, ends=True),
            Task("h", "home", (), waits=False, ends=True),
        )

    @property
    def _review(self) -> Task:
        return Task("enter", "review", ("review", str(self.journal), "--screen"), waits=False)

    def heading(self) -> str:
        return f"score   {self.outcome.heading()}"

    def items(self, wide: int) -> Iterator[str | Row]:
        o = self.outcome
        if o.result is not None:
            total = sum(p.weight for p in o.result.parts)
            costly = sorted(o.result.parts, key=lambda p: (p.share - 1) * p.weight)
            yield "POINTS   the part that cost most comes first"
            yield from (self._part(p, 100 * p.weight / total) for p in costly)
            lost = sum(100 * p.share * p.weight / total for p in o.result.parts) - o.result.points
            if lost >= 0.5:
                yield Row("costs", f"{'hints, needless moves':<18}{'':>{BAR + 4}}−{lost:.0f}", (self._review,))
        if o.cues:
            yield "CUES   was the coach right, and how were they answered?"
            yield from (self._cue(n, c) for n, c in enumerate(o.cues))
        if o.drill is not None:
            yield "WHAT HAPPENED"
            yield Row("drill", o.drill.title, (self._review,), lambda wide, plain: _paragraphs(o.revealed(), wide),
                      strong=True)  # fmt: skip
        if o.remarks:
            yield "PROGRESS"
            progress = Task("enter", "progress", ("progress", "--screen"), waits=False)
            yield from (
                Row(f"remark {n}", text, (progress,), lambda wide, plain: _paragraphs(o.remarks, wide))
                for n, text in enumerate(o.remarks)
            )
        yield "NEXT"
        other = Task("enter", "rehearse", self.other, waits=False, ends=True)
        drills = Task("enter", "list", ("drills", "--screen"), waits=False, ends=True)
        yield Row("again", "Rehearse the same again", (replace(self.always[0], key="enter"),))
        yield Row("other", "Rehearse on another day of the roaster", (other,))
        yield Row("review", "Review the roast, with its pictures", (self._review,))
        yield Row("drills", "Choose a drill", (drills,))

    def _part(self, p: Part, worth: float) -> Row:
        full = round(BAR * p.share)
        bar = "━" * full + "─" * (BAR - full)
        text = f"{p.name:<17} {bar} {p.share * worth:>3.0f} of {worth:>2.0f}  {p.text}"
        true = self.outcome.truth
        details = [f"{p.name}: {p.text}", "", MEANING.get(p.name, ""), f"{p.share * worth:.1f} of {worth:.1f} points."]
        if p.name in ("first crack", "call of crack") and true.first_crack is not None and true.charge is not None:
            called = self.outcome.roast.marks.get("first crack")
            details += ["", f"true onset   {clock(true.first_crack - true.charge)}"]
            details += [f"your mark    {clock(called)}"] if called is not None else []
        return Row(f"part {p.name}", text, (self._review,), lambda wide, plain: _paragraphs(details, wide))

    def _cue(self, n: int, c: OutcomeLine) -> Row:
        at = c.when + (self.outcome.roast.charge_at or 0.0)
        text = f"{c.cue}: {c.verdict}"

        def details(wide: int, plain: bool) -> Sequence[str]:
            from coach.cues.table import CUES

            cue = CUES[c.cue]
            near = [n.entry for n in self.outcome.entries if -BEFORE <= n.entry.at - at <= AFTER]
            lines = sorted([*((e.at, words) for e in near if (words := entry_words(e))), (at, f"▸ {c.cue}")])
            about = [text, "", f"It means: {cue.condition}.", f"If left: {cue.consequence}."]
            return [
                *_paragraphs(about, wide),
                "",
                "around it",
                *(f"  {clock(self.outcome.roast.time(t)):>5}  {x}" for t, x in lines),
            ]

        return Row(f"cue {n}", f"{clock(c.when):>5}  {text}", (self._review,), details)


def _paragraphs(texts: Sequence[str], wide: int) -> list[str]:
    return [line for text in texts for line in (wrap(text, wide) or [""])]
