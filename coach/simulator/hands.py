"""Hands on a simulated roaster that remember what they did, so that it can be done again."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from coach.simulator.roaster import Fault, SimulatedRoaster
from coach.units import Control


@dataclass(frozen=True)
class Act:
    """Something done to the roaster at a time (s since its start); gas in kPa."""

    time: float
    what: Literal["set", "charge", "drop", "fault"]
    control: Control | None = None
    fault: Fault | None = None
    value: float = 0.0


def perform(roaster: SimulatedRoaster, act: Act) -> None:
    """Do it on a roaster that stands at the act's time."""
    if act.what == "charge":
        roaster.charge()
    elif act.what == "drop":
        roaster.drop()
    elif act.what == "fault" and act.fault is not None:
        roaster.fault(act.fault, act.value)
    elif act.control is not None:
        roaster.set(act.control, act.value)


@dataclass
class LoggedHands:
    """Hands on the roaster with a memory; see :class:`coach.simulator.person.Hands`."""

    roaster: SimulatedRoaster
    acts: list[Act] = field(default_factory=list)

    def set(self, control: Control, value: float) -> None:
        """Move a control: gas [kPa], air and drum [dial]; as far as it goes."""
        low, high = self.roaster.machine.range(control)
        self.do(Act(self.roaster.time, "set", control, value=min(max(value, low), high)))

    def charge(self) -> None:
        """Drop the beans into the drum; nothing happens if there are some in it."""
        if not self.roaster.loaded:
            self.do(Act(self.roaster.time, "charge"))

    def drop(self) -> None:
        """Let the beans out; nothing happens if there are none."""
        if self.roaster.loaded:
            self.do(Act(self.roaster.time, "drop"))

    def fault(self, fault: Fault, value: float) -> None:
        """Switch a fault on or off; for what the values mean see the roaster."""
        self.do(Act(self.roaster.time, "fault", fault=fault, value=value))

    def do(self, act: Act) -> None:
        """Do it now and remember it."""
        self.acts.append(act)
        perform(self.roaster, act)
