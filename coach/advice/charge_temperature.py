"""Before the charge: how much hotter or colder to charge today, for the batch before, the weight and the room.  Pure.

A small linear model of the deviation (K) of a roast from the reference early on,

    off = own bias + a (gap's carry-over) + b (weight) + c (room) + d (charge temperature),

with a prior for each part, refined by the person's earlier roasts (Bayesian linear regression with known scatter:
Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, section 14.8).  The priors are our own choice; no source.

Nothing is proposed unless it is at least 90 % sure on which side today would run: on simulated batches in a row the
priors alone did harm (``bench_carry.py``), since whether the heat left shows as hot or cold depends on how the drum is
brought back to its charge temperature.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coach.roast.profile import Profile
from coach.roast.reading_checks import plausible
from coach.roast.roast import Roast
from coach.roast.units import apart, from_celsius, from_kelvins, number, to_celsius

Array = NDArray[np.float64]

CARRY: Final = 1200.0
"""Time constant with which the heat of the batch before fades in the drum, s."""
NAMES: Final = ("the batch before", "the weight", "the room", "the charge temperature")
PRIOR: Final = np.array([2.5, -45.0, 0.05, 0.25])
"""Priors, K early on: charge right after a drop, batch twice as heavy, per K of room, per K of charge temperature."""
PRIOR_SD: Final = np.array([2.5, 25.0, 0.08, 0.12])
SCATTER: Final = 2.0
"""Scatter of a roast's early deviation for reasons unknown, K."""
EARLY: Final = (45.0, 150.0)
"""'Early on' is this long after the reference's turning point, s."""
OWN_SD: Final = 2.0
"""Standard deviation of the bias that all of a person's roasts share, K; that is left alone."""
FEWEST: Final = 3
"""Fewest roasts that serve as evidence."""
FARTHEST: Final = 25.0
"""Largest distance from the profile's charge temperature, K; beyond it a roast was another, or a slip: no evidence."""
SURE: Final = 1.2816
"""Standard deviations by which the expected deviation must differ from none: 90 % sure of plus or minus."""
WORTH: Final = 1.5
"""Smallest deviation early on for which a change is proposed, K."""
MOST: Final = 10.0
"""Largest change of the charge temperature in a proposal, K."""
USUAL_ROOM: Final = 22.0


@dataclass(frozen=True)
class Today:
    """Inputs known before charge; None where not.  Weight kg, room °C, seconds since the drop before."""

    batch_kg: float | None = None
    room: float | None = None
    since_drop: float | None = None


@dataclass(frozen=True)
class ChargeProposal:
    """A charge temperature (°C) with its change (K), today's deviation without it (K, with its sd), and the
    parts of that by name; ``count`` is the number of roasts behind it."""

    charge: float
    change: float
    off: float
    off_sd: float
    parts: dict[str, float]
    count: int

    @property
    def worth_it(self) -> bool:
        return abs(self.change) >= 1.0


def inputs(profile: Profile, today: Today, charge: float | None = None) -> Array:
    """The four inputs (4,): carry-over against the profile's usual day (none), weight, room, charge temperature."""
    carry = 0.0 if today.since_drop is None else float(np.exp(-max(today.since_drop, 0.0) / CARRY))
    weight = 0.0 if today.batch_kg is None else today.batch_kg / profile.document.batch_kg - 1.0
    usual = profile.document.ambient
    warm = USUAL_ROOM if usual is None else to_celsius(usual, profile.unit)
    room = 0.0 if today.room is None else today.room - warm
    return np.array([carry, weight, room, 0.0 if charge is None else charge - profile.charge_temperature])


def early_off(profile: Profile, roast: Roast) -> float | None:
    """Early deviation of a roast from the reference, K: the median of its readings then; None without two."""
    turn = profile.curve.turning_point[0]
    readings = plausible(roast.readings)
    off = [r.celsius - profile.curve.value(r.t) for r in readings if EARLY[0] <= r.t - turn <= EARLY[1]]
    return float(np.median(off)) if len(off) >= 2 else None


def days(profile: Profile, roasts: Sequence[Roast]) -> list[tuple[Array, float]]:
    """Inputs and early deviations of earlier roasts (oldest first), as far as their journals hold them."""
    out: list[tuple[Array, float]] = []
    dropped: datetime | None = None
    for roast in roasts:
        started = _moment(roast.header.started)
        off = early_off(profile, roast)
        since = None
        if started is not None and dropped is not None and roast.charge_at is not None:
            since = (started - dropped).total_seconds() + roast.charge_at
        if off is not None and roast.charge_at is not None:
            room = getattr(roast.header, "ambient", None)
            known = Today(roast.batch_kg, float(room) if isinstance(room, int | float) else None, since)
            charge = roast.charge_reading
            if charge is None or abs(charge.celsius - profile.charge_temperature) <= FARTHEST:
                out.append((inputs(profile, known, None if charge is None else charge.celsius), off))
        if started is not None and roast.charge_at is not None and "drop" in roast.marks:
            dropped = started + timedelta(seconds=roast.charge_at + roast.marks["drop"])
    return out


