"""The life of cues: which are active, since when, and how they were answered.  Values in, values out.

``judge`` follows the conditions from moment to moment and knows nothing of sounds, so from a late or corrected entry on
they can be replayed.  ``announce`` decides what is heard now, given what was heard already.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal

from coach.cues.annunciator import Heard, Pending, choose
from coach.cues.conditions import CONDITIONS, UNKNOWN, Verdict
from coach.cues.evidence import corrected, gas_off, listening
from coach.cues.situation import ActiveCue, CueState, Situation
from coach.cues.table import CUES, RANK, RULES, Cue

FAR: Final = 2.0
"""Size of a condition at which one reading is enough."""
ACTIVE: Final = frozenset({"unacknowledged", "acknowledged"})
Raise = Literal["trips", "worse", "not enough"]
CueEvent = Literal[
    "trips", "clears", "seen", "acted", "shelve", "worse", "not enough", "suppress", "release", "settles"
]
_OFF: Final[dict[CueEvent, CueState]] = {"shelve": "shelved", "suppress": "suppressed"}
TRANSITIONS: Final[dict[CueState, dict[CueEvent, CueState]]] = {
    "normal": {"trips": "unacknowledged", **_OFF},
    "unacknowledged": {"seen": "acknowledged", "acted": "acknowledged", "clears": "returned", **_OFF},
    "acknowledged": {"clears": "normal", "worse": "unacknowledged", "not enough": "unacknowledged", **_OFF},
    "returned": {"trips": "unacknowledged", "seen": "normal", "acted": "normal", "settles": "normal", **_OFF},
    "shelved": {},
    "suppressed": {"release": "normal", "shelve": "shelved"},
}
"""The states of a cue after ANSI/ISA-18.2-2016 (A to F of its figure; G, out of service, is not used); an event that is
not named leaves the state as it is.  What differs, for one person with busy hands and a roast of ten minutes: acting
acknowledges; what returned to normal settles without a sound; shelving holds for the whole roast; nothing latches."""


@dataclass(frozen=True)
class ConditionRun:
    """Record of whether the condition holds by the reading last used, and by the one before."""

    line: int | None = None
    now: bool = False
    before: bool = False

    def with_verdict(self, verdict: Verdict) -> ConditionRun:
        """Add one more verdict; an unknown one changes nothing."""
        if verdict.size is None:
            return self
        now = verdict.size >= 1.0
        if verdict.basis == self.line:
            return self if now == self.now else replace(self, now=now)
        return ConditionRun(verdict.basis, now, self.now)


@dataclass(frozen=True)
class Track:
    """One cue's life so far.  Times on the ``at`` axis, s.

    ``since``: start of the episode; ``raised``: when it last requested an answer, and ``why``; ``ready``: since when
    it could have been heard; ``answered``: how bad it was when answered (None: not yet) and ``by`` what; ``acted``:
    when the last move that answers it was made; ``counted`` and ``replied``: moves and replies up to then were counted;
    ``known``: the last verdict that was not unknown.
    """

    state: CueState = "normal"
    since: float = 0.0
    raised: float = 0.0
    why: Raise = "trips"
    ready: float = 0.0
    key: str = ""
    answered: float | None = None
    by: Literal["seen", "acted", ""] = ""
    answered_later: bool = False
    acted: float | None = None
    counted: float = -1e9
    replied: float = -1e9
    run: ConditionRun = ConditionRun()
    verdict: Verdict = UNKNOWN
    known: Verdict = UNKNOWN

    def then(self, event: CueEvent) -> Track:
        """Apply an event, by the table of states."""
        after = TRANSITIONS[self.state].get(event, self.state)
        return self if after == self.state else replace(self, state=after)

    def judged(self, verdict: Verdict) -> Track:
        """Add one more verdict; itself where the verdict is the last one again."""
        known, run = self.known if verdict.size is None else verdict, self.run.with_verdict(verdict)
        if run is self.run and verdict == self.verdict and known == self.known:
            return self
        return replace(self, run=run, verdict=verdict, known=known)

    @property
    def active(self) -> bool:
        return self.state in ACTIVE


NEW: Final = Track()
"""The track of a cue that was never judged."""


@dataclass(frozen=True)
class WatchState:
    """The cues' tracks at one moment, by name; and for how long crack was listened for so far, s."""

    tracks: Mapping[str, Track] = field(default_factory=dict)
    at: float | None = None
    listened: float = 0.0
    hushed: bool = False

    def masked(self, row: Cue) -> bool:
        """True if a cue of the same cause is active."""
        return any(m in self.tracks and self.tracks[m].active for m in row.masked_by)


