"""Accuracy of past forecasts in words, tables and a plot for the terminal.  Pure."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Final

from coach.logbook.learning.replays import PastForecasts
from coach.logbook.text.picture import Picture, framed, spread
from coach.logbook.text.text_table import table
from coach.roast.units import TemperatureUnit, from_kelvins
from coach.verification.aggregate import BASELINES, ForecastScore, ScoredForecast, sentences, tally

LEAD: Final = 90
"""Lead at which single roasts are drawn, s."""
SHORT = {"plan": "plan", "past roasts": "past", "lag": "lag", "straight line": "line", "floor": "floor"}
"""Names of the reference forecasts as column heads."""

KEYS = (
    "80 %, 50 %: how many fell in these ranges; width: of the 80 % range. Without the coach: plan; past: mean of past "
    "roasts; lag: the reference shifted by today's lag; line: through the last two readings. "
    "floor: the best possible, with the whole curve known."
)


def text(made: PastForecasts, width: int = 80, plain: bool = False, unit: TemperatureUnit = "C") -> list[str]:
    """The whole page in lines of at most ``width`` cells; errors of temperatures in degrees of ``unit``."""
    rows = [r for found in made.rows for r in found]
    scores = tally(rows)
    out = [line for said in sentences(scores) for line in textwrap.wrap(said, width)]
    out += textwrap.wrap(provenance(made), width, break_on_hyphens=False)
    out += drawn(rows, width, plain)
    for what in ("first crack", "drop time", "drop temperature"):
        mine = [s for s in scores if s.what == what and s.n]
        if mine:
            hot = what == "drop temperature"
            out += ["", *lines(mine, f"°{unit}" if hot else "s", from_kelvins(1.0, unit) if hot else 1.0)]
    return [*out, "", *textwrap.wrap(KEYS, width)]


def provenance(made: PastForecasts) -> str:
    """Provenance of the forecasts, in words: issued during the roast, or recomputed."""
    count, recomputed = len(made.rows), len(made.rows) - made.issued
    parts = []
    if made.issued:
        by = "" if not made.older else " by an earlier version" if made.older == made.issued else (
            f", {made.older} of them by an earlier version")  # fmt: skip
        which = "Forecasts" if not recomputed else f"{made.issued} forecast{'s' * (made.issued > 1)}"
        parts.append(f"{which} as shown during the roast{'s' * (made.issued > 1)}{by}.")
    if recomputed:
        which = "Recomputed" if recomputed == count else f"{recomputed} recomputed"
        parts.append(f"{which} with this version from the 20 roasts before{' each' * (recomputed > 1)}.")
    return " ".join(parts)


def lines(rows: Sequence[ForecastScore], unit: str, per: float = 1.0) -> list[str]:
    """One table: errors by lead, beside the reference forecasts, in ``unit``s of which there are ``per`` in the
    scores' unit."""
    names = [*BASELINES, *(["floor"] if "floor" in rows[0].others else [])]
    head = ("before", "n", "coach", "80 %", "50 %", "width", *(SHORT[n] for n in names))
    body = [
        (
            f"{s.lead} s", str(s.n), f"{per * s.mae:.1f}", str(s.in_80.hits), str(s.in_50.hits),
            f"{per * s.width_80:.1f}", *(f"{per * s.others[n]:.1f}" if n in s.others else "–" for n in names),
        )
        for s in sorted(rows, key=lambda s: -s.lead)
    ]  # fmt: skip
    title = f"{rows[0].what}: mean error in {unit}, by the time before it"
    return [title, *table(head, body, frozenset(range(len(head))))]


def drawn(rows: Sequence[ScoredForecast], width: int, plain: bool = False) -> list[str]:
    """Each roast's crack (o inside the range, X outside) against the forecast ``LEAD`` s before: the middle line is the
    median, the bars are the range that 4 in 5 should fall into."""
    mine = [r for r in rows if r.what == "first crack" and r.lead == LEAD and r.said is not None]
    if len(mine) < 2:
        return []
    mine = mine[-(width - 12) :]
    off = [(r.happened - s.median, s.q10 - s.median, s.q90 - s.median) for r in mine if (s := r.said) is not None]
    cells = min(width - 10, max(2 * len(off), 20))
    p = Picture(cells, 9, (0.5, len(off) + 0.5), spread([v for x in off for v in x]))
    p.level(0.0)
    for i, (came, low, high) in enumerate(off, 1):
        p.upright(i, every=1, span=(low, high))
        p.sign(i, came, "o" if low <= came <= high else "X")
    inside = sum(1 for came, low, high in off if low <= came <= high)
    head = f"First crack against its forecast {LEAD} s ahead (s; + later): {inside} of {len(off)} in the range"
    picture = framed(p, lambda y: f"{y:+.0f} s", "oldest", "newest", plain)
    return ["", *textwrap.wrap(head, width), *picture]
