"""A review in plain lines for a terminal, with its curve drawn.  Pure."""

from __future__ import annotations

import textwrap
from itertools import zip_longest
from typing import Final

from rich.cells import cell_len

from coach.logbook.review.review import Review, ReviewMilestone, degrees
from coach.logbook.review.review_plots import SIGNS, bar, plots
from coach.logbook.text.text_table import cut, noted, number_text, signed, signed_clock, table, time_text
from coach.roast.units import TemperatureUnit, clock, from_kelvins
from coach.verification.advice_outcomes_text import line
from coach.verification.aggregate import ScoredForecast

MILESTONES: Final = ("plan", "today", "off", "plan", "today", "off")
"""Columns of the milestones after the event: its time, then its temperature."""
BESIDE = 140
"""Width from which on the pictures are beside the words, cells."""
PROPOSED = "Only a proposal: nothing changes by itself. The maker's manual and local rules go first."


def page(r: Review, width: int, plain: bool = False) -> list[str]:
    """The whole review as a page of at most ``width`` cells."""
    h, s = r.roast.header, r.summary
    about = [s.moment[:16].replace("T", " "), h.person, h.machine, h.coffee, number_text(h.batch_kg, 3, "kg")]
    ended = {"unfinished": "NOT DROPPED", "no drop": "NO DROP", "abandoned": "ABANDONED"}.get(s.ended, "")
    about += ["REHEARSAL" if h.run == "rehearsal" else "", ended]
    out = [cut(f"{s.name or h.id}: {r.profile.name}", width)]
    out += textwrap.wrap(", ".join(cut(x, 40) for x in about if x and x != "–"), width)
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
        for t, note in r.roast.notes:
            out += textwrap.wrap(
                f"{noted(t, s.drop_time)}  {' '.join(note.split())}", width, subsequent_indent="      "
            )
    return out


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
    out += _milestones(r, width, "." if plain else "·")
    out += ["", *_phases(r, width)]
    out += ["", "LARGEST DIFFERENCES"]
    for i, d in enumerate(r.differences, 1):
        out += textwrap.wrap(f"{i}. {d}", width, subsequent_indent="   ")
    if r.forecasts:
        out += ["", *textwrap.wrap(f"FORECASTS AS SHOWN ({r.basis})", width)]
        for f in r.forecasts:
            out += textwrap.wrap(_forecast(f), width, subsequent_indent="  ")
    out += _cues(r, width)
    out += _advised(r, width)
    if r.proposal.text:
        out += ["", *textwrap.wrap(f"Next time: {r.proposal.text}", width), *textwrap.wrap(PROPOSED, width)]
    if r.taught:
        out += ["", *textwrap.wrap(r.taught, width)]
    return out


