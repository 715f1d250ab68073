"""Roasts in which something goes wrong, made from simulated ones, and what a forecast must never say."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

import numpy as np
from workshops import workshop

from coach.app.commands.replay import answer
from coach.roast.entries import Correction, Entry, Header, Mark, Reading
from coach.roast.profile import Profile
from coach.roast.units import from_celsius, to_celsius
from coach.session.coach import Coach

SEED: Final = 4711
"""Seed of these workshops; nothing was chosen by looking at them."""
BEFORE: Final = 10.0
"""Crack may not be foreseen longer ago than this, s."""
FAR: Final = 3600.0
"""Nor further ahead, s."""


@dataclass(frozen=True)
class Day:
    """A simulated roast: the profile, the header and the entries in the order in which they come in."""

    profile: Profile
    header: Header
    entries: tuple[Entry, ...]

    def at(self, event: str) -> float:
        """When a mark was made, on the ``at`` axis, s."""
        return next(e.at for e in self.entries if isinstance(e, Mark) and e.event == event)


@cache
def day(number: int) -> Day | None:
    """The roast of one workshop; None where there is none."""
    made = workshop(SEED, number, 0, 1)
    if made is None or not made.live:
        return None
    live = made.live[0]
    return Day(made.profile, live.header, tuple(n.entry for n in live.entries))


Trouble = Callable[[Day, np.random.Generator], Sequence[Entry]]


def _readings(day: Day, change: Callable[[Reading, float], float]) -> list[Entry]:
    """The entries with the value of each reading changed: ``change(reading, roast time)``."""
    charge = day.at("charge")
    return [
        e.model_copy(update={"temperature": float(round(change(e, e.at - charge), 1))}) if isinstance(e, Reading) else e
        for e in day.entries
    ]


def stuck(day: Day, rng: np.random.Generator) -> Sequence[Entry]:
    """From somewhere in the roast the display stands still."""
    begin, held = float(rng.uniform(150, 400)), [0.0]

    def change(r: Reading, t: float) -> float:
        if t < begin:
            held[0] = r.temperature
        return held[0] if held[0] else r.temperature

    return _readings(day, change)


def drum_air(day: Day, rng: np.random.Generator) -> Sequence[Entry]:
    """From somewhere the tip hangs in the air above the beans: hotter, and more so soon after charge."""
    begin, unit = float(rng.uniform(60, 350)), day.header.unit
    by = float(rng.uniform(15, 60))

    def change(r: Reading, t: float) -> float:
        if t < begin:
            return r.temperature
        return from_celsius(to_celsius(r.temperature, unit) + by * (0.6 + 0.4 * math.exp(-t / 200)), unit)

    return _readings(day, change)


def other_unit(day: Day, rng: np.random.Generator) -> Sequence[Entry]:
    """From somewhere the display shows the other unit, and it is typed as it stands there."""
    begin, unit = float(rng.uniform(120, 420)), day.header.unit
    other = "F" if unit == "C" else "C"

    def change(r: Reading, t: float) -> float:
        return r.temperature if t < begin else from_celsius(to_celsius(r.temperature, unit), other)  # type: ignore[arg-type]

    return _readings(day, change)


def charge_forgotten(day: Day, rng: np.random.Generator) -> Sequence[Entry]:
    """The charge is told a minute to four after it happened, at its true time, but before anything else is marked."""
    marks = [e.at for e in day.entries if isinstance(e, Mark) and e.at > day.at("charge")]
    late = min(float(round(rng.uniform(60, 240))), min(marks) - day.at("charge") - 1.0)

    def mended(e: Entry) -> Entry:
        if isinstance(e, Mark) and e.event == "charge":
            return e.model_copy(update={"typed": e.at + late})
        return e

    return sorted((mended(e) for e in day.entries), key=lambda e: e.came)


def crack_withdrawn(day: Day, rng: np.random.Generator) -> Sequence[Entry]:
    """First crack is marked too early, withdrawn after some seconds, and marked when it comes."""
    early, crack = float(round(rng.uniform(25, 120))), day.at("first crack")
    out: list[Entry] = [e for e in day.entries if e.came < crack - early]
    line = len(out) + 2
    out.append(Mark(at=crack - early, event="first crack"))
    withdrawal = Correction(at=crack - early + float(round(rng.uniform(5, 20))), of=line, replace=None)
    out += sorted([withdrawal, *(e for e in day.entries if e.came >= crack - early)], key=lambda e: e.came)
    return out


TROUBLES: Final[dict[str, Trouble]] = {
    "probe stuck": stuck,
    "probe in the drum's air": drum_air,
    "other unit typed": other_unit,
    "charge forgotten": charge_forgotten,
    "crack withdrawn": crack_withdrawn,
}


def walk(day: Day, entries: Sequence[Entry]) -> list[dict[str, Any]]:
    """The coach's answers after each entry."""
    coach, out = Coach(day.profile, day.header), []
    for e in entries:
        sounded = coach.advance(e.came)
        coach.receive(e)
        out.append(answer(coach, {c.name for c in sounded}))
    return out


def absurd(said: dict[str, Any], unit: str) -> list[str]:
    """What in an answer can't be, in words; [] if nothing."""
    at, out = said["at"], _wrong_numbers(said, "answer")

    def times(d: dict[str, float], name: str) -> None:
        if d["q10"] < at - BEFORE or d["q90"] > at + FAR:
            out.append(f"{name} {d['q10']} to {d['q90']} at {at}")

    def hot(value: float, name: str) -> None:
        if not 0 <= to_celsius(value, unit) <= 320:  # type: ignore[arg-type]
            out.append(f"{name} {value} °{unit} at {at}")

    for event in ("yellow", "first_crack"):
        if said[event] is not None:
            times(said[event], event)
            hot(said[event]["temperature"], event)
            shares = {p: said[event][p] for p in ("p_early", "p_late") if said[event][p] is not None}
            out += [f"{event} {p} {share}" for p, share in shares.items() if not 0 <= share <= 1]
    if said["drop"] is not None:
        times(said["drop"]["time"], "drop")
        for q in ("q10", "median", "q90"):
            hot(said["drop"]["temperature"][q], "drop")
    if said["estimate"] is not None:
        hot(said["estimate"]["temperature"], "estimate")
    return out


def _wrong_numbers(value: Any, where: str) -> list[str]:
    """What is not finite or not in order anywhere in an answer."""
    if isinstance(value, float):
        return [] if math.isfinite(value) else [f"{where} is {value}"]
    if not isinstance(value, dict):
        return []
    out = [wrong for k, v in value.items() for wrong in _wrong_numbers(v, f"{where}.{k}")]
    five = [value[k] for k in ("q10", "q25", "median", "q75", "q90") if "q10" in value]
    return [*out, f"{where} not in order: {five}"] if five != sorted(five) else out


def width(said: dict[str, Any]) -> float | None:
    """From the first to the last tenth of crack's time, s; None without a forecast."""
    crack = said["first_crack"]
    return None if crack is None else float(crack["q90"] - crack["q10"])


def hedge(said: dict[str, Any], sound: dict[str, Any]) -> str:
    """How an answer hedges against the one of the sound roast: withheld, widened, doubted, warned, or ''."""
    mine, theirs = width(said), width(sound)
    if mine is None:
        return "withheld" if said["reasons"] else ""
    if said["doubtful"]:
        return "doubted"
    if theirs is not None and mine > 1.2 * theirs:
        return "widened"
    return "warned" if any(c["family"] == "diagnostic" for c in said["cues"]) else ""
