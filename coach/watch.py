"""The life of cues: what stands, since when, what may sound now.  Values in, values out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from coach.conditions import CONDITIONS, Verdict
from coach.cues import CUES, EXCLUDES, RANK
from coach.situation import ActiveCue, CueState, Situation

SPACING: Final = 5.0
"""No two sounds start within this, s."""
PER_MINUTE: Final = 60.0
CEILING: Final = 10
"""Sounding cues in any ten minutes; high priority is exempt."""
REALARM: Final[dict[str, float]] = {"high": 20.0, "medium": 60.0, "low": 60.0, "none": 1e9}
CONFIRM: Final = frozenset({"crack early", "crack late", "stalling", "racing"})
"""Predictive cues: the same verdict from two forecasts on different readings before they sound."""


@dataclass(frozen=True)
class Standing:
    """A cue that is true: since when (``at``), its episode's key, how many readings bore it out, how bad when seen."""

    since: float
    key: float
    verdict: Verdict
    first_reading: float
    confirmed: bool
    seen_badness: float | None = None
    shelved: bool = False


@dataclass(frozen=True)
class WatchState:
    """What stands at one moment, by cue."""

    standing: Mapping[str, Standing] = field(default_factory=dict)


@dataclass(frozen=True)
class Heard:
    """What was heard, which no correction takes back: per cue the times, and the episode last heard."""

    times: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    episodes: Mapping[str, tuple[float, int]] = field(default_factory=dict)
    all: tuple[float, ...] = ()


def judge(state: WatchState, s: Situation) -> WatchState:
    """Which cues stand now."""
    out: dict[str, Standing] = {}
    reading = s.estimate.reading_t if s.estimate and s.estimate.reading_t is not None else -1.0
    for name, cue in CUES.items():
        if s.roast.phase not in cue.phases:
            continue
        verdict = CONDITIONS[name](s)
        if verdict is None:
            continue
        old = state.standing.get(name)
        if old is None or old.key != verdict.key:
            out[name] = Standing(s.at, verdict.key, verdict, reading, name not in CONFIRM)
        else:
            confirmed = old.confirmed or (verdict.loud and reading != old.first_reading)
            first = old.first_reading if verdict.loud or old.confirmed else reading
            out[name] = replace(old, verdict=verdict, confirmed=confirmed, first_reading=first)
        out[name] = _replied(name, out[name], s)
    for name, quiet in EXCLUDES.items():
        if name in out and out[name].verdict.loud:
            for other in quiet:
                out.pop(other, None)
    return WatchState(out)


def _replied(name: str, standing: Standing, s: Situation) -> Standing:
    for t, reply in s.roast.replies:
        if reply.cue != name or (s.t is not None and t > s.t):
            continue
        if reply.answer == "shelved":
            standing = replace(standing, shelved=True)
        elif reply.answer == "seen" and standing.seen_badness is None and reply.came >= standing.since - 1:
            standing = replace(standing, seen_badness=standing.verdict.badness)
    return standing


def announce(state: WatchState, heard: Heard, s: Situation) -> tuple[Heard, tuple[ActiveCue, ...]]:
    """The cues to show, and which of them sound now: at most one, spaced, limited, never the same twice a minute."""
    order = sorted(state.standing, key=lambda n: (RANK[CUES[n].priority], state.standing[n].since))
    chosen = next((n for n in order if _may_sound(n, state.standing[n], heard, s)), None)
    if chosen is not None:
        standing = state.standing[chosen]
        key, count = heard.episodes.get(chosen, (float("nan"), 0))
        same = key == _episode(standing)
        heard = Heard(
            {**heard.times, chosen: (*heard.times.get(chosen, ()), s.at)},
            {**heard.episodes, chosen: (_episode(standing), count + 1 if same else 1)},
            (*heard.all, s.at),
        )
    return heard, tuple(_shown(n, state.standing[n], heard, s, n == chosen) for n in order)


def _episode(standing: Standing) -> float:
    return standing.key if standing.key else standing.since


def _may_sound(name: str, standing: Standing, heard: Heard, s: Situation) -> bool:
    cue = CUES[name]
    if cue.sound == "none" or not standing.verdict.loud or not standing.confirmed or standing.shelved:
        return False
    if standing.seen_badness is not None and standing.verdict.badness < standing.seen_badness + 0.5:
        return False
    if heard.all and s.at - heard.all[-1] < SPACING:
        return False
    times = heard.times.get(name, ())
    key, count = heard.episodes.get(name, (float("nan"), 0))
    if key == _episode(standing):
        if count >= 2 or s.at - times[-1] < REALARM[cue.priority]:
            return False
    elif times and s.at - times[-1] < PER_MINUTE and cue.priority != "high":
        return False
    if cue.priority != "high" and sum(1 for t in heard.all if t > s.at - 600) >= CEILING - 2:
        return False
    return not (cue.priority == "low" and name != "crack near" and _listening(s))


def _listening(s: Situation) -> bool:
    """Whether crack is being listened for: low sounds would mask the pops."""
    f = s.forecast.first_crack
    if f is None or s.t is None:
        return False
    half = min(1.5 * f.time.sd, 30.0)
    return abs(f.time.median - s.t) <= half


def _shown(name: str, standing: Standing, heard: Heard, s: Situation, sounds: bool) -> ActiveCue:
    cue = CUES[name]
    state: CueState = "unacknowledged"
    if standing.shelved:
        state = "shelved"
    elif standing.seen_badness is not None:
        state = "acknowledged"
    action = cue.action
    if s.advice is not None and s.advice.control is not None and name in ("crack early", "crack late"):
        action = s.advice.text
    return ActiveCue(
        name, cue.family, cue.priority, state, sounds, standing.verdict.text, action, standing.since,
        {"badness": standing.verdict.badness},
    )  # fmt: skip
