"""Before the charge: the first gas setting for another weight than the plan's.  Pure.

Heat for the beans is in proportion to their weight, heat for the drum and for what is lost is not; burner heat goes as
the root of the pressure (flow through an orifice).  Share for share, the time to the crack goes with the weight by
``a``, and against the root of the first pressure by ``c``:

    ln(time / plan's) = own bias + a (weight / plan's - 1) - c (root of first gas / plan's - 1).

The first guess of a and c comes from simulated roasters (``bench_first_gas.py --measure``), with as much doubt as they
differ among each other, doubled; a person's own roasts refine it (Bayesian linear regression with known scatter: Gelman
et al., Bayesian Data Analysis, 3rd ed. 2013, section 14.8).  For the batch before and for the room nothing is proposed:
these are known to act on how the roast runs early on, and the charge temperature answers that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.advice.charge_temperature import FEWEST, Today, lines, propose, taught
from coach.roast.entries import Header
from coach.roast.gauges import Gauge
from coach.roast.profile import Profile
from coach.roast.roast import Roast
from coach.roast.units import number

Array = NDArray[np.float64]

PRIOR: Final = np.array([0.56, 1.0])
"""Prior of a and c: share for share."""
PRIOR_SD: Final = np.array([0.17, 0.2])
OWN_SD: Final = 0.05
"""Standard deviation of the bias that all of a person's roasts share, as a share of the time."""
SCATTER: Final = 0.04
"""Scatter of one roast for reasons unknown, as a share of the time."""
LASTS: Final = 0.5
"""Smallest share of the time to the crack of a first setting that is changed: else what follows counts as much."""
FIRST: Final = 20.0
"""Roast time until which a setting is the first one, s."""
FARTHEST: Final = 0.25
"""Largest distance from the plan's weight, as a share of it; beyond it is another profile: nothing is proposed."""

ODD: Final = 0.35
"""Distance of a crack from the plan's time (log of their ratio) that shows a slip or another roast: no evidence."""


@dataclass(frozen=True)
class FirstGas:
    """A first gas setting: core units (kPa) and as shown, beside the plan's; ``ratio`` the pressure's to the plan's;
    ``later`` by how much the crack would come later with the plan's gas, s, with its sd; roasts behind it, and whether
    the range of the gauge ends there."""

    value: float
    shown: float
    planned: float
    """The setting as shown on the gauge."""
    ratio: float
    later: float
    later_sd: float
    count: int
    at_limit: bool


def first_gas(profile: Profile, batch_kg: float | None, earlier: Sequence[Roast] = ()) -> FirstGas | None:
    """The first setting that would bring the crack of a batch (kg) to the plan's time; None where the plan's will do,
    or there is too little to go by."""
    goal = profile.goals.get("first crack")
    steps = [s for s in profile.steps if s.control == "gas"]
    if goal is None or batch_kg is None or not steps or steps[0].time > FIRST or steps[0].value <= 0:
        return None
    share = batch_kg / profile.document.batch_kg - 1.0
    until = min((s.time for s in steps if s.time > FIRST), default=goal.time)
    gauge = Gauge.of(profile, Roast(Header(id="none", started="2000-01-01T00:00:00+00:00")), "gas")
    if gauge is None or until < LASTS * goal.time or abs(share) > FARTHEST:
        return None
    known = days(profile, earlier)
    mean, cov = taught(known, PRIOR, PRIOR_SD, own_sd=OWN_SD, scatter=SCATTER)
    a, c = float(mean[0]), float(mean[1])
    wanted = share * a * c / (c**2 + float(cov[1, 1]))
    base = gauge.steps(steps[0].value)
    aimed = base * (1.0 + wanted) ** 2
    n = round(float(np.clip(aimed, np.ceil(gauge.low / gauge.step - 1e-6), np.floor(gauge.high / gauge.step + 1e-6))))
    value = gauge.value(n)
    if abs(n - base) < 0.5 or value <= 0 or (value - steps[0].value) * share <= 0:
        return None
    later, sd = goal.time * a * share, goal.time * abs(share) * float(np.sqrt(cov[0, 0]))
    at_limit = abs(aimed - n) > 0.75
    return FirstGas(value, gauge.shown(value), steps[0].shown, value / steps[0].value, later, sd, len(known), at_limit)


def days(profile: Profile, roasts: Sequence[Roast]) -> list[tuple[Array, float]]:
    """Inputs and outcomes of each earlier roast that has them: its weight and, negated, the root of its first gas
    against the plan's, and the logarithm of its time to the crack against it; each as a share."""
    goal = profile.goals.get("first crack")
    steps = [s for s in profile.steps if s.control == "gas"]
    out: list[tuple[Array, float]] = []
    for roast in roasts:
        crack, batch, gas = roast.marks.get("first crack"), roast.batch_kg, roast.setting("gas", FIRST)
        if goal is None or not steps or steps[0].value <= 0 or crack is None or batch is None or not gas:
            continue
        if abs(np.log(crack / goal.time)) > ODD:
            continue
        root = float(np.sqrt(gas / steps[0].value))
        inputs = np.array([batch / profile.document.batch_kg - 1.0, 1.0 - root])
        out.append((inputs, float(np.log(crack / goal.time))))
    return out


def words(profile: Profile, found: FirstGas) -> str:
    """The proposal and its reason, in the profile's unit of pressure."""
    unit = profile.document.pressure_unit
    side = "later" if found.later > 0 else "earlier"
    basis = (
        f"{found.count} roasts and our first guess" if found.count >= FEWEST else "our first guess, no roasts of yours"
    )
    end = " That is as far as the gauge's range goes." if found.at_limit else ""
    return (
        f"First gas {number(found.shown, 3)} {unit} instead of {number(found.planned, 3)}, for the weight: with the "
        f"plan's, crack would come {abs(found.later):.0f} s {side} (± {1.28 * found.later_sd:.0f}).{end} "
        f"Basis: {basis}."
    )


def before_charge(profile: Profile, today: Today, earlier: Sequence[Roast] = ()) -> list[str]:
    """Proposals before the charge, in words: the first gas for the weight, and the charge temperature for the
    rest; for the weight too where the gas has no room for it."""
    gas = first_gas(profile, today.batch_kg, earlier)
    if gas is None:
        return lines(profile, propose(profile, today, earlier))
    rest = today if gas.at_limit else replace(today, batch_kg=None)
    return [words(profile, gas), *lines(profile, propose(profile, rest, earlier), gas=True)]