def _moment(text: str) -> datetime | None:
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return None
    return found if found.tzinfo is not None else None


def taught(
    known: Sequence[tuple[Array, float]], prior: Array, prior_sd: Array, *, own_sd: float, scatter: float
) -> tuple[Array, Array]:
    """Posterior means (n,) and covariance (n, n) of the coefficients of ``n`` inputs, from roasts' inputs and
    deviations, where there are ``FEWEST``; what all have in common besides is their own bias."""
    precision = np.diag(1 / np.append(prior_sd, own_sd) ** 2)
    pull = np.append(prior / prior_sd**2, 0.0)
    if len(known) >= FEWEST:
        X = np.array([[*x, 1.0] for x, _ in known])
        precision = precision + X.T @ X / scatter**2
        pull = pull + X.T @ np.array([v for _, v in known]) / scatter**2
    n = len(prior)
    return np.linalg.solve(precision, pull)[:n], np.asarray(np.linalg.inv(precision))[:n, :n]


def propose(profile: Profile, today: Today, earlier: Sequence[Roast] = ()) -> ChargeProposal:
    """The charge temperature that would bring today onto the reference early on, as far as inputs known explain it.

    What earlier roasts had in common besides is taken for the person's own bias, and left alone.  The change is the
    one with the smallest expected squared deviation, the effect of a degree of charge being uncertain itself.
    """
    known = days(profile, earlier)
    weights, cov = taught(known, PRIOR, PRIOR_SD, own_sd=OWN_SD, scatter=SCATTER)
    x = inputs(profile, today)
    parts = weights * x
    off, sd = float(parts.sum()), float(np.sqrt(x @ cov @ x))
    each = max(float(weights[3]), 0.08)
    wanted = -off * each / (each**2 + float(cov[3, 3]))
    change = 0.0 if abs(off) < max(WORTH, SURE * sd) else float(np.clip(wanted, -MOST, MOST))
    named = {n: float(v) for n, v in zip(NAMES, parts, strict=True) if abs(v) >= 0.05}
    return ChargeProposal(profile.charge_temperature + change, change, off, sd, named, len(known))


def lines(profile: Profile, proposal: ChargeProposal, *, gas: bool = False) -> list[str]:
    """The proposal in words, in the profile's unit; with ``gas`` another first gas is proposed beside it."""
    unit = profile.unit
    shown = number(from_celsius(proposal.charge, unit), 0)
    signed = ((n, f"{from_kelvins(v, unit):+.1f}".replace("-", "−")) for n, v in proposal.parts.items())
    why = ", ".join(f"{n} {value} °{unit}" for n, value in signed)
    range_, general = f"± {apart(1.28 * proposal.off_sd, unit, 1)}", "what roasters are like in general"
    few = proposal.count < FEWEST
    known = f"From {general}, no roast of yours" if few else f"From {proposal.count} roasts and {general}"
    if not proposal.worth_it:
        as_planned = f"Charge as the profile says, {shown} °{unit}: "
        if abs(proposal.off) >= WORTH:
            unsure = f"it may run off early on ({why}, {range_}), but not surely enough to say to which side."
            return [f"{as_planned}{unsure} {known}."]
        return [f"{as_planned}nothing known asks for more{f' ({why} early on)' if why else ''}. {known}."]
    usual = number(from_celsius(profile.charge_temperature, unit), 0)
    side = "hot" if proposal.off > 0 else "cold"
    return [
        f"Proposal: charge at {shown} °{unit} instead of {usual}.",
        f"Without it the roast would run {apart(proposal.off, unit, 1)} {side} early on ({range_}): {why}.",
        f"{known}. A proposal to a person who knows the roaster{'.' if gas else '; the first gas stays as planned.'}",
    ]


def today_from(profile: Profile, batch: float | None, room: float | None, minutes: float | None) -> Today:
    """Typed inputs in core units: room in the profile's unit, minutes since the drop before."""
    warm = None if room is None else to_celsius(room, profile.unit)
    return Today(batch, warm, None if minutes is None else 60.0 * minutes)
