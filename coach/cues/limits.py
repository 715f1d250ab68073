"""The numbers of the watch: leads, probabilities, waiting times."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class Rules:
    """Times in s, temperatures in K.  Those without a source are this project's choice."""

    sure: float = 0.70
    """Probability from which on a predictive cue sounds: aids that are right less often were found worse than none
    (Wickens and Dixon 2007, TIES 8:201; an order of magnitude rather than a constant)."""
    sure_far: float = 0.90
    """The same at ``furthest``; in between, from ``far`` (s) on, proportional: the probability leaves out what somebody
    still does in that time."""
    far: float = 200.0
    maybe: float = 0.40
    """Probability from which on it is a silent mark on the screen."""
    needed: float = 20.0
    """Time to hear, decide and move, and for the roast to begin to answer, s."""
    furthest: float = 300.0
    """Time ahead beyond which a cue is a silent mark, however probable, s."""
    response: float = 45.0
    """Time that a corrective move gets before its direction is requested again, s."""
    worse: float = 0.5
    """Number of bands by which an answered cue must get worse to come back."""
    drop_lead: float = 30.0
    charge_lead: float = 30.0
    yellow_lead: float = 20.0
    crack_lead: float = 20.0
    move_lead: float = 5.0
    settle: float = 30.0
    """Time after the reference's turning point from which the band counts, where none is marked, s."""
    patience: float = 1.5
    """Number of the profile's intervals after which a reading is due."""
    shortest: float = 15.0
    """Shortest time after the last reading at which one is requested, s, however much the forecast wants one."""
    plausible: float = 30.0
    """Distance from the estimate within which a doubtful reading over the safety limit is believed, K."""
    listening: float = 60.0
    """Longest time, in all, for which low sounds are deferred while first crack is being listened for, s."""
    spacing: float = 5.0
    """Shortest time between the starts of two sounds, s."""

    def sure_at(self, left: float) -> float:
        """The probability from which on a predictive cue sounds with so much time left (s)."""
        share = (left - self.far) / max(self.furthest - self.far, 1.0)
        return self.sure + max(self.sure_far - self.sure, 0.0) * min(max(share, 0.0), 1.0)


RULES: Final = Rules()
