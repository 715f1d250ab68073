"""The roast: the fold of its entries.  Nothing else holds state about it."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from operator import attrgetter
from typing import Any, Final, Literal

from pydantic import ValidationError

from coach.roast.entries import (
    ENTRY,
    EVENTS,
    KINDS,
    Correction,
    Dial,
    Entry,
    Event,
    Header,
    Mark,
    Move,
    Note,
    Pop,
    Reading,
    Reply,
    Result,
)
from coach.roast.errors import EntryError, faults
from coach.roast.units import Control, clock, to_celsius, to_kelvins, to_kpa

Phase = Literal["waiting", "drying", "browning", "development", "cooling"]

PHASES: Final[dict[tuple[Phase, Event], Phase]] = {
    ("waiting", "charge"): "drying",
    ("drying", "turning point"): "drying",
    ("drying", "yellow"): "browning",
    ("drying", "first crack"): "development",
    ("drying", "drop"): "cooling",
    ("browning", "turning point"): "browning",
    ("browning", "first crack"): "development",
    ("browning", "drop"): "cooling",
    ("development", "second crack"): "development",
    ("development", "drop"): "cooling",
}
"""Next phase by phase and mark.  A pair that is not here is refused."""


LONGEST: Final = 24 * 3600.0
"""Nothing of a roast happens later than this after charge, s: a time beyond it is a wrong one."""
AT_CHARGE: Final = 20.0
"""Longest time before charge at which a reading still shows the charge temperature, s."""


@dataclass(frozen=True)
class Probe:
    """A reading in core units: ``t`` roast time (s; ``at`` while there is no charge), ``celsius``, its line, when it
    came in (same axis as ``t``), the value as typed, and whether it was timed as the dial turned over to it."""

    t: float
    celsius: float
    line: int
    came: float
    shown: float
    turned: bool = False


@dataclass(frozen=True)
class Turned:
    """A move in core units: gas in kPa, air and drum as on the dial; ``shown`` as typed."""

    t: float
    control: Control
    value: float
    line: int
    shown: float


@dataclass(frozen=True)
class Roast:
    """The roast so far.  Times are roast times (s after charge); before the charge they are ``at``."""

    header: Header
    charge_at: float | None = None
    marks: dict[Event, float] = field(default_factory=dict)
    readings: tuple[Probe, ...] = ()
    preheat: tuple[Probe, ...] = ()
    moves: tuple[Turned, ...] = ()
    pops: tuple[float, ...] = ()
    notes: tuple[tuple[float, str], ...] = ()
    replies: tuple[tuple[float, Reply], ...] = ()
    result: Result | None = None
    phase: Phase = "waiting"

    def time(self, at: float) -> float:
        """Roast time of a moment on the ``at`` axis, s (``at`` itself while there is no charge)."""
        return at if self.charge_at is None else at - self.charge_at

    def setting(self, control: Control, t: float) -> float | None:
        """Setting of a control at roast time ``t`` (s), gas in kPa; None when it was never reported."""
        found: float | None = None
        for move in self.moves:
            if move.control == control and move.t <= t:
                found = move.value
        return found

    @property
    def charge_reading(self) -> Probe | None:
        """The reading that shows the charge temperature: the last one in the 20 s before charge, or at it; None when
        there is none, as the probe falls at once after charge and the drum warms or cools before."""
        near = [r for r in self.preheat if self.charge_at is not None and r.t >= -AT_CHARGE]
        near += [r for r in self.readings if r.t <= 1.0]
        return next((r for r in reversed(near) if 60 <= r.celsius <= 300), None)

    @property
    def batch_kg(self) -> float | None:
        """The weight that was charged, kg: as weighed (result), else that of the header."""
        weighed = self.result.weight_in if self.result is not None else None
        return self.header.batch_kg if weighed is None else weighed

    @property
    def teaches(self) -> bool:
        """True unless a person refused it as evidence."""
        return self.result is None or self.result.learn is not False

    @property
    def abandoned(self) -> bool:
        """True if a person closed it without a drop."""
        return "drop" not in self.marks and self.result is not None and self.result.abandoned is True

    @property
    def finished(self) -> bool:
        """True if it was dropped or abandoned: nothing more can come."""
        return "drop" in self.marks or self.abandoned

    @property
    def rounding(self) -> float:
        """The step in which the readings are typed, K."""
        return dial_step(self.readings, self.header)

    @property
    def first_rounding(self) -> float:
        """The same by the first few readings, K: what the coach goes by from then on, in whatever order they came."""
        return dial_step(self.readings[:6], self.header)

    @property
    def needle(self) -> bool:
        """True if the readings are read off a needle."""
        return self.header.dial == "needle"

    def until(self, t: float) -> Roast:
        """The roast as it was at roast time ``t`` (s), not before charge."""
        marks = {e: m for e, m in self.marks.items() if m <= t}
        replies = tuple(r for r in self.replies if r[0] <= t)
        counts = until(self.readings, t), until(self.moves, t), bisect_right(self.pops, t), len(marks), len(replies)
        if counts == (len(self.readings), len(self.moves), len(self.pops), len(self.marks), len(self.replies)):
            return self
        phase: Phase = "waiting"
        for event in EVENTS:
            if event in marks:
                phase = PHASES[phase, event]
        return replace(
            self,
            marks=marks,
            readings=self.readings[: counts[0]],
            moves=self.moves[: counts[1]],
            pops=self.pops[: counts[2]],
            replies=replies,
            phase=phase,
        )

    @property
    def development(self) -> float | None:
        """Development time at drop, s; None before drop or without first crack."""
        if "drop" in self.marks and "first crack" in self.marks:
            return self.marks["drop"] - self.marks["first crack"]
        return None


_T: Final = attrgetter("t")


def until(items: Sequence[Probe] | Sequence[Turned], t: float) -> int:
    """Number of readings or moves, in order of time as a roast has them, made up to ``t`` (s)."""
    return bisect_right(items, t, key=_T)


STEPS: Final[dict[Dial, float]] = {"whole": 1.0, "half": 0.5, "tenths": 0.1, "needle": 1.0}
"""The step of each dial, degrees; of a needle's readings, which are typed to the degree."""


