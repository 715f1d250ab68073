"""Logbook, trend, drills and progress as boards: lists whose lines open."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from statistics import fmean, stdev
from textwrap import wrap
from typing import Final

from coach.app.screens.lists import KEYS, Listing, Row, Task
from coach.app.screens.roast_rows import roast_heads, roast_row
from coach.logbook.index.summary import Summary
from coach.logbook.trend.text import difference, plot, show, show_width, signal_text
from coach.logbook.trend.trend import Chart, Point, Trend
from coach.simulator.rehearsal.history import Record, lateness, progress, sentences
from coach.simulator.rehearsal.model import KINDS, Drill

PLOT: Final = 9
"""Rows of a chart beside the list."""


def _month(moment: str) -> str:
    try:
        return f"{datetime.fromisoformat(moment):%B %Y}".upper()
    except ValueError:
        return "WITHOUT A DATE"


@dataclass(frozen=True)
class LogList(Listing):
    """The logbook, newest first, a heading for each month.  ``closing``: remarks on the whole of it."""

    roasts: Sequence[Summary]
    closing: Sequence[str] = ()
    now: datetime = field(default_factory=datetime.now)

    guide = (
        "LOGBOOK", *KEYS, "",
        "y and n say whether the roast is accepted; a takes it as a profile; x closes one without a drop.",
        "Every line is a command too: coach log ROAST, coach review ROAST, coach result ROAST.",
    )  # fmt: skip
    always = (
        Task("g", "find", ("log",), "What to find", "--coffee kenya --since 2026-10"),
        Task("i", "import", ("import",), "The sheet's file", "roast.csv --batch 0.8 --follows larch-hill"),
    )

    def heading(self) -> str:
        return "logbook   " + "; ".join(self.closing)

    def items(self, wide: int) -> Iterator[str | Row]:
        month = ""
        for r in self.roasts:
            if (new := _month(r.moment)) != month:
                yield roast_heads(new, wide) if not month else new
                month = new
            yield roast_row(r, self.now, wide)
        if not self.roasts:
            yield "No roast is like that."


@dataclass(frozen=True)
class TrendList(Listing):
    """The trend of a profile: flagged roasts, then a line for each quantity, its chart beside it.

    ``argv``: the command of this board, without the options for its form.
    """

    trend: Trend
    argv: tuple[str, ...]

    guide = (
        "TREND", *KEYS, "",
        "mean, spread (standard deviation) and distance from the plan of each quantity; capable: Cpk of 1 or more,",
        "it stays within the profile's tolerance.",
        "In a chart: o a roast, X one that is flagged; lines: limits and weighted mean; single dots: the plan.",
    )  # fmt: skip

    def heading(self) -> str:
        roasts = self.trend.roasts
        count = f"{len(roasts)} roast{'s' if len(roasts) != 1 else ''}, {roasts[0].day} to {roasts[-1].day}"
        few = "   provisional: few roasts yet" if self.trend.provisional else ""
        return f"trend   {self.trend.profile.name}: {count}{few}"

    def items(self, wide: int) -> Iterator[str | Row]:
        signals = sorted(
            ((c, p) for c in self.trend.charts for p in c.signals), key=lambda x: x[1].roast.moment, reverse=True
        )
        yield "FLAGGED" if signals else "No roast is flagged."
        yield from (self._signal(c, p) for c, p in signals[:12])
        yield f"  {'QUANTITY':<20} {'ROASTS':>6} {'MEAN':>9} {'SPREAD':>11} {'OFF PLAN':>9} {'CAPABLE':>7}"
        yield from (self._chart(c) for c in self.trend.charts)
        yield "MORE"
        yield Row("more all", "All charts, one under the other", (Task("enter", "print", self.argv),))
        page = Task("enter", "write", (*self.argv, "--html", "{}"), "Page to write", "trend.html")
        yield Row("more page", "As a page for the browser", (page,))

    def _signal(self, c: Chart, p: Point) -> Row:
        text = signal_text(c, p, self.trend.profile.unit)
        task = Task("enter", "review", ("review", p.roast.name, "--screen"), waits=False)
        told = self._told(c)
        return Row(f"signal {c.quantity.name} {p.roast.file}", text, (task,),
                   lambda wide, plain: [*wrap(text, wide), "", *told(wide, plain)])  # fmt: skip

    def _chart(self, c: Chart) -> Row:
        q, values, unit = c.quantity, [p.value for p in c.points], self.trend.profile.unit
        spread = show_width(q, stdev(values), unit) if len(values) > 1 else "–"
        off = "–" if c.target is None else difference(q, fmean(values) - c.target, unit)
        capable = "–" if c.capability is None else f"{c.capability.cpk:.2f}".replace("-", "−")
        text = f"{q.name:<20} {len(values):>6} {show(q, fmean(values), unit):>9} {spread:>11} {off:>9} {capable:>7}"
        opens = Task("enter", "chart", (*self.argv, "--only", q.name, "--screen"), waits=False)
        return Row(f"chart {q.name}", text, (opens,), self._told(c))

    def _told(self, c: Chart) -> Callable[[int, bool], Sequence[str]]:
        unit, q = self.trend.profile.unit, c.quantity

        def lines(wide: int, plain: bool) -> Sequence[str]:
            head = [q.name + (" (provisional)" if c.provisional else "")]
            if c.target is not None:
                within = "" if c.tolerance is None else f", tolerance ± {show_width(q, c.tolerance, unit)}"
                head.append(f"plan {show(q, c.target, unit)}{within}")
            if len(c.points) < 2:
                return [*head, "", "One roast is no trend yet."]
            last = [f"{p.roast.day}  {show(q, p.value, unit)}{'  flagged' if p.why else ''}" for p in c.points[-8:]]
            chart = plot(c, unit, max(wide - 10, 20), PLOT, plain)
            return [*head, "", *chart, "", "the last roasts", *(f"  {x}" for x in reversed(last))]

        return lines


@dataclass(frozen=True)
class DrillList(Listing):
    """The drills that can be rehearsed: Enter begins.  ``profile``: the one that is roasted."""

    drills: Sequence[tuple[str, Drill]]
    profile: str

    guide = (
        "DRILLS", *KEYS, "",
        "In a drill something happens that you have to notice and answer. What it is, is told after.",
        "While rehearsing  /hint  asks for a hint (it costs points),  /stop  ends a safety drill.",
    )  # fmt: skip

    def heading(self) -> str:
        return f"drills   rehearsed with {self.profile}"

    def items(self, wide: int) -> Iterator[str | Row]:
        yield Row("random", f"{'random':20} any of them, told after", self._tasks("random"),
                  lambda wide, plain: wrap("Which one it was is told after the roast.", wide))  # fmt: skip
        for kind, title in KINDS.items():
            yield title.upper()
            for name, d in self.drills:
                if d.kind == kind:
                    yield Row(f"drill {name}", f"{name:20} {d.title}", self._tasks(name),
                              lambda wide, plain, d=d: [d.title, "", *wrap(d.brief, wide)])  # type: ignore[misc]  # fmt: skip

    def _tasks(self, name: str) -> tuple[Task, ...]:
        argv = ("rehearse", self.profile, "--drill", name)
        begin = Task("enter", "rehearse", (*argv, "--speed", "4"), waits=False)
        real = Task("r", "at real speed", argv, waits=False)
        return (begin, real) if name == "random" else (begin, real, Task("t", "tell what it is", ("drills", name)))


@dataclass(frozen=True)
class ProgressList(Listing):
    """Each person's rehearsals and stage; Enter reviews one."""

    people: Sequence[tuple[str, Sequence[Record]]]
    last: int = 0
    """Number of newest rehearsals of each that are listed; 0: all."""

    guide = (
        "PROGRESS", *KEYS, "",
        "Points: temperature kept in the band, first crack called, drop on time, cues answered.",
        "Three of four running with 75 points or better and no hint lead to the next stage,",
        "three running under 50 one back.",
    )  # fmt: skip

    def heading(self) -> str:
        return "progress   rehearsals of each person"

    def items(self, wide: int) -> Iterator[str | Row]:
        if not self.people:
            yield "No rehearsal yet."
            yield Row(
                "first",
                "Watch one, and take over",
                (Task("enter", "watch", ("rehearse", "--speed", "4"), waits=False),),
            )
        for person, records in self.people:
            stage, *more = sentences(progress(records))
            yield f"{person.upper()}   {stage}"
            listed = [self._record(person, n, r, wide) for n, r in reversed(list(enumerate(records))[-self.last :])]
            yield from listed
            yield from (Row(f"{person}: {x}", x[:1].upper() + x[1:], listed[0].tasks) for x in more if listed)

    def _record(self, person: str, n: int, r: Record, wide: int) -> Row:
        call = "" if r.call_off is None else f"call {lateness(r.call_off)}"
        hints = "" if not r.hints else f"{r.hints} hint{'s' if r.hints != 1 else ''}"
        text = f"{r.started[:10]} {r.points:>4.0f} points  {r.drill or 'no drill':<20} {call:<16} {hints:<7}"
        text += f"  {r.profile}" if len(text) + len(r.profile) + 6 <= wide else ""
        name = r.started[:19].translate({ord("-"): None, ord(":"): None, ord("T"): "-"})
        again = ("rehearse", r.profile, "--speed", "4", *(("--drill", r.drill) if r.drill else ()))
        tasks = (Task("enter", "review", ("review", name, "--screen"), waits=False),
                 Task("r", "rehearse it again", again, waits=False))  # fmt: skip
        return Row(f"{person} {n}", text.rstrip(), tasks, lambda wide, plain: _told_record(r, wide))


def _told_record(r: Record, wide: int) -> Sequence[str]:
    lines = [f"{r.started[:16].replace('T', ' ')}  {r.points:.0f} points of 100", r.profile, ""]
    lines += [f"stage          {r.stage}", f"drill          {r.drill or 'none'}", f"speed          {r.speed:g} times"]
    if r.crack_off is not None:
        lines.append(f"first crack    {lateness(r.crack_off)} by plan")
    if r.call_off is not None:
        lines.append(f"your call      {lateness(r.call_off)}")
    if r.notice is not None:
        lines.append(f"noticed after  {r.notice:.0f} s")
    if r.inside is not None:
        lines.append(f"inside band    {r.inside:.0%} of the time")
    if r.helped:
        lines += ["", *wrap("A simulated person did a part of it: it does not count towards the next stage.", wide)]
    return lines
