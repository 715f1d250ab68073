"""Effect of another tolerance on cues: the last roasts replayed with the profile changed.

Pure, but slow: about a second for each roast and tolerance.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from coach.forecast.knowledge import Knowledge
from coach.roast.entries import Header
from coach.roast.errors import CoachError
from coach.roast.profile import Profile
from coach.roast.roast import Numbered, Roast
from coach.roast.units import clock
from coach.verification.cue_outcomes import Deviation, deviations
from coach.verification.replay import walk

Tolerance = Literal["crack", "band"]
"""The window of first crack, s; the band of the curve, in the profile's degrees."""
TOLERANCES: Final[tuple[Tolerance, ...]] = ("crack", "band")
CUES_OF: Final[dict[Tolerance, tuple[str, ...]]] = {
    "crack": ("crack early", "crack late"),
    "band": ("too hot", "too cool"),
}
SAME_CAUSE: Final = {
    "too hot": ("too hot", "crack early", "racing"),
    "too cool": ("too cool", "crack late", "stalling"),
}
"""One cause, one cue: which of these is heard depends on what else is forecast."""
SLACK: Final = 15.0
"""Time after a reading within which a cue comes with it: a deviation is known once the reading is typed, s."""
RUN: Final = 2
"""Number of readings in a row outside the band that make a real deviation (one may be a misreading)."""


@dataclass(frozen=True)
class ReplayInput:
    """One earlier roast, and the knowledge before it (None: from the profile alone)."""

    header: Header
    entries: tuple[Numbered, ...]
    knowledge: Knowledge | None = None


@dataclass(frozen=True)
class ToleranceWhatIf:
    """Counts over ``roasts`` roasts: of cues that would have sounded, of those among them before a real deviation of
    the same kind in the same roast, and of real deviations without a cue."""

    tolerance: Tolerance
    value: float
    roasts: int
    cues: int
    before_a_miss: int
    missed: int

    @property
    def text(self) -> str:
        """The counts in one sentence."""
        n = "cue" if self.cues == 1 else "cues"
        r, d = "roast" if self.roasts == 1 else "roasts", "deviation" if self.missed == 1 else "deviations"
        return (
            f"last {self.roasts} {r}: {self.cues} {n}, {self.before_a_miss} before a real deviation; "
            f"{self.missed} {d} without a cue"
        )


def present(profile: Profile, tolerance: Tolerance) -> float | None:
    """The profile's present tolerance (s, or the profile's degrees; the band: its widest); None where it has none."""
    if tolerance == "crack":
        goal = profile.goals.get("first crack")
        return None if goal is None else goal.time_tolerance
    band = profile.document.band
    return max(band.drying, band.browning, band.development)


def with_tolerance(profile: Profile, tolerance: Tolerance, value: float) -> Profile:
    """The profile with another tolerance.  Raises CoachError where it has none to change, or the value is invalid.

    A band is widened or narrowed in all phases alike, so that the widest is ``value``; one given point by point is
    scaled by the same factor.
    """
    document, old = profile.document, present(profile, tolerance)
    if old is None:
        raise CoachError("This profile has no first crack.", "Only the band can be changed.")
    if not 0 < value <= (600 if tolerance == "crack" else 100):
        raise CoachError(f"A tolerance of {value:g} can't be.", "Give seconds for the crack, degrees for the band.")
    if tolerance == "crack":
        milestones = [
            m.model_copy(update={"time_tolerance": value}) if m.event == "first crack" else m
            for m in document.milestones
        ]
        return Profile.from_document(document.model_copy(update={"milestones": milestones}))
    by = value / old
    band = document.band.model_copy(
        update={k: getattr(document.band, k) * by for k in ("drying", "browning", "development")}
    )
    points = [(t, w * by) for t, w in document.band_pointwise]
    return Profile.from_document(document.model_copy(update={"band": band, "band_pointwise": points}))


def what_if_tolerance(
    roasts: Sequence[ReplayInput], profile: Profile, tolerance: Tolerance, value: float
) -> ToleranceWhatIf:
    """Effect of a tolerance on the cues of earlier roasts.

    A cue counts as before a real deviation when, in the same roast and later than the cue, the quantity that it warns
    of lay outside that same tolerance.  A roast in which somebody acted on the cue and so kept the crack in its window
    counts as a cue without a deviation: a replay can't leave the move out.
    """
    changed = with_tolerance(profile, tolerance, value)
    cues = before = missed = count = 0
    for past in roasts:
        gone = walk(changed, past.header, past.entries, past.knowledge)
        real = {m.cue: (m, t) for m, t in _real(gone.roast, changed, tolerance)}
        count += 1
        base = gone.roast.charge_at or 0.0
        warned: set[str] = set()
        for e in gone.episodes:
            if not e.sounds:
                continue
            found = [m for m, (_, t) in real.items() if _warns(e.cue, m) and e.begun - base <= t + SLACK]
            warned.update(found)
            if e.cue in CUES_OF[tolerance]:
                cues += 1
                before += bool(found)
        missed += len(set(real) - warned)
    return ToleranceWhatIf(tolerance, value, count, cues, before, missed)


def _warns(cue: str, miss: str) -> bool:
    return cue in SAME_CAUSE.get(miss, (miss,))


def _real(roast: Roast, profile: Profile, tolerance: Tolerance) -> Iterator[tuple[Deviation, float]]:
    """Yield the deviations of a roast, each with its roast time (s)."""
    if tolerance == "crack":
        for miss in deviations(roast, profile):
            yield miss, roast.marks["first crack"]
        return
    run = {"too hot": 0, "too cool": 0}
    turned = roast.marks.get("turning point", profile.curve.turning_point[0] + 30.0)
    said: set[str] = set()
    for r in roast.readings:
        if r.t < turned or r.t > roast.marks.get("drop", float("inf")):
            continue
        half = profile.band(r.t, roast.until(r.t).phase)
        size = (r.celsius - profile.curve.value(r.t)) / half
        for cue, sign in (("too hot", 1.0), ("too cool", -1.0)):
            run[cue] = run[cue] + 1 if sign * size >= 1 else 0
            if run[cue] >= RUN and cue not in said:
                said.add(cue)
                yield Deviation(cue, f"{cue} at {clock(r.t)}", abs(size)), r.t
