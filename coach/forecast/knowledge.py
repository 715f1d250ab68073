"""Knowledge from earlier roasts: the bank of the machine, and the thresholds of the profile.  Values only."""

from __future__ import annotations

from dataclasses import dataclass, field

from coach.forecast.bank import Bank, prior_bank
from coach.forecast.event_threshold import Threshold
from coach.forecast.gas_answer import GasAnswer
from coach.roast.curve import Curve


@dataclass(frozen=True)
class DropHabit:
    """Drop habit of this person: ``by_temperature`` is the weight (0..1) of keeping to a temperature rather than to a
    development time; scatter of both, K and s; their centres, °C and s (None: the profile's)."""

    by_temperature: float = 0.5
    temperature_sd: float = 1.5
    development_sd: float = 8.0
    temperature: float | None = None
    development: float | None = None
    surprise: float = 1.0
    """Factor by which the temperature at drop was more uncertain than by the model."""


@dataclass(frozen=True)
class Knowledge:
    """Posterior from ``count`` roasts."""

    reference: Curve | None = None
    """The reference corrected by several roasts; None: as the profile has it."""
    bank: Bank = field(default_factory=prior_bank)
    thresholds: dict[str, Threshold] = field(default_factory=dict)
    drop: DropHabit = DropHabit()
    gas: GasAnswer = field(default_factory=GasAnswer.prior)
    count: int = 0
