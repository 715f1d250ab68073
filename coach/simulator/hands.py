"""Hands on a simulated roaster that remember what they did, so that it can be replayed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

from coach.roast.units import Control
from coach.simulator.roaster import Fault, SimulatedRoaster

TOGETHER: Final = 1.0
"""Time apart within which two acts are of the same moment [s]."""


@dataclass(frozen=True)
class HandAct:
    """Something done to the roaster at a time (s since its start); gas in kPa."""

    time: float
    what: Literal["set", "charge", "drop", "fault"]
    control: Control | None = None
    fault: Fault | None = None
    value: float = 0.0


def perform(roaster: SimulatedRoaster, act: HandAct) -> None:
    """Do it on a roaster whose time is the act's."""
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
    """Hands on the roaster with a memory."""

    roaster: SimulatedRoaster
    acts: list[HandAct] = field(default_factory=list)

    def set(self, control: Control, value: float) -> None:
        """Move a control: gas [kPa], air and drum [dial]; as far as it goes."""
        low, high = self.roaster.machine.range(control)
        self.do(HandAct(self.roaster.time, "set", control, value=min(max(value, low), high)))

    def charge(self) -> None:
        """Drop the beans into the drum; nothing happens if there are some in it."""
        if not self.roaster.loaded:
            self.do(HandAct(self.roaster.time, "charge"))

    def drop(self) -> None:
        """Let the beans out; nothing happens if there are none."""
        if self.roaster.loaded:
            self.do(HandAct(self.roaster.time, "drop"))

    def fault(self, fault: Fault, value: float) -> None:
        """Switch a fault on or off; for what the values mean see the roaster."""
        self.do(HandAct(self.roaster.time, "fault", fault=fault, value=value))

    def do(self, act: HandAct) -> None:
        """Do it now and remember it."""
        self.acts.append(act)
        perform(self.roaster, act)

    def bring_to(self, reported: Sequence[HandAct], fresh: Callable[[], SimulatedRoaster]) -> bool:
        """Bring charges and drops to these.  True if a charge was undone: then faults are forgotten with it.

        What comes now is just done; else a new roaster replays everything.
        """
        now = self.roaster.time
        reported = [HandAct(min(max(a.time, 0.0), now), a.what) for a in reported]
        done = [a for a in self.acts if a.what in ("charge", "drop")]
        missing = [a for a in reported if not _among(a, done)]
        undone = [a for a in done if not _among(a, reported)]
        if not undone and all(a.time >= now - TOGETHER for a in missing):
            for act in missing:
                self.do(HandAct(now, act.what))
            return False
        anew = any(a.what == "charge" for a in undone)
        kept = [a for a in self.acts if a.what == "set" or (a.what == "fault" and not anew)]
        self.acts = sorted([*reported, *kept], key=_when)
        self.roaster = replayed(self.acts, fresh(), now)
        return anew


def replayed(acts: Sequence[HandAct], roaster: SimulatedRoaster, until: float) -> SimulatedRoaster:
    """The roaster after these, in order of time, and on to ``until`` (s)."""
    for act in acts:
        roaster.advance(max(act.time, roaster.time))
        perform(roaster, act)
    roaster.advance(max(until, roaster.time))
    return roaster


def _among(act: HandAct, acts: Sequence[HandAct]) -> bool:
    return any(a.what == act.what and abs(a.time - act.time) <= TOGETHER for a in acts)


def _when(act: HandAct) -> float:
    return act.time
