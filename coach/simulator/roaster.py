"""The simulated roaster: a machine with beans, a clock of its own, controls and a probe.

Time runs on a fixed inner grid of one second, anchored at the start, at each charge and at each drop.  A move takes
effect on the next grid point (at once if it is made on one).  Between grid points the state is read off a straight
line.  So however time is cut into calls of :meth:`SimulatedRoaster.advance`, the roast is the same, bit for bit.
Everything done to it is kept (`acts`), so that a new roaster can repeat it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Final, Literal, NamedTuple

import numpy as np

from coach.roast.units import Control, TemperatureUnit, from_celsius
from coach.simulator import physics
from coach.simulator.beans import Beans, dry_basis, load_beans
from coach.simulator.crack import BeanPop, Crack, CrackKind, PopSource, crack_drive
from coach.simulator.machine import Machine, conditions
from coach.simulator.physics import Conditions, State

STEP: Final = 1.0
"""Inner time step [s]."""
RESETS: Final = 25.0
"""Distance below its limit at which the limit switch closes again [K] (own)."""
YELLOW: Final = 150.0
"""Bean temperature at which most beans look yellow [°C] (common practice, no source; quoted 140 to 165)."""

Fault = Literal["gas supply", "probe offset", "probe stuck", "fan stalled", "smoke alarm"]
FAULTS: Final[dict[Control | Fault, float]] = {
    "gas supply": 1.0, "probe offset": 0.0, "probe stuck": 0.0, "fan stalled": 0.0, "smoke alarm": 0.0,
}  # fmt: skip
"""The settings that nobody makes, each as it is when nothing is wrong: the factor on the pressure behind the gauge; K
added to the dial; 1 holds the dial where it is; 1 leaves draught alone; 1 sounds in the room."""


class HandAct(NamedTuple):
    """Something done to the roaster at a time (s since its start): charge, drop, or a setting (gas in kPa)."""

    time: float
    what: Literal["charge", "drop"] | Control | Fault
    value: float = 0.0


@dataclass(frozen=True)
class Milestones:
    """True times in a batch, s since the roaster's start; None while it has not come.  Hidden from the coach."""

    charge: float | None = None
    turning_point: float | None = None
    yellow: float | None = None
    first_crack: float | None = None
    second_crack: float | None = None
    drop: float | None = None

    def until(self, t: float) -> Milestones:
        """The ones that had come by t [s]."""
        later: dict[str, Any] = {name: None for name, at in vars(self).items() if at is not None and at > t}
        return replace(self, **later)


class Sample(NamedTuple):
    """The state on one grid point, ``time`` in s since the start."""

    time: float
    state: State[float]


