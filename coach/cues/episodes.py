"""Episodes: the stretches in which a cue was active, with its evidence, its sounds, and when it was answered.

A ``Recorder`` beside a coach notes what is shown and heard.  How an episode turned out is judged after the roast, in
``coach.verification.cue_outcomes``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from pydantic import ConfigDict

from coach.cues.situation import ActiveCue, CueState
from coach.cues.table import CUES, Family, Priority

GAP: Final = 5.0
"""Longest gap within an episode, s; a sound noted again within this is the same one."""
SAME: Final = 2.0
"""Largest difference between dates of the same episode, s: an entry is judged between two ticks, then at the next."""


@dataclass(frozen=True)
class Episode:
    """One stretch in which a cue was active.  All times on the ``at`` axis, s.

    ``since``: when it began; ``until``: when it was last seen active; ``sounds``: when it was heard.  ``demoted``: it
    would have been heard and was kept silent, having been wrong too often.  ``answered``: when it was first seen
    acknowledged (by a reply or a move).  Text and evidence are those of the first sound, or of the beginning.
    """

    __pydantic_config__ = ConfigDict(allow_inf_nan=False)

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
        """Time at which it was first heard, s; that at which it began, where it never was."""
        return self.sounds[0] if self.sounds else self.since

    @property
    def counts(self) -> bool:
        """True if it called for attention: heard, or kept silent by demotion only."""
        return bool(self.sounds) or self.demoted


ACTIVE: Final[frozenset[CueState]] = frozenset({"unacknowledged", "acknowledged", "shelved"})


class Recorder:
    """Collects episodes while a roast goes on.

    Report to it the cues that the coach shows whenever time has passed or an entry was taken.
    """

    def __init__(self, demoted: Iterable[str] = ()) -> None:
        self._demoted = frozenset(demoted)
        self._open: dict[str, Episode] = {}
        self._closed: list[Episode] = []

    def demote(self, demoted: Iterable[str]) -> None:
        """Note that these are kept silent from now on."""
        self._demoted = frozenset(demoted)

    def note(self, at: float, cues: Sequence[ActiveCue]) -> None:
        """Note what is shown, and sounds, at ``at`` (s)."""
        shown = {c.name for c in cues}
        for cue in cues:
            if cue.state in ACTIVE:
                self._active(at, cue)
        for name in [n for n, e in self._open.items() if n not in shown and at - e.until > GAP]:
            self._closed.append(self._open.pop(name))

    def _active(self, at: float, cue: ActiveCue) -> None:
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
        if cue.sounds and not (now.sounds and at - now.sounds[-1] < GAP):
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
