"""Finished roasts as lines of a board: their text, their tasks, their details."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from coach.app.printing import hung
from coach.app.screens.lists import Row, Task
from coach.logbook.text.text_table import padded
from coach.roast.units import clock
from coach.session.folders import logbook_folder

if TYPE_CHECKING:
    from coach.logbook.index.summary import Summary

RESULTS = "in 0.8 out 690g score 85 accepted yes"
"""Example of typed results."""


def roast_tasks(name: str) -> tuple[Task, ...]:
    """Tasks for a finished roast."""
    return (
        Task("enter", "review", ("review", name, "--screen"), waits=False),
        Task("r", "results", ("result", name), "Results", RESULTS),
        Task("y", "accept", ("result", name, "accepted", "yes")),
        Task("n", "refuse", ("result", name, "accepted", "no")),
        Task("a", "adopt", ("adopt", name, "--name", "{}"), "Name of the profile (options after it)", "Our Tuesday"),
        Task("w", "replay", ("replay", name, "--screen", "--speed", "4"), waits=False),
        Task("h", "page", ("review", name, "--html", "{}"), "Page to write", f"{name}.html"),
        Task("e", "export", ("export", name, "--output", "{}"), "File to write", f"{name}.csv"),
    )


def unfinished_tasks(name: str) -> tuple[Task, ...]:
    """Tasks for a roast that has no drop, or can't be read."""
    return (Task("enter", "what it holds", ("log", name)), Task("x", "close without a drop", ("close", name)))


def when(r: Summary, now: datetime) -> str:
    """Day and time; the year where it is another."""
    try:
        at = datetime.fromisoformat(r.moment)
    except ValueError:
        return f"{r.moment[:12]:<12}"
    return f"{at:%d %b %H:%M}" if at.year == now.year else f"{at:%Y-%m-%d}  "


def _name(r: Summary) -> str:
    """Its profile, else its coffee, else its own name."""
    return r.profile or r.coffee or r.name


def _columns(day: str, name: str, figures: Sequence[str], wide: int) -> str:
    """A line of roasts: crack, drop, loss, cup and verdict stand under their heads; the name has what is left."""
    crack, drop, loss, cup, word = figures
    return f"{day:<12} {padded(name, _room(wide))} {crack:>5} {drop:>5} {loss:>6} {cup:>4} {word}".rstrip()


def _room(wide: int) -> int:
    """Width of a roast's name, cells."""
    return max(min(wide - 46, 40), 12)


def roast_heads(title: str, wide: int) -> str:
    """A heading, and beside it the heads of the columns of ``roast_row``."""
    return f"{title:<{_room(wide) + 15}} {'crack':>5} {'drop':>5} {'loss':>6} {'cup':>4}"


def roast_row(r: Summary, now: datetime, wide: int) -> Row:
    """A finished roast: day, profile, crack, drop, loss, score, verdict."""
    times = ["" if t is None else clock(t) for t in (r.crack_time, r.drop_time)]
    loss = f"{r.loss:.1f} %" if r.loss is not None else ""
    cup = f"{r.cup_score:g}" if r.cup_score is not None else ""
    ended = r.ended if r.ended not in ("dropped", "accepted", "refused") else ""
    word = {True: "accepted", False: "refused", None: ended}[r.accepted]
    text = _columns(when(r, now), _name(r), (*times, loss, cup, word), wide)
    tasks = roast_tasks(r.name) if r.drop_time is not None else unfinished_tasks(r.name)
    return Row(f"roast {r.file}", text, tasks, lambda wide, plain: told_roast(r, wide, plain))


def weigh_row(r: Summary, now: datetime, wide: int) -> Row:
    """A finished roast whose results are missing."""
    review, results, *others = roast_tasks(r.name)
    tasks = (replace(results, key="enter"), replace(review, key="b"), *others)
    text = f"{when(r, now):<12} {padded(_name(r), _room(wide))} not weighed"
    return Row(f"results {r.file}", text, tasks, lambda wide, plain: told_roast(r, wide, plain))


def told_roast(r: Summary, wide: int, plain: bool) -> Sequence[str]:
    """Details of a roast beside the list: its marks and results, its readings as a picture."""
    from coach.logbook.index.one_roast import readings_picture, roast_text
    from coach.session.journal import read_journal

    journal = read_journal(logbook_folder() / r.file)
    return [*hung(roast_text(journal), wide), "", *readings_picture(journal.roast, wide, 10, plain)]
