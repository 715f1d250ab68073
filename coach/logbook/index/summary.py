"""One roast in one row, for lists, trends and briefs.  Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Final, Literal

from coach.roast.entries import Event
from coach.roast.reading_checks import plausible
from coach.roast.roast import Probe, Roast

Ended = Literal["dropped", "unfinished", "abandoned", "no drop", "not charged", "unreadable"]
NEAR: Final = 45.0
"""Longest time from a mark to a reading that gives its temperature, s."""
EARLY: Final = 300.0
"""Time after charge within which the turning point is sought, s."""


@dataclass(frozen=True)
class Summary:
    """A row of the logbook.  ``moment`` is ``started`` by this machine's clock.

    Times in s after charge, temperatures in °C, weights in kg, ``loss`` in percent of the green weight; None where the
    journal does not say.  ``problem``: the reason why an unreadable journal can't be read.
    """

    file: str
    id: str = ""
    profile: str = ""
    coffee: str = ""
    machine: str = ""
    person: str = ""
    started: str = ""
    moment: str = ""
    run: str = "live"
    unit: str = "C"
    ended: Ended = "unreadable"
    batch_kg: float | None = None
    charge_temperature: float | None = None
    turning_time: float | None = None
    turning_temperature: float | None = None
    yellow_time: float | None = None
    yellow_temperature: float | None = None
    crack_time: float | None = None
    crack_temperature: float | None = None
    drop_time: float | None = None
    drop_temperature: float | None = None
    development: float | None = None
    ratio: float | None = None
    weight_in: float | None = None
    weight_out: float | None = None
    loss: float | None = None
    colour: float | None = None
    colour_scale: str = ""
    cup_score: float | None = None
    accepted: bool | None = None
    readings: int = 0
    problem: str = ""

    @property
    def day(self) -> str:
        """The date of the start: YYYY-MM-DD."""
        return self.moment[:10]

    @property
    def events(self) -> dict[Event, tuple[float | None, float | None]]:
        """Time (s) and temperature (°C) of each event from charge to drop."""
        charged = self.ended not in ("not charged", "unreadable")
        return {
            "charge": (0.0 if charged else None, self.charge_temperature),
            "turning point": (self.turning_time, self.turning_temperature),
            "yellow": (self.yellow_time, self.yellow_temperature),
            "first crack": (self.crack_time, self.crack_temperature),
            "drop": (self.drop_time, self.drop_temperature),
        }

    @property
    def name(self) -> str:
        """The file's name without its ending, which is the roast's name on the command line."""
        return self.file.rsplit("/", 1)[-1].removesuffix(".jsonl")


COLUMNS: Final = tuple(f.name for f in fields(Summary))


def temperature_at(readings: Sequence[Probe], t: float) -> float | None:
    """Probe temperature at roast time ``t`` (s), °C: on the line between the readings around it; up to ``NEAR`` beyond
    the last on the line through the last two.  None when no reading is within ``NEAR``."""
    if len(readings) < 2:
        return None
    after = next((i for i, r in enumerate(readings) if r.t >= t), len(readings))
    if after == 0:
        return readings[0].celsius if readings[0].t - t < 1 else None
    a, b = (readings[after - 1], readings[after]) if after < len(readings) else (readings[-2], readings[-1])
    if min(abs(a.t - t), abs(b.t - t)) > NEAR or (after == len(readings) and t - b.t > NEAR):
        return None
    return a.celsius if b.t <= a.t else a.celsius + (b.celsius - a.celsius) * (t - a.t) / (b.t - a.t)


def turning_point(readings: Sequence[Probe]) -> tuple[float, float] | None:
    """Time (s) and value (°C) of the lowest point: the vertex of the parabola through the lowest reading and its
    neighbours, kept between them.  None without a fall and a rise in the first ``EARLY`` seconds, and where a neighbour
    lies over ``NEAR`` away: the lowest point may then be anywhere between."""
    early = [r for r in readings if 0 <= r.t <= EARLY]
    if len(early) < 3:
        return None
    i = min(range(len(early)), key=lambda j: early[j].celsius)
    if i in (0, len(early) - 1):
        return None
    (x0, y0), (x1, y1), (x2, y2) = ((r.t, r.celsius) for r in early[i - 1 : i + 2])
    if not x0 < x1 < x2:
        return x1, y1
    if max(x1 - x0, x2 - x1) > NEAR:
        return None
    left, right = (y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1)
    bend = (right - left) / (x2 - x0)
    if bend <= 0:
        return x1, y1
    x = min(max((x0 + x1) / 2 - left / (2 * bend), x0), x2)
    return x, min(y1, y0 + left * (x - x0) + bend * (x - x0) * (x - x1))


def summarise(roast: Roast, file: str) -> Summary:
    """Summarise a roast as a row of the logbook."""
    header, result = roast.header, roast.result
    readings = plausible(roast.readings)
    marks = roast.marks

    def at(event: Event) -> float | None:
        return temperature_at(readings, marks[event]) if event in marks else None

    turned = turning_point(readings)
    if "turning point" in marks:
        turned_t: float | None = marks["turning point"]
        turned_c = at("turning point")
    else:
        turned_t, turned_c = turned or (None, None)
    drop, crack = marks.get("drop"), marks.get("first crack")
    charge = roast.charge_reading
    weight_in = roast.batch_kg
    weight_out = result.weight_out if result else None
    return Summary(
        file=file, id=header.id, profile=header.profile, coffee=header.coffee, machine=header.machine,
        person=header.person or (result.person if result and result.person else ""), started=header.started,
        moment=local(header.moment),
        run=header.run, unit=header.unit,
        ended=ending(roast),
        batch_kg=header.batch_kg,
        charge_temperature=None if charge is None else charge.celsius,
        turning_time=turned_t, turning_temperature=turned_c,
        yellow_time=marks.get("yellow"), yellow_temperature=at("yellow"),
        crack_time=crack, crack_temperature=at("first crack"),
        drop_time=drop, drop_temperature=at("drop"),
        development=roast.development,
        ratio=None if roast.development is None or not drop else roast.development / drop,
        weight_in=weight_in, weight_out=weight_out, loss=weight_loss(weight_in, weight_out),
        colour=result.colour if result else None,
        colour_scale=(result.colour_scale or "") if result else "",
        cup_score=result.cup_score if result else None,
        accepted=result.accepted if result else None,
        readings=len(roast.readings),
    )  # fmt: skip


def ending(roast: Roast) -> Ended:
    """End of a roast: dropped, abandoned, not charged, no drop (an imported one), or unfinished."""
    if "drop" in roast.marks:
        return "dropped"
    if roast.abandoned:
        return "abandoned"
    if getattr(roast.header, "imported_from", ""):
        return "no drop"
    return "not charged" if roast.charge_at is None else "unfinished"


def local(moment: datetime) -> str:
    """A moment by this machine's clock, YYYY-MM-DDThh:mm:ss; as it stands where the system has no local time for it."""
    try:
        return moment.astimezone().isoformat(timespec="seconds")[:19]
    except (OverflowError, OSError):  # OSError: before 1970 on Windows
        return moment.isoformat(timespec="seconds")[:19]


def weight_loss(weight_in: float | None, weight_out: float | None) -> float | None:
    """Loss of weight in percent of the green weight as weighed (wet basis: the green beans' water is in it)."""
    if weight_in is None or weight_out is None or not 0 < weight_out <= weight_in:
        return None
    return 100.0 * (weight_in - weight_out) / weight_in
