"""State of a running roast at one moment, for the person who takes it over, and the facts that they say back.  Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.cues.evidence import drop_due, last_doubtful, last_used
from coach.cues.situation import ActiveCue, Situation
from coach.forecast.estimator import HIGHEST
from coach.forecast.knowledge import Knowledge
from coach.logbook.review.review import degrees, setting
from coach.logbook.text.text_table import cut
from coach.roast.entries import Header
from coach.roast.profile import Profile, in_unit
from coach.roast.roast import Numbered, Probe, as_fed
from coach.roast.units import clock, from_celsius, from_kelvins, from_kpa, number, parse_clock

NOTE_CELLS = 160
SAID = 4
"""Number of newest notes of the running roast that are handed over."""
STANDING = ("unacknowledged", "acknowledged", "shelved")


@dataclass(frozen=True)
class Section:
    """A heading with lines; ``rows`` is a table with ``head``; ``check`` are boxes to tick, ``ordered`` are steps;
    ``spare`` are the columns that go below their row on a narrow terminal, the first ones first."""

    title: str
    lines: tuple[str, ...] = ()
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    check: bool = False
    ordered: bool = False
    spare: tuple[str, ...] = ()


@dataclass(frozen=True)
class Fact:
    """A fact that the incoming person says back: the question, the answer in words, its number (``value``), and the
    tolerance of an answer (``within``); ``time``: the number is a time, s."""

    question: str
    answer: str
    value: float
    within: float
    time: bool = False

    def fits(self, said: str) -> bool:
        """True if an answer holds the number (a time as m:ss or seconds)."""
        text = said.strip().lower().rstrip("°cfkgps ").replace(",", ".").strip()
        try:
            value = parse_clock(text) if self.time or ":" in text else float(text)
        except ValueError:
            return False
        return abs(value - self.value) <= self.within


def drop_rule(profile: Profile) -> str:
    """The rule for drop, in words."""
    d, unit = profile.document.drop, profile.unit
    hot = degrees(profile.drop_temperature, unit)
    if d.by == "temperature":
        return f"drop at {hot} (± {number(d.temperature_tolerance)} °{unit})"
    if d.by == "ratio" and d.ratio is not None:
        return f"drop when development is {100 * d.ratio:.1f} % of the roast, about {hot}"
    return f"drop {clock(profile.development or 0.0)} after first crack, about {hot}"


def facts_of(profile: Profile) -> tuple[Fact, ...]:
    """Three facts that the incoming person says back before charge."""
    unit, d = profile.unit, profile.document
    charge = from_celsius(profile.charge_temperature, unit)
    limit = from_celsius(profile.safety, unit)
    first = Fact(
        f"At which temperature do you charge, in °{unit}?", f"{number(charge)} °{unit}", charge, d.charge_tolerance / 2
    )
    last = Fact(f"At which temperature is the heat off at once, in °{unit}?", f"{number(limit)} °{unit}", limit, 0.6)
    if d.drop.by == "development" and profile.development is not None:
        text = clock(profile.development)
        middle = Fact("How long after first crack do you drop (m:ss)?", text, profile.development, 2.0, time=True)
    else:
        hot = from_celsius(profile.drop_temperature, unit)
        middle = Fact(f"At about which temperature do you drop, in °{unit}?", f"{number(hot)} °{unit}", hot, 1.0)
    return first, middle, last


@dataclass(frozen=True)
class HandoverState:
    """The situation of a running roast, its active cues, and the profile in the unit of the roast."""

    situation: Situation
    cues: tuple[ActiveCue, ...]
    profile: Profile

    @classmethod
    def of(
        cls,
        profile: Profile,
        header: Header,
        entries: Sequence[Numbered],
        at: float,
        knowledge: Knowledge | None = None,
    ) -> HandoverState:
        """Compute it from a journal's entries, at ``at`` (s since the journal's start).  Raises EntryError when the
        entries can't be a roast."""
        from coach.session.coach import Coach

        coach = Coach(profile, header, knowledge)
        for n in as_fed(entries):
            if n.entry.came > at:
                break
            coach.advance(n.entry.came)
            coach.receive(n.entry, n.line)
        coach.advance(at)
        active = tuple(c for c in coach.cues if c.state in STANDING)
        return cls(coach.situation, active, in_unit(profile, header.unit))

    @property
    def readings(self) -> tuple[Probe, ...]:
        """Readings since charge, without the rejected ones."""
        s = self.situation
        doubtful = s.estimate.doubtful if s.estimate is not None else {}
        return tuple(r for r in s.roast.readings if r.line not in doubtful)

    @property
    def settings(self) -> dict[str, float]:
        """Present settings of the controls, as on their dials (gas in the profile's unit)."""
        unit = self.profile.document.pressure_unit
        moves = self.situation.roast.moves
        return {m.control: from_kpa(m.value, unit) if m.control == "gas" else m.value for m in moves}

    def sections(self) -> list[Section]:
        """Sections on the roast now, and on the coach's forecast."""
        s, profile, unit = self.situation, self.profile, self.profile.unit
        lines = []
        if s.t is None:
            lines.append("Not charged yet.")
        else:
            lines.append(f"Roast time {clock(s.t)}, {s.roast.phase}.")
        last = (
            last_used(s)
            if s.roast.readings
            else next((r for r in reversed(s.roast.preheat) if -20 <= r.celsius <= HIGHEST), None)
        )
        if last is not None:
            age = (s.t if s.t is not None else s.at) - last.t
            lines.append(f"Last reading {degrees(last.celsius, unit)}, {clock(max(age, 0.0))} ago.")
        if (refused := last_doubtful(s)) is not None:
            lines.append(f"One after it, {clock(refused[0].t)}, was not used: it looks wrong. Read the probe anew.")
        f = s.forecast
        if s.beyond_reference and s.roast.phase != "cooling":
            lines.append(f"The plan ended at {clock(profile.curve.end)}: nothing to compare with.")
        if f.deviation is not None and f.lag is not None:
            word = "hotter" if f.deviation > 0 else "cooler"
            ahead = "behind" if f.lag > 0 else "ahead of"
            lines.append(
                f"{number(from_kelvins(abs(f.deviation), unit))} °{unit} {word} than the plan, "
                f"{number(abs(f.lag), 0)} s {ahead} it."
            )
        dials = self.settings
        if dials:
            kpa = profile.document.pressure_unit
            lines.append(
                "Set: " + ", ".join(f"{c} {number(v, 3)}{' ' + kpa if c == 'gas' else ''}" for c, v in dials.items())
            )
        marks = ", ".join(f"{e} {clock(t)}" for e, t in s.roast.marks.items() if e != "charge")
        if marks:
            lines.append(f"Marked: {marks}.")
        notes = s.roast.notes
        if len(notes) > SAID:
            lines.append(f"Noted ({len(notes) - SAID} before these are in the journal):")
        lines += [f"Noted at {clock(t)}: “{cut(' '.join(text.split()), NOTE_CELLS)}”" for t, text in notes[-SAID:]]
        return [Section("The roast now", tuple(lines)), Section("What is coming", tuple(self._coming()))]

    def _coming(self) -> list[str]:
        s, unit = self.situation, self.profile.unit
        out: list[str] = []
        f = s.forecast
        if f.first_crack is not None:
            c = f.first_crack
            out.append(
                f"First crack {clock(c.time.median)} ({clock(c.time.q10)} to {clock(c.time.q90)}), about "
                f"{degrees(c.temperature, unit)}."
            )
        due = drop_due(s)
        if due is not None:
            span = "" if due.ruled else f" ({clock(due.soonest)} to {clock(due.latest)})"
            tapped = " (first crack as tapped, not confirmed)" if due.provisional else ""
            out.append(f"Drop {clock(due.time)}{span}, about {degrees(due.temperature, unit)}{tapped}.")
        if not out:
            out.append("No forecast: " + ("; ".join(f.reasons) or "can't say yet") + ".")
        if s.advice is not None and s.advice.text:
            out.append(f"Advice: {s.advice.text}")
        out += [f"Now: {c.text}; {c.action}" for c in self.cues]
        return out

    def actions(self) -> list[str]:
        """The first three things to do."""
        s = self.situation
        out = []
        alarm = next((c for c in self.cues if c.family == "alarm"), None)
        if alarm is not None:
            out.append(f"{alarm.action[0].upper()}{alarm.action[1:]} ({alarm.text}).")
        out.append("Read the probe, and type it.")
        if s.next_move is not None:
            n = s.next_move
            when = "now" if n.until <= 0 else f"at {clock(n.due)}, in {clock(n.until)}"
            out.append(f"Set {setting(self.profile, n.step)} {when}.")
        out.append(self._next_event())
        out.append("Look at flame, drum, extraction and cooling tray.")
        return out[:3]

    def _next_event(self) -> str:
        profile = self.profile
        due, rule = drop_due(self.situation), drop_rule(profile)
        if due is not None:
            rule = f"drop at {clock(due.time)}, about {degrees(due.temperature, profile.unit)}"
        return {
            "waiting": f"Charge at {degrees(profile.charge_temperature, profile.unit)}, and mark it.",
            "drying": "Watch for yellow, and mark it.",
            "browning": "Listen for first crack, and mark it when it is heard.",
            "development": f"Get ready: {rule}.",
            "cooling": "Dropped: cool, weigh, and note the result.",
        }[self.situation.roast.phase]

    def facts(self) -> tuple[Fact, ...]:
        """Three facts that the incoming person says back before the other lets go."""
        s, profile, unit = self.situation, self.profile, self.profile.unit
        out = []
        last = last_used(s)
        if last is not None:
            hot = from_celsius(last.celsius, unit)
            out.append(Fact(f"What did the probe read last, in °{unit}?", f"{number(hot)} °{unit}", hot, 1.0))
        gas = self.settings.get("gas")
        if gas is not None:
            sign = profile.document.pressure_unit
            out.append(Fact(f"What does gas stand at, in {sign}?", f"{number(gas, 3)} {sign}", gas, 0.02 * gas + 1e-6))
        return (*out[:2], *facts_of(profile)[::-1])[:3]