def dial_step(readings: Iterable[Probe], header: Header) -> float:
    """The step in which readings are typed, K: that of the dial, where the header names it, else whole degrees of the
    header's unit, or tenths if any reading has decimals."""
    degree = to_kelvins(1.0, header.unit)
    if header.dial is not None:
        return STEPS[header.dial] * degree
    return degree if all(abs(r.shown - round(r.shown)) < 1e-6 for r in readings) else degree / 10


@dataclass(frozen=True)
class Numbered:
    """An entry with its journal line (the header is line 1)."""

    line: int
    entry: Entry


def as_fed(entries: Sequence[Numbered]) -> list[Numbered]:
    """The entries of a whole journal as a coach is fed: none came in later than a line after it, whatever it claims."""
    out: list[Numbered] = []
    latest = float("inf")
    for n in reversed(entries):
        if n.entry.came > latest:
            n = Numbered(n.line, n.entry.model_copy(update={"typed": max(latest, n.entry.at)}))
        latest = min(latest, n.entry.came)
        out.append(n)
    return out[::-1]


def effective(entries: Iterable[Numbered]) -> list[Numbered]:
    """The entries in force after all corrections, in order of ``at``.

    Raises EntryError when a correction names a line that holds no entry, or makes an entry that can't be.
    """
    in_force: dict[int, Numbered] = {}
    corrections: set[int] = set()
    for n in entries:
        if not isinstance(n.entry, Correction):
            in_force[n.line] = n
            continue
        corrections.add(n.line)
        of = n.entry.of
        if of not in in_force:
            what = "is a correction itself" if of in corrections else "holds no entry that stands"
            raise EntryError(f"A correction names line {of}, which {what}.", "Name the line of an entry.")
        if n.entry.replace is None:
            del in_force[of]
        else:
            in_force[of] = _corrected(in_force[of], n.entry.replace)
    return sorted(in_force.values(), key=lambda n: (n.entry.at, n.line))


def _corrected(old: Numbered, changes: dict[str, Any]) -> Numbered:
    dump = old.entry.model_dump(exclude_none=True)
    if "at" in changes and changes["at"] != dump["at"]:  # a time given afterwards is not the moment of a turn
        dump.pop("turned", None)
    try:
        new = ENTRY.validate_python({**dump, **changes})
    except ValidationError as error:
        raise EntryError(f"The correction of line {old.line} can't be taken: {explain(error)}.", "") from None
    if isinstance(new, Correction):
        raise EntryError(f"The correction of line {old.line} would make it a correction.", "")
    return Numbered(old.line, new)


def explain(error: ValidationError) -> str:
    """The first fault of a validation error in one line, with the field's name."""
    return faults(error, 1, _KIND_TAGS)[0]


_KIND_TAGS: Final = frozenset(KINDS) - {"note"}


def placed(n: Numbered, charge_at: float | None, header: Header) -> tuple[str, Any] | None:
    """The list of a roast that an entry belongs to, and the item for it in core units; None for other entries.

    ``charge_at`` is the charge on the ``at`` axis, s.
    """
    e, base = n.entry, charge_at or 0.0
    t = e.at - base
    if isinstance(e, Reading):
        before = charge_at is None or t < 0
        celsius = to_celsius(e.temperature, header.unit)
        probe = Probe(t, celsius, n.line, e.came - base, e.temperature, e.turned is True)
        return "preheat" if before else "readings", probe
    if isinstance(e, Move):
        value = to_kpa(e.value, header.pressure_unit) if e.control == "gas" else e.value
        return "moves", Turned(t, e.control, value, n.line, e.value)
    if isinstance(e, Pop):
        return "pops", t
    if isinstance(e, Note):
        return "notes", (t, e.text)
    return ("replies", (e.came - base, e)) if isinstance(e, Reply) else None