class SimulatedRoaster:
    """A roaster that behaves like one: see the module's docstring for its time.

    Temperatures °C, times s since its start, gas kPa at the gauge, air and drum on the machine's dials.
    """

    def __init__(
        self,
        machine: Machine,
        beans: Beans | None = None,
        *,
        batch_kg: float | None = None,
        ambient: float = 22.0,
        drum_soak: float | None = None,
        seed: int = 0,
        moisture: float | None = None,
        gas_supply: float = 1.0,
        probe_offset: float = 0.0,
        probe_noise: float = 0.15,
        crack_shift: float = 0.0,
        gas: float | None = None,
        air: float | None = None,
        drum: float | None = None,
    ) -> None:
        """A roaster with an empty drum, hot and at rest.

        Whatever is left out is as in the machine's demo plan.  drum_soak = temperature of the metal at the start;
        moisture of the green, wet basis, which is as warm as the room;
        gas_supply multiplies the pressure behind the gauge (1 is as it should be); probe_offset adds to the dial
        [K]; probe_noise = standard deviation of the dial's flicker [K]; crack_shift moves the lot's first crack [K].
        """
        plan = machine.demo_plan
        self.machine = machine
        self.beans = beans if beans is not None else load_beans(plan.beans)
        self.batch_kg = plan.batch_kg if batch_kg is None else batch_kg
        self.green_moisture = self.beans.moisture if moisture is None else moisture
        self.ambient = ambient
        self._crack_shift = crack_shift
        self.seed = seed
        self._noise = probe_noise
        self._settings: dict[Control | Fault, float] = {
            **FAULTS,
            "gas": self._within("gas", plan.gas if gas is None else gas),
            "air": self._within("air", plan.air if air is None else air),
            "drum": self._within("drum", plan.drum if drum is None else drum),
            "gas supply": gas_supply,
            "probe offset": probe_offset,
        }
        self.acts: list[HandAct] = []
        """Everything done to it, oldest first."""
        self._stuck_at: float | None = None
        self.loaded = False
        """True if there are beans in the drum."""
        self.cut_out = False
        """True if the burner's limit switch has shut the gas."""
        self.batch = 0
        """Number of batches that were charged."""
        self.time = 0.0
        """Seconds since the start."""
        self._anchor, self._ticks = 0.0, 0
        self._pending: dict[Control | Fault, float] = {}
        self.conditions = self._present_conditions()
        """Conditions that the controls set now."""
        soak = plan.soak if drum_soak is None else drum_soak
        moisture_dry = dry_basis(self.green_moisture)
        self._state = resting_state(self.conditions, soak=soak, bean=ambient, moisture=moisture_dry)
        self._next: State[float] | None = None
        self._flicker: dict[int, float] = {}
        self._truth = Milestones()
        self._pops: list[BeanPop] = []
        self._peak = -physics.KELVIN
        self._cracks: list[tuple[CrackKind, Crack]] = []
        self._sources: list[PopSource] = []
        self.history: list[Sample] = [Sample(0.0, self._state)]
        """The state on every grid point passed, oldest first."""

    # ── what a person does ──────────────────────────────────────────────────────────────────────────────────────

    def set(self, what: Control | Fault, value: float) -> None:
        """Move a control now, as far as it goes: gas [kPa], air [dial], drum [rpm]; or switch a fault on or off, as in
        :data:`FAULTS`."""
        if what in ("gas", "air", "drum"):
            value = self._within(what, value)
        self.acts.append(HandAct(self.time, what, value))
        if what == "probe stuck":
            self._stuck_at = self.indicated if value else None
        self._pending[what] = value
        if self._next is None:
            self._apply_pending()

    def charge(self) -> None:
        """Drop the beans into the drum now; nothing happens if there are some in it."""
        if self.loaded:
            return
        self.acts.append(HandAct(self.time, "charge"))
        self._anchor_here()
        self.loaded = True
        self.batch += 1
        self._truth = Milestones(charge=self.time)
        self._pops, self._peak = [], -physics.KELVIN
        first = self.beans.first
        shifted = first.model_copy(update={"onset": first.onset + self._crack_shift})
        self._cracks = [("first", shifted), ("second", self.beans.second)]
        self._sources = [
            PopSource(crack, kind, np.random.default_rng([self.seed, self.batch, n]))
            for n, (kind, crack) in enumerate(self._cracks)
        ]
        self.conditions = self._present_conditions()
        self._state = self._state._replace(
            bean=self.ambient, moisture=dry_basis(self.green_moisture), released=0.0, lost=0.0
        )
        self.history.append(Sample(self.time, self._state))

    def drop(self) -> None:
        """Let the beans out now; nothing happens if there are none.  Their state stays as it was at the drop."""
        if not self.loaded:
            return
        self.acts.append(HandAct(self.time, "drop"))
        self._anchor_here()
        self.loaded = False
        self._pops = self.pops
        self._truth = replace(self._truth.until(self.time), drop=self.time)
        self.conditions = self._present_conditions()

    def repeat(self, acts: Iterable[HandAct], until: float) -> None:
        """Do these, in order of time, and go on to ``until`` [s since the start]."""
        for act in acts:
            self.advance(max(act.time, self.time))
            if act.what == "charge":
                self.charge()
            elif act.what == "drop":
                self.drop()
            else:
                self.set(act.what, act.value)
        self.advance(max(until, self.time))

    def advance(self, to: float) -> None:
        """Let time pass until ``to`` [s since the start].  ValueError if that is in the past."""
        if not to >= self.time or not math.isfinite(to):
            raise ValueError(f"cannot advance from {self.time:g} to {to:g} s")
        while self._grid(1) <= to + 1e-9:
            state = self._ahead()
            self._ticks += 1
            self._state, self._next = state, None
            self.history.append(Sample(self._grid(0), state))
            self._switch()
            self._apply_pending()
        self.time = to
        if to > self._grid(0) + 1e-9:
            self._ahead()

    # ── what a person sees and hears ────────────────────────────────────────────────────────────────────────────

    def setting(self, what: Control | Fault) -> float:
        """Setting of a control or fault, as for :meth:`set`; one made within the present second counts from its end."""
        return self._settings[what]

    @property
    def probe(self) -> float:
        """Temperature of the probe's tip [°C]: no offset, no flicker, no rounding."""
        return self.state.probe

    @property
    def indicated(self) -> float:
        """Output of the probe's electronics [°C], with offset and flicker, or stuck."""
        if self._stuck_at is not None:
            return self._stuck_at
        return self.probe + self._settings["probe offset"] + self._noise * self._wobble()

    def display(self, resolution: float = 1.0, unit: TemperatureUnit = "C") -> float:
        """The number on the dial, rounded to ``resolution`` of its ``unit``."""
        return round(from_celsius(self.indicated, unit) / resolution) * resolution

    @property
    def pops(self) -> list[BeanPop]:
        """Every pop of this batch so far."""
        return [p for p in self._pops if p.time <= self.time]

    # ── what nobody sees ────────────────────────────────────────────────────────────────────────────────────────

    @property
    def state(self) -> State[float]:
        """The whole state now."""
        share = (self.time - self._grid(0)) / STEP
        if self._next is None or share <= 0.0:
            return self._state
        return State(*[a + share * (b - a) for a, b in zip(self._state, self._next, strict=True)])

    @property
    def bean(self) -> float:
        """True bean temperature [°C]."""
        return self.state.bean

    @property
    def mass_loss(self) -> float:
        """Share of the green mass lost so far: water, and dry matter as gas and vapour."""
        s = self.state
        start = dry_basis(self.green_moisture)
        return (start - s.moisture + s.lost) / (1.0 + start)

    @property
    def truth(self) -> Milestones:
        """True times in this batch so far."""
        return self._truth.until(self.time)

    # ── inside ──────────────────────────────────────────────────────────────────────────────────────────────────

    def _grid(self, ahead: int) -> float:
        return self._anchor + (self._ticks + ahead) * STEP

    def _within(self, control: Control, value: float) -> float:
        low, high = self.machine.range(control)
        return min(max(value, low), high)

    def _switch(self) -> None:
        """The limit switch: opens at its limit, closes again when the probe has cooled well below it."""
        limit, probe = self.machine.burner.limit, self._state.probe
        cut_out = probe >= limit or (self.cut_out and probe > limit - RESETS)
        if cut_out != self.cut_out:
            self.cut_out = cut_out
            self.conditions = self._present_conditions()

    def _apply_pending(self) -> None:
        if self._pending:
            self._settings.update(self._pending)
            self._pending.clear()
            self.conditions = self._present_conditions()

    def _present_conditions(self) -> Conditions[float]:
        made = self._settings
        return conditions(
            self.machine,
            self.beans,
            batch_kg=self.batch_kg if self.loaded else 0.0,
            moisture=self.green_moisture,
            gas=0.0 if self.cut_out else made["gas"],
            air=made["air"],
            drum=made["drum"],
            ambient=self.ambient,
            gas_supply=made["gas supply"],
            fan_stalled=made["fan stalled"] > 0.0,
        )

    def _anchor_here(self) -> None:
        self._state = self.state
        self._next = None
        self._anchor, self._ticks = self.time, 0
        self._apply_pending()

    def _ahead(self) -> State[float]:
        """The state on the next grid point, computed once."""
        if self._next is None:
            self._next = physics.step(self._state, self.conditions, STEP, empty=not self.loaded)
            if self.loaded:
                self._notice(self._state, self._next, self._grid(0))
        return self._next

    def _notice(self, a: State[float], b: State[float], t: float) -> None:
        """Record what happens between two grid points."""
        truth = self._truth
        found: dict[str, Any] = {}
        if truth.turning_point is None and b.probe > a.probe:
            found["turning_point"] = t
        if truth.yellow is None and b.bean >= YELLOW:
            found["yellow"] = t + STEP * (YELLOW - a.bean) / (b.bean - a.bean)
        if b.bean > 120.0:
            before = self._peak
            drive = crack_drive(bean=b.bean, moisture=b.moisture)
            if drive > before:
                self._peak = drive
                for kind, crack in self._cracks:
                    onset, name = crack.onset, f"{kind}_crack"
                    if getattr(truth, name) is None and drive >= onset:
                        share = (onset - before) / (drive - before) if before > 0.0 else 1.0
                        found[name] = t + STEP * min(1.0, max(0.0, share))
                pops = [p for source in self._sources for p in source.between(t, t + STEP, drive)]
                self._pops.extend(sorted(pops))
        if found:
            self._truth = replace(truth, **found)

    def _wobble(self) -> float:
        """A unit flicker that depends on the time and the seed only."""
        whole = math.floor(self.time)
        share = self.time - whole
        for second in (whole, whole + 1):
            if second not in self._flicker:
                rng = np.random.default_rng([self.seed, 7, second])
                self._flicker[second] = float(rng.standard_normal())
        return (1.0 - share) * self._flicker[whole] + share * self._flicker[whole + 1]


def resting_state(c: Conditions[float], *, soak: float, bean: float, moisture: float) -> State[float]:
    """An empty drum whose metal is at ``soak`` [°C], burner and probe settled; the beans wait outside."""
    flame = c.ambient + c.burner_set / c.capacity_rate
    inlet = physics.stream_after(inlet=flame, body=soak, left=c.jacket_left)
    return State(
        bean=bean,
        moisture=moisture,
        released=0.0,
        lost=0.0,
        metal=soak,
        probe=(1.0 - c.gas_share) * soak + c.gas_share * inlet,
        burner=c.burner_set,
    )
