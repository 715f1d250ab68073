"""Precision and lead of each cue over the ledgers of many roasts, and the cues that are kept silent for it.

Aids that are right less often than about seven times in ten were found worse than none (Wickens and Dixon 2007,
TIES 8:201, a regression over 20 studies: an order of magnitude, not a constant).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final

from coach.cues.table import CUES
from coach.roast.entries import Outcome
from coach.verification.cue_outcomes import OutcomeLine

LAST: Final = 20
"""Number of a cue's newest scored lines that count."""
ENOUGH: Final = 10
"""Least number of scored lines from which anything is concluded: a cue that is right four times in five is right only
six times in ten once in eight."""
LEAST: Final = 0.70
"""Share of right ones below which a cue is kept silent."""
SCORED: Final[frozenset[Outcome]] = frozenset({"useful", "late", "false"})
"""Outcomes that count: only 'useful' is right.  'Already acting' and 'unknown' are left out."""


@dataclass(frozen=True)
class Sum:
    """One cue over the last roasts: the number of its lines, of the scored ones among its last twenty and of the right
    ones among these, and the median lead of the right ones, s (None where there is none)."""

    cue: str
    lines: int
    scored: int
    right: int
    lead: float | None

    @property
    def precision(self) -> float | None:
        """Share of right ones among the scored; None before the first was scored."""
        return self.right / self.scored if self.scored else None

    @property
    def demoted(self) -> str:
        """The reason why this cue is kept silent; '' where it is not.  An urgent cue is never kept silent."""
        row = CUES.get(self.cue)
        urgent = row is None or row.priority == "high" or (row.later is not None and row.later[1] == "high")
        if urgent or self.scored < ENOUGH or self.precision is None or self.precision >= LEAST - 1e-9:
            return ""
        return f"right {self.right} of the last {self.scored} times"


def sums(roasts: Iterable[Sequence[OutcomeLine]], last: int = LAST) -> dict[str, Sum]:
    """Precision and lead by cue, over the ledgers of roasts, oldest first; cues in the table's order."""
    lines: dict[str, list[OutcomeLine]] = {}
    for roast in roasts:
        for line in roast:
            if line.counts:
                lines.setdefault(line.cue, []).append(line)
    order = {name: i for i, name in enumerate(CUES)}
    out: dict[str, Sum] = {}
    for cue in sorted(lines, key=lambda n: order.get(n, len(order))):
        scored = [x for x in lines[cue] if x.outcome in SCORED][-last:]
        right = [x for x in scored if x.outcome == "useful"]
        leads = [x.lead for x in right if x.lead is not None]
        out[cue] = Sum(cue, len(lines[cue]), len(scored), len(right), median(leads) if leads else None)
    return out


def demotions(roasts: Iterable[Sequence[OutcomeLine]]) -> dict[str, str]:
    """The cues to be kept silent, each with the reason: ``coach.cues.watch.announce`` takes this as ``demoted``.

    A silent cue is still shown and still scored, so that it comes back once it is right often enough again.
    """
    return {cue: total.demoted for cue, total in sums(roasts).items() if total.demoted}
