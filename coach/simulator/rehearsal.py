"""A rehearsal's side of the screen: the simulated roaster hears the moves and shows its dials."""

from __future__ import annotations

from coach.entries import Entry, Mark, Move, Reading
from coach.session import Coach
from coach.simulator.machine import Machine
from coach.simulator.roaster import SimulatedRoaster
from coach.units import from_celsius, to_kpa


class Rehearsal:
    """The simulated roaster behind the screen.  With ``auto`` a simulated person types."""

    def __init__(self, machine: Machine, *, seed: int = 0, auto: bool = False) -> None:
        self.roaster = SimulatedRoaster(machine, seed=seed)
        self.auto = auto
        self._next_reading = 5.0

    def hear(self, entry: Entry, coach: Coach) -> None:
        """A move, the charge or the drop acts on the roaster, at its present moment."""
        if isinstance(entry, Move):
            value = to_kpa(entry.value, coach.header.pressure_unit) if entry.control == "gas" else entry.value
            low, high = self.roaster.machine.range(entry.control)
            self.roaster.set(entry.control, min(max(value, low), high))
        elif isinstance(entry, Mark) and entry.event == "charge" and not self.roaster.loaded:
            self.roaster.charge()
            self._next_reading = entry.at + 20
        elif isinstance(entry, Mark) and entry.event == "drop" and self.roaster.loaded:
            self.roaster.drop()

    def advance(self, now: float, coach: Coach) -> list[Entry]:
        """Let the roaster run to ``now``; what the simulated person types meanwhile."""
        self.roaster.advance(max(now, self.roaster.time))
        return self._typed(now, coach) if self.auto else []

    def _typed(self, now: float, coach: Coach) -> list[Entry]:
        out: list[Entry] = []
        roast, unit = coach.roast, coach.header.unit
        if roast.phase == "cooling":
            return out
        if now >= self._next_reading:
            out.append(Reading(at=now, temperature=self.roaster.display(1.0, unit)))
            self._next_reading = now + 30
        if roast.charge_at is None:
            if now >= 30:
                out.append(Mark(at=now, event="charge"))
            return out
        step = coach.situation.next_move
        if step is not None and step.until <= 0:
            out.append(Move(at=now, control=step.step.control, value=step.step.shown))
        truth = self.roaster.truth
        if truth is None:
            return out
        if truth.yellow is not None and roast.phase == "drying":
            out.append(Mark(at=now, event="yellow"))
        elif truth.first_crack is not None and roast.phase == "browning" and now > truth.first_crack + 4:
            out.append(Mark(at=now, event="first crack"))
        elif roast.phase == "development":
            due = roast.charge_at + roast.marks["first crack"] + (coach.profile.development or 90.0)
            if now >= due:
                out.append(Mark(at=now, event="drop"))
        return out

    def line(self, coach: Coach) -> str:
        """The dials as a person sees them, and the pops heard."""
        r, unit = self.roaster, coach.header.unit
        pops = [p for p in r.pops_until() if p.time > r.time - 10]
        shown = r.display(1.0, unit)
        hint = "" if r.loaded else f"  (charge at {from_celsius(coach.profile.charge_temperature, unit):.0f})"
        return (
            f"SIMULATED ROASTER  dial {shown:.0f} °{unit}  gas {r.setting('gas'):.2f} kPa  air {r.setting('air'):.1f}"
            f"  pops in 10 s: {len(pops)}{hint}"
        )