def judge(state: WatchState, s: Situation) -> WatchState:
    """Judge which cues are active now.  Twice with the same situation is the same as once."""
    tracks = {name: _follow(row, state.tracks.get(name, NEW), s) for name, row in CUES.items()}
    after = WatchState(tracks, s.at)
    for name, row in CUES.items():
        if tracks[name].state == "unacknowledged" and after.masked(row):
            tracks[name] = replace(tracks[name], ready=s.at)
    span = listening(s) if s.t is not None else None
    inside = span is not None and s.t is not None and span[0] <= s.t <= span[1]
    passed = 0.0 if state.at is None else min(max(s.at - state.at, 0.0), 2.0)
    listened = state.listened + (passed if inside else 0.0)
    return replace(after, listened=listened, hushed=inside and listened <= RULES.listening)


def _follow(row: Cue, track: Track, s: Situation) -> Track:
    if s.roast.phase not in row.phases:
        if track.state == "suppressed":
            return _shelved(row, track, s)
        return _shelved(row, Track(replied=track.replied, state=track.state).then("suppress"), s)
    track = track.then("release")
    verdict = CONDITIONS[row.name](s)
    if track.active and verdict.size is not None and verdict.key != track.key:
        track = _cleared(track, s)
    track = track.judged(verdict)
    if verdict.size is not None:
        track = _tripped(row, track, s) if _trips(row, track) else track
        if track.active and verdict.size < row.clear_at:
            track = _cleared(track, s)
    if track.state == "returned" and s.at > track.ready:
        track = track.then("settles")
    track = _shelved(row, track, s)
    if track.active:
        track = _answers(row, track, s)
    if track.active and verdict.size is not None:
        track = _comes_back(row, track, s)
    return track


def _trips(row: Cue, track: Track) -> bool:
    """True if a cue that is not active begins: large enough, for long enough, and of use."""
    verdict, run = track.verdict, track.run
    assert verdict.size is not None
    if track.active or track.state == "shelved" or verdict.silent or verdict.size < 1.0:
        return False
    return not row.two or (run.now and run.before) or verdict.size >= FAR


def _tripped(row: Cue, track: Track, s: Situation) -> Track:
    track = replace(
        track,
        since=s.at,
        raised=s.at,
        why="trips",
        ready=s.at,
        key=track.verdict.key,
        answered=None,
        by="",
        acted=None,
        counted=-1e9,
    )
    return track.then("trips")


def _cleared(track: Track, s: Situation) -> Track:
    return replace(track, ready=s.at, answered=None, by="", acted=None).then("clears")


# -- answers -------------------------------------------------------------------------------------------------------


def _replies(row: Cue, s: Situation) -> list[tuple[float, str]]:
    """Answers to this cue so far, on the ``at`` axis."""
    base = s.roast.charge_at or 0.0
    return [(t + base, r.answer) for t, r in s.roast.replies if r.cue == row.name and t + base <= s.at + 1e-6]


def _shelved(row: Cue, track: Track, s: Situation) -> Track:
    """Shelve for this roast, or take back; what is urgent can't be shelved, only seen."""
    if row.priority == "high":
        return track
    shelved = any(answer == "shelved" for _, answer in _replies(row, s))
    if shelved:
        return track.then("shelve")
    return replace(track, state="normal") if track.state == "shelved" else track


def _answers(row: Cue, track: Track, s: Situation) -> Track:
    """Apply the replies to an active cue and the moves about it."""
    base = s.roast.charge_at or 0.0
    if row.answer != "none":
        after = track.since - RULES.response - base
        when = gas_off(s, after) if row.answer == "gas off" else corrected(s, row.answer, after)
        if when is not None and when + base > track.counted:
            track = replace(track, acted=when + base, counted=when + base)
            if track.by != "seen":
                track = _answered(track, "acted")
    came = [t for t, answer in _replies(row, s) if answer in ("seen", "shelved", "not yet")]
    if came and came[-1] >= track.raised - 1e-6 and came[-1] > track.replied:
        track = _answered(replace(track, replied=came[-1]), "seen")
    return track


