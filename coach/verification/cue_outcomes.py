"""Outcome of each cue of a finished roast: useful, late, already acting, false, or unknown.

The judgement uses only what is in the journal: marks, moves, readings and replies, after corrections.

- **useful**: what it announced came, with time enough to act on it; or what it asked for was then done.
- **late**: it was true, and there was no time left for it.
- **already acting**: the person had done it when the cue was heard.
- **false**: what it announced did not come, though nothing was done against it; or it was muted and not followed.
- **unknown**: the journal can't tell; above all where a move was made and the deviation then did not come: either the
  cue prevented it or the cue was wrong.  A prompt that was left alone is unknown too.

The person's own word (a reply that names an outcome) overrides all of this.

Over the ledgers of many roasts each cue has its precision and lead, and those that are wrong too often are kept silent:
aids that are right less often than about seven times in ten were found worse than none (Wickens and Dixon 2007,
TIES 8:201, a regression over 20 studies: an order of magnitude, not a constant).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from statistics import median
from typing import Final

from coach.cues.episodes import Episode
from coach.cues.table import CUES, Family, Priority
from coach.roast.entries import OUTCOMES, Outcome
from coach.roast.profile import Profile
from coach.roast.roast import Roast
from coach.verification.cue_rules import JUDGES, CueCase, Judgement, cannot_say, reply_to

LAST: Final = 20
"""Number of a cue's newest scored lines that count."""
ENOUGH: Final = 10
"""Least number of scored lines from which anything is concluded: a cue that is right four times in five is right only
six times in ten once in eight."""
LEAST: Final = 0.70
"""Share of right ones below which a cue is kept silent."""
SCORED: Final[frozenset[Outcome]] = frozenset({"useful", "late", "false"})
"""Outcomes that count: only 'useful' is right.  'Already acting' and 'unknown' are left out."""


@dataclass(frozen=True)
class OutcomeLine:
    """One line of the ledger.  ``when``: roast time of the first sound (or of the beginning), s; ``at`` before charge.

    ``reply``: 'seen', 'shelved', 'not yet', 'acted' or ''; ``delay``: from the first sound to the reply, s; ``acted``:
    to what it asked for, s.  ``lead``: from the first sound to the event that the cue announced, s.  ``why``: the
    reason for the outcome; ``own``: the outcome is the person's word.
    """

    cue: str
    family: Family
    priority: Priority
    when: float
    text: str
    heard: int
    demoted: bool
    outcome: Outcome
    why: str
    reply: str = ""
    delay: float | None = None
    lead: float | None = None
    acted: float | None = None
    own: bool = False
    evidence: Mapping[str, float] = field(default_factory=dict)

    @property
    def counts(self) -> bool:
        """True if the cue asked for attention: it was heard, or it would have been but for its record."""
        return self.heard > 0 or self.demoted

    @property
    def verdict(self) -> str:
        """The outcome with its reason, then the reply, in words."""
        word = self.outcome.upper() if self.outcome in ("false", "late") else self.outcome
        replied = "" if self.delay is None or not self.reply else f", {self.reply} after {self.delay:.0f} s"
        return f"{word}, {self.why}{replied}"


def judged(episodes: Iterable[Episode], roast: Roast, profile: Profile) -> tuple[OutcomeLine, ...]:
    """The ledger of a finished roast, in the order of its episodes."""
    cases = [CueCase(e, roast, profile) for e in episodes]
    own = _own(cases)
    return tuple(_line(case, own.get(i)) for i, case in enumerate(cases))


def _line(case: CueCase, own: Outcome | None) -> OutcomeLine:
    e = case.episode
    verdict = JUDGES.get(e.cue, cannot_say)(case)
    reply, replied = reply_to(case)
    done = verdict.done if verdict.done is not None and verdict.done >= case.t else None
    if not reply and done is not None:
        reply, replied = "acted", done
    delay = None if replied is None else max(0.0, replied - case.t)
    acted = done - case.t if done is not None else delay if reply == "acted" else None
    if own is not None:
        verdict = Judgement(own, "your word", verdict.lead)
    return OutcomeLine(
        e.cue, e.family, e.priority, case.t, e.text, len(e.sounds), e.demoted, verdict.outcome, verdict.why,
        reply=reply, delay=delay, lead=verdict.lead, acted=acted, own=own is not None, evidence=e.evidence,
    )  # fmt: skip


def _own(cases: list[CueCase]) -> dict[int, Outcome]:
    """The person's word by the number of the episode: the cue's last one begun by the reply's ``at`` (s), else its
    first."""
    out: dict[int, Outcome] = {}
    if not cases:
        return out
    base = cases[0].roast.charge_at or 0.0
    for _, reply in cases[0].roast.replies:
        if reply.answer not in OUTCOMES:
            continue
        mine = [i for i, c in enumerate(cases) if c.episode.cue == reply.cue]
        before = [i for i in mine if cases[i].t + base <= reply.at + 1.0]
        for i in before[-1:] or mine[:1]:
            out[i] = reply.answer
    return out


def missed_window(roast: Roast, profile: Profile) -> str:
    """The cue that should have announced a first crack outside its window of time; '' where it fell inside."""
    goal, fc = profile.goals.get("first crack"), roast.marks.get("first crack")
    if goal is None or fc is None or abs(fc - goal.time) <= goal.time_tolerance:
        return ""
    return "crack late" if fc > goal.time else "crack early"


# -- over many roasts -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Sum:
    """One cue over the last roasts: the number of its lines, of the scored ones among its last twenty and of the right
    ones among these, and the median lead of the right ones, s (None where there is none)."""

    cue: str
    lines: int
    scored: int
    right: int
    lead: float | None

    @property
    def precision(self) -> float | None:
        """Share of right ones among the scored; None before the first was scored."""
        return self.right / self.scored if self.scored else None

    @property
    def demoted(self) -> str:
        """The reason why this cue is kept silent; '' where it is not.  An urgent cue is never kept silent."""
        row = CUES.get(self.cue)
        urgent = row is None or row.priority == "high" or (row.later is not None and row.later[1] == "high")
        if urgent or self.scored < ENOUGH or self.precision is None or self.precision >= LEAST - 1e-9:
            return ""
        return f"right {self.right} of the last {self.scored} times"


def sums(roasts: Iterable[Sequence[OutcomeLine]], last: int = LAST) -> dict[str, Sum]:
    """Precision and lead by cue, over the ledgers of roasts, oldest first; cues in the table's order."""
    lines: dict[str, list[OutcomeLine]] = {}
    for roast in roasts:
        for line in roast:
            if line.counts:
                lines.setdefault(line.cue, []).append(line)
    order = {name: i for i, name in enumerate(CUES)}
    out: dict[str, Sum] = {}
    for cue in sorted(lines, key=lambda n: order.get(n, len(order))):
        scored = [x for x in lines[cue] if x.outcome in SCORED][-last:]
        right = [x for x in scored if x.outcome == "useful"]
        leads = [x.lead for x in right if x.lead is not None]
        out[cue] = Sum(cue, len(lines[cue]), len(scored), len(right), median(leads) if leads else None)
    return out


def demotions(roasts: Iterable[Sequence[OutcomeLine]]) -> dict[str, str]:
    """The cues to be kept silent, each with the reason: ``coach.cues.watch.announce`` takes this as ``demoted``.

    A silent cue is still shown and still scored, so that it comes back once it is right often enough again.
    """
    return {cue: total.demoted for cue, total in sums(roasts).items() if total.demoted}
