"""Plan of several batches in a row: times of charge and drop, green coffee needed, weights out.  Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from statistics import median, quantiles
from typing import Final

from coach.logbook.index.summary import Summary
from coach.logbook.text.text_table import cut, fitted, number_text
from coach.roast.entries import moment_of
from coach.roast.profile import Profile
from coach.roast.units import clock, from_celsius, number

USUAL_LOSS: Final = (14.0, 20.0)
"""Loss of weight of usual roasts, percent of the green weight (the range that roasting courses give)."""
FEW: Final = 5
"""Number of weighed roasts below which the loss is the usual one, or the one that was given."""


@dataclass(frozen=True)
class Loss:
    """Expected loss of weight in percent, with its likely range and its source."""

    percent: float
    low: float
    high: float
    basis: str


@dataclass(frozen=True)
class Batch:
    """One batch of the plan: charge and drop on the wall clock, green weight (kg), weight out (kg, with range)."""

    number: int
    profile: Profile
    charge: datetime
    drop: datetime
    green: float
    loss: Loss

    @property
    def roasted(self) -> float:
        """Expected weight out, kg."""
        return self.green * (1 - self.loss.percent / 100)

    @property
    def roasted_range(self) -> tuple[float, float]:
        """Likely range of the weight out, kg."""
        return self.green * (1 - self.loss.high / 100), self.green * (1 - self.loss.low / 100)


@dataclass(frozen=True)
class BatchPlan:
    """The batches, and the stock they need: kg of green coffee by name."""

    batches: tuple[Batch, ...]
    gap: float
    green: dict[str, float]


def loss_of(roasts: Sequence[Summary], given: float | None = None) -> Loss:
    """The expected loss: the given one (percent), else the median of the profile's weighed roasts, else the usual."""
    if given is not None:
        return Loss(given, given, given, "as given")
    known = [r.loss for r in roasts if r.loss is not None]
    if len(known) >= FEW:
        tenths = quantiles(known, n=10, method="inclusive")
        return Loss(median(known), tenths[0], tenths[-1], f"median of {len(known)} weighed roasts")
    low, high = USUAL_LOSS
    return Loss((low + high) / 2, low, high, "usual range; under 5 roasts of it were weighed")


def plan_batches(wanted: Sequence[tuple[Profile, int, Loss]], start: datetime, gap: float) -> BatchPlan:
    """The plan: batches in the order given, the first charged at ``start``; ``gap`` (s) from a drop to the next
    charge."""
    batches: list[Batch] = []
    green: dict[str, float] = {}
    at = start
    for profile, count, loss in wanted:
        d = profile.document
        for _ in range(count):
            drop = at + timedelta(seconds=profile.drop_time)
            batches.append(Batch(len(batches) + 1, profile, at, drop, d.batch_kg, loss))
            name = d.coffee or f"coffee for {d.name}"
            green[name] = green.get(name, 0.0) + d.batch_kg
            at = drop + timedelta(seconds=gap)
    return BatchPlan(tuple(batches), gap, green)


def text(s: BatchPlan, width: int = 110) -> list[str]:
    """The plan for a terminal of ``width`` cells; where a narrow one has no room, columns go to a second line."""
    rows = []
    for b in s.batches:
        d = b.profile.document
        hot = from_celsius(b.profile.charge_temperature, b.profile.unit)
        low, high = b.roasted_range
        rows.append(
            (
                str(b.number), cut(d.name, 34), b.charge.strftime("%H:%M"), f"{number(hot)} °{b.profile.unit}",
                b.drop.strftime("%H:%M"), clock(b.profile.drop_time), number_text(b.green, 3, "kg"),
                f"{number(b.roasted, 2)} kg", "" if high - low < 0.005 else f"{number(low, 2)}–{number(high, 2)}",
            )
        )  # fmt: skip
    head = ("", "profile", "charge", "at", "drop", "takes", "green", "roasted", "likely")
    out = fitted(head, rows, {*head} - {"profile"}, width, ("takes", "likely", "profile"))
    if s.batches:
        last = s.batches[-1].drop
        out += [
            "",
            f"{clock(s.gap)} from each drop to the next charge; the last batch drops at {last.strftime('%H:%M')}.",
        ]
    for name, kg in s.green.items():
        out.append(f"Green coffee on hand: {number(kg, 3)} kg of {name}.")
    total = sum(b.roasted for b in s.batches)
    low, high = (sum(b.roasted_range[i] for b in s.batches) for i in (0, 1))
    likely = "" if high - low < 0.005 else f" (likely {number(low, 2)} to {number(high, 2)})"
    out.append(f"Roasted coffee: about {number(total, 2)} kg{likely}.")
    seen = dict.fromkeys((b.profile.name, b.loss) for b in s.batches)
    out += [f"Loss of weight, {name}: {number(loss.percent, 1)} %, {loss.basis}." for name, loss in seen]
    return out


def gaps_before(roasts: Sequence[Summary]) -> list[float]:
    """Seconds from drop to the next opening of a journal on one machine on one day, oldest first."""
    out = []
    ordered = sorted((r for r in roasts if r.drop_time is not None), key=lambda r: r.moment)
    for a, b in pairwise(ordered):
        x, y = moment_of(a.started), moment_of(b.started)
        between = 0.0 if x is None or y is None else (y - x).total_seconds() - (a.drop_time or 0.0)
        if a.machine == b.machine and 0 < between < 3600:
            out.append(between)
    return out
