"""The numbers of the watch that a person may want to set: leads, probabilities, waiting times."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class Rules:
    """Times in s, temperatures in K.  Those without a source are this project's choice."""

    sure: float = 0.70
    """A predictive cue sounds from this probability on: aids that are right less often were found worse than none
    (Wickens and Dixon 2007, TIES 8:201; an order of magnitude rather than a constant)."""
    sure_far: float = 0.90
    """What it takes instead at ``furthest``; in between, from ``far`` on, proportionally.  Over 300 simulated roasts 5
    of the 10 crack cues of 0.70 to 0.90 that came 250 to 300 s ahead were right, 27 of 29 above 0.90, and 47 of 55 of
    those nearer: what somebody still does in that time is not in the probability."""
    far: float = 200.0
    maybe: float = 0.40
    """From here on it is a silent mark on the screen."""
    needed: float = 20.0
    """What it takes to hear, decide and move, and for the roast to begin to answer."""
    furthest: float = 300.0
    """What lies further ahead is a silent mark, however probable.  Over 120 simulated roasts 27 of 30 crack cues came
    true with this and 31 of 36 without it; 29 and 30 of the 42 real misses were warned of."""
    response: float = 45.0
    """What a corrective move gets before its direction is asked for again."""
    worse: float = 0.5
    """An answered cue comes back when it is worse by so many bands."""
    drop_lead: float = 30.0
    charge_lead: float = 30.0
    yellow_lead: float = 20.0
    crack_lead: float = 20.0
    move_lead: float = 5.0
    settle: float = 30.0
    """The band counts from so long after the reference's turning point, where no turning point is marked."""
    patience: float = 1.5
    """A reading is due after so many of the profile's intervals."""
    shortest: float = 15.0
    """However much the forecast wants one: no reading is asked for sooner after the last."""
    plausible: float = 30.0
    """A doubtful reading over the safety limit is believed when it lies this near to the estimate."""
    listening: float = 60.0
    """Low sounds are held so long at most, in all, while first crack is being listened for."""
    spacing: float = 5.0
    """No two sounds start within this."""

    def sure_at(self, left: float) -> float:
        """The probability from which on a predictive cue sounds with so much time left (s)."""
        share = (left - self.far) / max(self.furthest - self.far, 1.0)
        return self.sure + max(self.sure_far - self.sure, 0.0) * min(max(share, 0.0), 1.0)


RULES: Final = Rules()
