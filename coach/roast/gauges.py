"""The person's own gauge: in which steps a control is set, how far it may go, and what a step is in core units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from coach.roast.profile import Profile
from coach.roast.roast import Roast
from coach.roast.units import PressureUnit, from_kpa, to_kpa

NICE: Final = (1.0, 0.5, 0.25, 0.2, 0.1, 0.05, 0.025, 0.02, 0.01)


@dataclass(frozen=True)
class Gauge:
    """A control's scale: ``step``, ``low`` and ``high`` as shown on it, ``top`` the highest planned (shown)."""

    control: Literal["gas", "air"]
    step: float
    low: float
    high: float
    top: float
    unit: PressureUnit | None

    @classmethod
    def of(cls, profile: Profile, roast: Roast, control: Literal["gas", "air"]) -> Gauge | None:
        """The gauge by the profile's limits and planned moves, in the roast's pressure unit; None if it has neither."""
        limits = getattr(profile.document.limits, control)
        given = profile.document.limits.gas_step if control == "gas" else profile.document.limits.air_step
        planned = [s.shown for s in profile.steps if s.control == control]
        if not planned and limits is None:
            return None
        top = max(planned) if planned else limits[1]
        step = given if given is not None else _step_of(planned, top)
        used = [*planned, *(m.shown for m in roast.moves if m.control == control)]
        low, high = limits if limits is not None else (max(min(used) - 2 * step, 0.0), max(used) + 2 * step)
        unit = None if control == "air" else profile.document.pressure_unit
        return cls(control, step, low, high, max(top, step), unit)

    def shown(self, value: float) -> float:
        """A setting (gas in kPa) as on the gauge."""
        return value if self.unit is None else from_kpa(value, self.unit)

    def steps(self, value: float) -> float:
        """A setting (gas in kPa) counted in steps, not rounded."""
        return self.shown(value) / self.step

    def value(self, steps: float) -> float:
        """The setting (gas in kPa) at a whole number of steps."""
        shown = max(round(steps) * self.step, 0.0)
        return shown if self.unit is None else to_kpa(shown, self.unit)

    def allows(self, steps: float) -> bool:
        """True if the gauge's range holds so many steps."""
        return self.low - 1e-9 <= round(steps) * self.step <= self.high + 1e-9


def _step_of(planned: list[float], top: float) -> float:
    """A step that the planned values are whole numbers of, at most a tenth of the highest; else a twentieth of it."""
    scale = 1.0
    while top >= 20 * scale:
        scale *= 10
    for nice in NICE:
        step = nice * scale
        if step <= top / 10 and all(abs(v / step - round(v / step)) < 1e-6 for v in planned):
            return step
    return next((n * scale for n in NICE if n * scale <= top / 15), top / 20)