def fold(header: Header, entries: Iterable[Numbered]) -> Roast:
    """The roast that entries (corrected, in order of ``at``: see ``effective``) fold to.

    Raises EntryError when a mark comes before its predecessor, or twice, or something more than a day after charge.
    """
    ordered = list(entries)
    charge_at = next((n.entry.at for n in ordered if isinstance(n.entry, Mark) and n.entry.event == "charge"), None)
    marks, phase = _marks(ordered, charge_at)
    lists: dict[str, list[Any]] = defaultdict(list)
    result: Result | None = None
    for n in ordered:
        within_a_day(n, charge_at)
        found = placed(n, charge_at, header)
        if found is not None:
            lists[found[0]].append(found[1])
        elif isinstance(n.entry, Result):
            result = _merge(result, n.entry)
    return Roast(
        header,
        charge_at,
        marks,
        result=result,
        phase=phase,
        **{k: tuple(v) for k, v in lists.items()},
    )


def within_a_day(n: Numbered, charge_at: float | None) -> None:
    """Raise EntryError when something that happens in a roast is more than a day after charge."""
    if charge_at is not None and n.entry.at - charge_at > LONGEST and isinstance(n.entry, Reading | Move | Pop | Mark):
        raise EntryError(
            f"{(n.entry.at - charge_at) / 3600:.0f} hours after charge (line {n.line}) is too late: a roast is over in"
            " a day.",
            "Correct the time, or begin a new roast.",
        )


def _marks(ordered: list[Numbered], charge_at: float | None) -> tuple[dict[Event, float], Phase]:
    marks: dict[Event, float] = {}
    lines: dict[Event, int] = {}
    phase: Phase = "waiting"
    calls = [n for n in ordered if isinstance(n.entry, Mark)]
    calls.sort(key=lambda n: (n.entry.at, EVENTS.index(n.entry.event)))  # type: ignore[attr-defined]
    for n in calls:
        event: Event = n.entry.event  # type: ignore[attr-defined]
        if event in marks:
            raise EntryError(
                f"{event} is already marked at {clock(marks[event])} (line {lines[event]}).",
                "Withdraw that mark first, or correct its time.",
            )
        if (phase, event) not in PHASES:
            raise EntryError(_why_not(phase, event, marks), "Check the time, or withdraw the mark that is wrong.")
        phase = PHASES[phase, event]
        marks[event] = n.entry.at - (charge_at or 0.0)
        lines[event] = n.line
    return marks, phase


def _why_not(phase: Phase, event: Event, marks: dict[Event, float]) -> str:
    if phase == "waiting":
        return f"{event} can't come before charge."
    if phase == "cooling":
        return f"{event} can't come after drop ({clock(marks['drop'])})."
    if event == "second crack":
        return "second crack can't come before first crack."
    later = [e for e in EVENTS if e in marks and EVENTS.index(e) > EVENTS.index(event)]
    return f"{event} can't come after {later[-1] if later else phase}."


def _merge(old: Result | None, new: Result) -> Result:
    if old is None:
        return new
    given = {k: v for k, v in new.model_dump(exclude={"at", "typed", "kind"}).items() if v is not None}
    return old.model_copy(update=given)


@dataclass(frozen=True)
class Folded:
    """``entries`` as they came in, those in force in order of ``at``, the ``roast``, and the highest line.

    ``fold`` defines a roast; this gives the same, entry after entry (a test checks that).  What comes in order of time
    is appended; what is late, or changes more than one list, folds all entries again (0.2 ms for 150 of them).
    """

    header: Header
    entries: tuple[Numbered, ...]
    ordered: tuple[Numbered, ...]
    roast: Roast
    top: int

    @classmethod
    def of(cls, header: Header, entries: Sequence[Numbered] = ()) -> Folded:
        """Fold from the start.  Raises EntryError when the entries can't be a roast."""
        ordered = tuple(effective(entries))
        return cls(header, tuple(entries), ordered, fold(header, ordered), max((n.line for n in entries), default=1))

    def with_entry(self, numbered: Numbered) -> Folded:
        """Add one entry, which came in last.  Raises EntryError when it doesn't fit; this one is unchanged."""
        entries, roast = (*self.entries, numbered), self.roast
        late = numbered.line <= self.top or any(n.entry.at > numbered.entry.at for n in self.ordered[-1:])
        found = None if late else placed(numbered, roast.charge_at, self.header)
        if found is None:
            return Folded.of(self.header, entries)
        within_a_day(numbered, roast.charge_at)
        name, item = found
        longer: dict[str, Any] = {name: (*getattr(roast, name), item)}
        return Folded(self.header, entries, (*self.ordered, numbered), replace(roast, **longer), numbered.line)
