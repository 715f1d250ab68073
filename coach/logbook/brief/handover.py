"""State of a running roast at one moment, for the person who takes it over.  Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.cues.evidence import drop_due, last_doubtful, last_used
from coach.cues.situation import ActiveCue, Situation
from coach.forecast.estimator import HIGHEST
from coach.forecast.knowledge import Knowledge
from coach.logbook.brief.read_back import Fact, drop_rule, facts_of
from coach.logbook.review.review import degrees, setting
from coach.logbook.text.text_table import cut
from coach.roast.entries import Header
from coach.roast.profile import Profile
from coach.roast.roast import Numbered, Probe, as_fed
from coach.roast.units import clock, from_celsius, from_kelvins, from_kpa, number

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
class HandoverState:
    """The situation of a running roast, and its active cues."""

    situation: Situation
    cues: tuple[ActiveCue, ...]

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
        return cls(coach.situation, tuple(c for c in coach.cues if c.state in STANDING))

    @property
    def t(self) -> float | None:
        """Roast time, s; None before charge."""
        return self.situation.t

    @property
    def readings(self) -> tuple[Probe, ...]:
        """Readings since charge, without the rejected ones."""
        s = self.situation
        doubtful = s.estimate.doubtful if s.estimate is not None else {}
        return tuple(r for r in s.roast.readings if r.line not in doubtful)

    def settings(self, profile: Profile) -> dict[str, float]:
        """Present settings of the controls, as on their dials (gas in the profile's unit)."""
        out: dict[str, float] = {}
        for m in self.situation.roast.moves:
            unit = profile.document.pressure_unit
            out[m.control] = from_kpa(m.value, unit) if m.control == "gas" else m.value
        return out

    def sections(self, profile: Profile) -> list[Section]:
        """Sections on the roast now, and on the coach's forecast."""
        s, unit = self.situation, profile.unit
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
        dials = self.settings(profile)
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
        return [Section("The roast now", tuple(lines)), Section("What is coming", tuple(self._coming(profile)))]

    def _coming(self, profile: Profile) -> list[str]:
        s, unit = self.situation, profile.unit
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

    def actions(self, profile: Profile) -> list[str]:
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
            out.append(f"Set {setting(profile, n.step)} {when}.")
        ahead = self._next_event(profile)
        if ahead:
            out.append(ahead)
        out.append("Look at flame, drum, extraction and cooling tray.")
        return out[:3]

    def _next_event(self, profile: Profile) -> str:
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

    def facts(self, profile: Profile) -> tuple[Fact, ...]:
        """Three facts that the incoming person says back before the other lets go."""
        s, unit = self.situation, profile.unit
        out = []
        last = last_used(s)
        if last is not None:
            hot = from_celsius(last.celsius, unit)
            out.append(Fact(f"What did the probe read last, in °{unit}?", f"{number(hot)} °{unit}", hot, 1.0))
        gas = self.settings(profile).get("gas")
        if gas is not None:
            sign = profile.document.pressure_unit
            out.append(Fact(f"What does gas stand at, in {sign}?", f"{number(gas, 3)} {sign}", gas, 0.02 * gas + 1e-6))
        return (*out[:2], *facts_of(profile)[::-1])[:3]