def _answered(track: Track, event: Literal["seen", "acted"]) -> Track:
    badness = track.known.badness
    return replace(track, answered=badness, by=event, answered_later=track.known.later).then(event)


def _comes_back(row: Cue, track: Track, s: Situation) -> Track:
    """An answered cue asks again: clearly worse, or the move had its time and it is still forecast."""
    if track.state != "acknowledged" or track.verdict.silent or track.answered is None or track.verdict.size is None:
        return track
    high = row.speaks(track.verdict.later)[1] == "high"
    recovering = track.acted is not None and s.at < track.acted + RULES.response
    if recovering and not high:
        return track
    why: Raise | None = None
    graver = track.verdict.later and not track.answered_later and not row.predictive  # less time is no worse
    if track.verdict.badness >= track.answered + RULES.worse or graver:
        why = "worse"
    elif row.predictive and track.by == "acted" and track.verdict.size >= 1.0:
        why = "not enough"
    if why is None:
        return track
    return replace(track, raised=s.at, ready=s.at, why=why, answered=None, by="", acted=None).then(why)


# -- what is heard and shown ---------------------------------------------------------------------------------------


def announce(
    state: WatchState, heard: Heard, s: Situation, demoted: Mapping[str, str] | None = None
) -> tuple[Heard, tuple[ActiveCue, ...]]:
    """The cues to show, most urgent first, and the one of them, if any, that is to be heard now.

    ``demoted`` names cues that were wrong too often, with the reason: they are shown and not heard.  What is urgent is
    heard all the same.
    """
    demoted = demoted or {}
    pending = [_pending(row, state.tracks[name]) for name, row in CUES.items() if _wants(row, state, demoted)]
    heard, chosen = choose(pending, heard, s.at, state.hushed)
    shown = [
        _shown(row, state.tracks[name], s, name == chosen, demoted.get(name, "") if row.priority != "high" else "")
        for name, row in CUES.items()
        if name in state.tracks and not state.masked(row)
    ]
    cues = [c for c in shown if c is not None]
    order = {"unacknowledged": 0, "acknowledged": 1, "shelved": 2, "normal": 3}
    cues.sort(key=lambda c: (order[c.state], RANK[c.priority], -c.since))
    return heard, tuple(cues)


def _wants(row: Cue, state: WatchState, demoted: Mapping[str, str]) -> bool:
    track = state.tracks.get(row.name)
    return (
        track is not None
        and track.state == "unacknowledged"
        and row.sound != "none"
        and (row.name not in demoted or row.priority == "high")
        and track.verdict.size is not None
        and not track.verdict.silent
        and not state.masked(row)
    )


def _pending(row: Cue, track: Track) -> Pending:
    slack = 60.0 if track.why == "trips" and row.priority != "high" else 2.0
    return Pending(
        row, row.speaks(track.known.later)[1], track.raised - slack, track.ready, track.key, track.known.later
    )


def _shown(row: Cue, track: Track, s: Situation, sounds: bool, demoted: str) -> ActiveCue | None:
    verdict = track.known
    if track.active or (track.state == "shelved" and (track.verdict.size or 0.0) >= 1.0):
        family, priority = row.speaks(verdict.later)
        text, state = verdict.text, track.state
        if verdict.silent or row.sound == "none":
            family, priority = "diagnostic", "none"
        if track.verdict.size is None and (row.two or "median" in verdict.evidence):  # what rests on a forecast
            text += " (nothing newer is known)"
        if demoted:
            text += f" (not sounded: {demoted})"
        advised = verdict.action if s.advice is not None and verdict.action == s.advice.text else ""
        action = "look to drop" if verdict.silent else advised or row.action
        return ActiveCue(row.name, family, priority, state, sounds, text, action, track.since, verdict.evidence)
    now = track.verdict
    if track.state == "normal" and row.two and now.size is not None and (now.mark or now.size >= 1.0):
        action = "look to drop" if now.silent else "not sure yet: the next reading tells"
        return ActiveCue(row.name, "diagnostic", "none", "normal", False, now.text, action, s.at, now.evidence)
    return None
