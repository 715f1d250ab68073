"""What the cues of a roast were: each episode with its evidence, its sounds and how it was answered.

An episode is one stretch in which a cue stood.  A ``Recorder`` beside a running coach notes what was really heard;
``walk`` works the same out from a journal.  How an episode turned out is judged in ``coach.ledger_outcome``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from coach.cues import CUES
from coach.entries import Header
from coach.knowledge import Knowledge
from coach.profile import Profile
from coach.roast import Numbered, Roast
from coach.session import Coach
from coach.situation import ActiveCue, CueState, Family, Priority

GAP: Final = 5.0
"""A cue that was away for longer than this comes back as a new episode; a sound noted again within this is the same
one, s."""
SAME: Final = 2.0
"""Between two ticks an entry is looked at where it stands; the next whole second dates the same episode anew, s."""
AFTER_DROP: Final = 5.0
"""A walk ends so long after drop, s."""


@dataclass(frozen=True)
class Episode:
    """One stretch in which a cue stood.  All times on the ``at`` axis, s.

    ``since``: when it began; ``until``: when it was last seen standing; ``sounds``: when it was heard.  ``demoted``: it
    would have been heard and was kept silent, having been wrong too often.  ``answered``: when it was first seen
    acknowledged (by a reply or a move).  Text and evidence are those of the first sound, or of the beginning.
    """

    cue: str
    family: Family
    priority: Priority
    text: str
    since: float
    until: float
    sounds: tuple[float, ...] = ()
    demoted: bool = False
    answered: float | None = None
    evidence: Mapping[str, float] = field(default_factory=dict)

    @property
    def begun(self) -> float:
        """When it was first heard; when it began, where it never was."""
        return self.sounds[0] if self.sounds else self.since

    @property
    def counts(self) -> bool:
        """Whether it asked for attention: heard, or kept silent by demotion only."""
        return bool(self.sounds) or self.demoted


STANDING: Final[frozenset[CueState]] = frozenset({"unacknowledged", "acknowledged", "shelved"})


class Recorder:
    """Collects episodes while a roast goes on.

    Tell it what the coach shows whenever time has passed or an entry was taken: the cues shown, and those that sounded
    on the way.
    """

    def __init__(self, demoted: Iterable[str] = ()) -> None:
        self._demoted = frozenset(demoted)
        self._open: dict[str, Episode] = {}
        self._closed: list[Episode] = []

    def note(self, at: float, cues: Sequence[ActiveCue], sounded: Sequence[ActiveCue] = ()) -> None:
        """What is shown at ``at`` (s), and what sounded since the last note."""
        heard = {c.name for c in sounded} | {c.name for c in cues if c.sounds}
        shown = {c.name: c for c in (*sounded, *cues)}
        for name, cue in shown.items():
            if cue.state in STANDING:
                self._standing(at, cue, name in heard)
        for name in [n for n, e in self._open.items() if n not in shown and at - e.until > GAP]:
            self._closed.append(self._open.pop(name))

    def _standing(self, at: float, cue: ActiveCue, sounds: bool) -> None:
        old = self._open.get(cue.name)
        again = old is not None and cue.since > old.until and cue.since - old.since > SAME
        if old is not None and (again or at - old.until > GAP):
            self._closed.append(self._open.pop(cue.name))
            old = None
        if old is None:
            if cue.state == "shelved":
                return
            since = min(cue.since, at)
            old = Episode(cue.name, cue.family, cue.priority, cue.text, since, at, evidence=dict(cue.evidence))
        now = replace(old, until=max(old.until, at))
        if sounds and not (now.sounds and at - now.sounds[-1] < GAP):
            if not now.sounds:
                now = replace(now, family=cue.family, priority=cue.priority, text=cue.text, evidence=dict(cue.evidence))
            now = replace(now, sounds=(*now.sounds, at))
        elif cue.name in self._demoted and cue.state == "unacknowledged":
            now = replace(now, demoted=True)
        if cue.state == "acknowledged" and now.answered is None:
            now = replace(now, answered=at)
        self._open[cue.name] = now

    @property
    def episodes(self) -> tuple[Episode, ...]:
        """All of them so far, in the order in which they began."""
        found = [*self._closed, *self._open.values()]
        order = {name: i for i, name in enumerate(CUES)}
        return tuple(sorted(found, key=lambda e: (e.since, order.get(e.cue, len(order)))))


@dataclass(frozen=True)
class Walk:
    """A roast gone through once more: its episodes, every sound (``at`` axis, s), and its fold."""

    episodes: tuple[Episode, ...]
    sounds: tuple[tuple[float, ActiveCue], ...]
    roast: Roast


def walk(
    profile: Profile,
    header: Header,
    entries: Sequence[Numbered],
    knowledge: Knowledge | None = None,
    demoted: Mapping[str, str] | None = None,
) -> Walk:
    """A journal through a coach, second by second: entries come in when they were typed, in the journal's order.

    Raises EntryError when the entries don't make a roast.
    """
    coach = Coach(profile, header, knowledge, demoted)
    recorder = Recorder(demoted or ())
    sounds: list[tuple[float, ActiveCue]] = []
    at, end = 0.0, float("inf")

    def note(sounded: Sequence[ActiveCue]) -> None:
        sounds.extend((coach.at, c) for c in sounded)
        recorder.note(coach.at, coach.cues, sounded)

    for n in entries:
        while at + 1.0 <= min(n.entry.came, end):
            at += 1.0
            note(coach.advance(at))
        if n.entry.came <= end:
            coach.advance(n.entry.came)
        coach.receive(n.entry, n.line)
        note([c for c in coach.cues if c.sounds])
        if "drop" in coach.roast.marks and coach.roast.charge_at is not None:
            end = max(coach.roast.charge_at + coach.roast.marks["drop"], n.entry.came) + AFTER_DROP
            end = min(end, coach.roast.charge_at + coach.roast.marks["drop"] + 60.0)
    return Walk(recorder.episodes, tuple(sounds), coach.roast)