def _milestones(r: Review, width: int, dot: str) -> list[str]:
    """The table of milestones; and under it, where there is a ``width``, each difference on its scale of tolerance."""
    out = table(("", *MILESTONES), milestone_rows(r), frozenset(range(1, 7)))
    if width < 60:
        return out
    cells = min((width - 32) // 2, 25)
    cells -= 1 - cells % 2
    out += ["", f"{'[ ] tolerance':<15}{'early | late':^{cells}}{'':9}{'cooler | hotter':^{cells}}".rstrip()]
    for m in r.milestones:
        late, hot = bar(m.late, m.time_tolerance, cells, dot), bar(m.hotter, m.temperature_tolerance, cells, dot)
        if late.strip() or hot.strip():
            said = signed_clock(m.late) if late.strip() and m.late is not None else ""
            warmer = hotter_text(m, r.roast.header.unit) if hot.strip() else ""
            out.append(f"{m.event:<14} {late} {said:>6}  {hot} {warmer:>5}".rstrip())
    return out


def milestone_rows(r: Review) -> list[tuple[str, ...]]:
    """The milestones, a row each: the event and the columns ``MILESTONES``."""
    unit = r.roast.header.unit

    def warm(celsius: float | None) -> str:
        return "–" if celsius is None else degrees(celsius, unit)

    return [
        (
            m.event, time_text(m.planned), time_text(m.actual), "–" if m.late is None else signed_clock(m.late),
            warm(m.planned_celsius), warm(m.celsius), hotter_text(m, unit),
        )
        for m in r.milestones
    ]  # fmt: skip


def hotter_text(m: ReviewMilestone, unit: TemperatureUnit) -> str:
    """Difference of a milestone's temperature from the plan."""
    return "–" if m.hotter is None else signed(from_kelvins(m.hotter, unit), 1)


def _phases(r: Review, width: int) -> list[str]:
    """Each phase against the plan, as bars of one scale."""
    longest = max([x for p in r.phases for x in (p.planned, p.actual) if x is not None], default=0.0)
    out = []
    for p in r.phases:
        line = f"{p.name:<12} {time_text(p.actual):>6}  (plan {time_text(p.planned)})"
        room = width - 34
        if longest and room > 10:
            drawn = "" if p.actual is None else "=" * max(round(p.actual / longest * room), 1)
            if p.planned is not None:
                at = min(round(p.planned / longest * room), room) - 1
                drawn = f"{drawn:<{at + 1}}"
                drawn = drawn[:at] + "|" + drawn[at + 1 :]
            line = f"{line:<32} {drawn}"
        out.append(line.rstrip())
    s = r.summary
    share = None if s.ratio is None else 100 * s.ratio
    out.append(f"development {number_text(share, 1, '%')} of the roast; weight loss {number_text(s.loss, 1, '%')}")
    result = r.roast.result
    if result is not None:
        verdict = {True: "accepted", False: "refused", None: ""}[result.accepted]
        said = [
            number_text(s.weight_in, 3, "kg in") if s.weight_in else "",
            number_text(s.weight_out, 3, "kg out") if s.weight_out else "",
            f"colour {number_text(s.colour, 1)} ({cut(s.colour_scale, 20) or 'no scale named'})" if s.colour else "",
            f"cup {number_text(s.cup_score, 2)}" if s.cup_score is not None else "", verdict,
        ]  # fmt: skip
        out += textwrap.wrap(", ".join(x for x in said if x), width)
        if result.cup_notes:
            out += textwrap.wrap(f"cup: {' '.join(result.cup_notes.split())}", width)
    return out


def _advised(r: Review, width: int) -> list[str]:
    """Each advised move with its adherence and its outcome."""
    out = ["", "ADVISED MOVES, RECOMPUTED FROM THE JOURNAL"] if r.advised else []
    for told in r.advised:
        out += textwrap.wrap(f"  {line(told, r.roast.header.unit)}", width, subsequent_indent=" " * 7)
    return out


def _cues(r: Review, width: int) -> list[str]:
    """Each cue that asked for attention, with its outcome and the reason for it."""
    heard = [c for c in r.cues if c.counts]
    if not r.cues:
        return []
    out = ["", "CUES HEARD" if r.heard else "CUES, RECOMPUTED FROM THE JOURNAL"]
    if not heard:
        return [*out, "None."]
    after = iter(SIGNS)
    for c in heard:
        sign = next(after, "+") if c.when >= 0 else " "
        acted = "" if c.delay is None or not c.reply else f", {c.reply} after {c.delay:.0f} s"
        word = c.outcome + (" (your word)" if c.own else "")
        when = clock(c.when) if c.when >= 0 else "before"
        line = f"{sign} {when:>6}  {c.cue}: {word.upper() if c.outcome in ('false', 'late') else word}, {c.why}{acted}"
        out += textwrap.wrap(line, width, subsequent_indent=" " * 10)
    counts = [(o, sum(1 for c in heard if c.outcome == o)) for o in dict.fromkeys(c.outcome for c in heard)]
    return [*out, f"{len(heard)} in all: " + ", ".join(f"{n} {o}" for o, n in counts)]


def _forecast(r: ScoredForecast) -> str:
    """One forecast of a time against what happened, in words."""
    said, head = r.said, f"{clock(r.lead)} before {r.event}: "
    if said is None or r.error is None:
        return head + f"no forecast ({r.why or 'none was issued'})"
    return head + (
        f"{clock(said.median)} ({clock(said.q10)} to {clock(said.q90)}), came {clock(r.happened)}: "
        f"{signed_clock(r.error)}, {'inside' if r.inside else 'OUTSIDE'}"
    )
