"""The whole coach, headless: entries and time in, a situation and cues out.  Live, replay and rehearsal all use it.

Moments are kept for each whole second of roast time.  A late or corrected entry folds again from its place; what has
been heard is kept outside, so nothing sounds twice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from coach.advice import advise, sensitivity
from coach.curve import crossing
from coach.entries import Correction, Entry, Header, Mark, Move, Note, Reading
from coach.episodes import Recorder
from coach.errors import EntryError
from coach.forecast_types import Estimate, Forecast
from coach.inputs import OVERDUE, answered
from coach.knowledge import Knowledge
from coach.learn import from_profile
from coach.outlook import Outlook, WhatIf
from coach.parse import Typed
from coach.profile import Profile, Step
from coach.roast import Numbered, Roast, effective, fold, typed_step
from coach.situation import ActiveCue, Advice, NextMove, Preheat, Situation
from coach.taps import call_from
from coach.units import Control, clock
from coach.watch import Heard, WatchState, announce, judge

EVERY: Final = 5
"""Between entries the forecast is renewed every so many seconds."""
ADVISE_EVERY: Final = 10
"""Between entries the advice is thought over every so many seconds."""
LONGEST: Final = 3600.0
"""Ticks stop this long after charge, s."""


@dataclass(frozen=True)
class Moment:
    """What was known on one whole second ``at``, and the forecast that then held."""

    at: float
    watch: WatchState
    forecast: Forecast
    advice: Advice | None = None
    sensitivity: str = ""


@dataclass(frozen=True)
class Prepared:
    """The entries with one more, and the roast they amount to."""

    entries: tuple[Numbered, ...]
    roast: Roast


class Coach:
    """One roast with its coach.  ``at`` is seconds since the journal's ``started``."""

    def __init__(
        self,
        profile: Profile,
        header: Header,
        knowledge: Knowledge | None = None,
        demoted: Mapping[str, str] | None = None,
    ) -> None:
        self.profile = profile
        self.demoted = demoted or {}
        self.header = header
        self.knowledge = knowledge or from_profile(profile)
        self.entries: tuple[Numbered, ...] = ()
        self.roast = Roast(header)
        self.at = 0.0
        self.heard = Heard()
        self.cues: tuple[ActiveCue, ...] = ()
        self.record = Recorder(self.demoted)
        self.typing = False
        self._moments: list[Moment] = []
        self._outlook = Outlook(profile, self.knowledge, self.roast.rounding)
        self.situation = self._joined(0.0, None, self.roast, None, Forecast(reasons=("no reading yet",)))

    def _look_with(self, rounding: float) -> None:
        """See readings as typed in steps of ``rounding`` K."""
        if rounding != self._outlook.rounding:
            self._outlook = Outlook(self.profile, self.knowledge, rounding)

    # -- entries ------------------------------------------------------------------------------------------------

    def entry_from(self, typed: Typed, now: float) -> Entry:
        """A parsed line as an entry that came in at ``now``.  Raises EntryError when its time can't be."""
        at = now
        if typed.ago is not None:
            at = now - typed.ago
        elif typed.roast_time is not None:
            if self.roast.charge_at is None:
                raise EntryError("There is no roast time before charge.", "Say how long ago: 164 -10")
            at = self.roast.charge_at + typed.roast_time
        if at > now + 0.5:
            raise EntryError(f"{clock(self.roast.time(at))} has not come yet.", f"It is {clock(self.roast.time(now))}.")
        if at < 0 and self.roast.charge_at is None:
            raise EntryError("That is before this roast was opened.", "Check the time.")
        late = None if at == now else now
        if typed.temperature is not None:
            return Reading(at=at, typed=late, temperature=typed.temperature)
        if typed.event is not None:
            return Mark(at=at, typed=late, event=typed.event)
        if typed.control is not None and typed.value is not None:
            self._check_move(typed)
            return Move(at=at, typed=late, control=typed.control, value=typed.value)
        return Note(at=at, typed=late, text=typed.note or "")

    def _check_move(self, typed: Typed) -> None:
        assert typed.control is not None
        assert typed.value is not None
        limits = self.profile.document.limits
        top = {"gas": limits.gas, "air": limits.air, "drum": limits.drum}[typed.control]
        planned = [s.shown for s in self.profile.steps if s.control == typed.control]
        highest = max([*planned, top[1] if top else 0.0], default=0.0)
        if highest > 0 and typed.value > 3 * highest:
            raise EntryError(
                f"{typed.control} {typed.value:g} is far above {highest:g}, the highest of this profile.",
                "Type the value on the gauge.",
            )

    def withdraw_last(self, now: float) -> Correction:
        """The correction that withdraws the newest entry that stands.  Raises EntryError when there is none."""
        standing = {n.line for n in effective(self.entries)}
        lines = [n.line for n in self.entries if n.line in standing]
        if not lines:
            raise EntryError("Nothing to withdraw.", "")
        return Correction(at=now, of=lines[-1], replace=None)

    def prepare(self, entry: Entry, line: int | None = None) -> Prepared:
        """An entry that fits the roast, ready to be taken.  Raises EntryError; changes nothing."""
        if line is None:
            line = self.entries[-1].line + 1 if self.entries else 2
        entries = (*self.entries, Numbered(line, entry))
        return Prepared(entries, fold(self.header, effective(entries)))

    def take(self, prepared: Prepared) -> Numbered:
        """Take an entry that was prepared after the one taken last."""
        numbered = prepared.entries[-1]
        old, self.entries, self.roast = self.roast, prepared.entries, prepared.roast
        self.at = max(self.at, numbered.entry.came)
        self._refold(old)
        self._look()
        return numbered

    def receive(self, entry: Entry, line: int | None = None) -> Numbered:
        """Take an entry.  Raises EntryError, and is then as before."""
        return self.take(self.prepare(entry, line))

    def learn(self, knowledge: Knowledge) -> None:
        """Go on with other knowledge, as if it had been there from the start; what was heard stays heard."""
        self.knowledge = knowledge
        self._outlook = Outlook(self.profile, knowledge, self._outlook.rounding)
        self._moments = []
        self._tick(quiet=True)
        self._look()

    def demote(self, demoted: Mapping[str, str]) -> None:
        """Show these cues from now on without sounding them; each with its reason."""
        self.demoted = demoted
        self.record.demote(demoted)

    def restarted(self) -> None:
        """After a roast was read back with the sound off: what stands unanswered is heard once more."""
        self.heard = self.heard.after_restart(
            c.name for c in self.cues if c.state == "unacknowledged" and c.family != "diagnostic"
        )

    def _refold(self, old: Roast) -> None:
        """Throw away what the change makes wrong, and work it out again up to now."""
        if self.roast.readings:  # the first few say it, so that it is the same however they came to stand there
            self._look_with(typed_step(self.roast.readings[:6], self.header.unit))
        changed = _first_change(old, self.roast)
        if changed is None:
            return
        if old.charge_at != self.roast.charge_at:
            self._outlook.keep(0)
            self._moments = []
        else:
            self._outlook.keep(sum(1 for r in old.readings if r.t < changed))
            cut = (self.roast.charge_at or 0.0) + changed
            self._moments = [m for m in self._moments if m.at < cut]
        self._tick(quiet=True)

    # -- time ---------------------------------------------------------------------------------------------------

    def advance(self, at: float) -> tuple[ActiveCue, ...]:
        """Let time pass to ``at``; what sounded on the way."""
        sounded: list[ActiveCue] = []
        if at > self.at:
            self.at = at
            sounded = self._tick()
        return tuple(sounded)

    def _tick(self, quiet: bool = False) -> list[ActiveCue]:
        """The whole seconds up to now; what sounded on the way: nothing if ``quiet``, where ``_look`` speaks after it.

        A cue that falls due while entries are folded again is heard at the moment of folding, not a second before.
        """
        base = self.roast.charge_at or 0.0
        first = 0 if not self._moments else round(self._moments[-1].at - base) + 1
        last = int(np.floor(min(self.at - base, LONGEST) + 1e-6))
        if "drop" in self.roast.marks:
            last = min(last, int(self.roast.marks["drop"]) + 1)
        sounded: list[ActiveCue] = []
        live = self.heard.all[-1] if self.heard.all else -1e9
        for n in range(first, last + 1):
            at = base + n
            view = self.roast.until(float(n)) if n < last else self.roast
            previous = self._moments[-1] if self._moments else None
            entered = _entry_between(self.roast, n - 1.0, float(n))
            fresh = previous is None or n % EVERY == 0 or entered
            situation = self._situation(at, view, previous, renew=fresh, advise_anew=entered or n % ADVISE_EVERY == 0)
            watch = judge(previous.watch if previous else WatchState(), situation)
            if not quiet and at > live and at > self.at - 2.0:
                self.heard, cues = announce(watch, self.heard, situation, self.demoted)
                sounded += [c for c in cues if c.sounds]
                self.cues = cues
                self.record.note(at, cues)
            self.situation = situation
            self._moments.append(Moment(at, watch, situation.forecast, situation.advice, situation.sensitivity))
        return sounded

    def _look(self) -> None:
        """The situation right now, between two ticks."""
        self.situation = self._situation(self.at, self.roast, self._moments[-1] if self._moments else None)
        watch = judge(self._moments[-1].watch if self._moments else WatchState(), self.situation)
        self.heard, self.cues = announce(watch, self.heard, self.situation, self.demoted)
        self.record.note(self.at, self.cues)

    # -- the situation ------------------------------------------------------------------------------------------

    def _situation(
        self, at: float, roast: Roast, before: Moment | None, *, renew: bool = True, advise_anew: bool = True
    ) -> Situation:
        """What is known at ``at``; forecast and advice are those of the moment before where they aren't renewed."""
        t = None if roast.charge_at is None else at - roast.charge_at
        if t is None or t < 0:
            return self._joined(at, t, roast, None, Forecast(reasons=("before charge",)))
        kept = None if renew or before is None else before
        estimate, forecast = self._outlook.at(t, roast, None if kept is None else kept.forecast)
        if before is not None and not advise_anew:
            return self._joined(at, t, roast, estimate, forecast, before.advice, before.sensitivity)
        age = None if estimate is None else estimate.age
        advice = advise(self._outlook, t, roast, forecast, age, None if before is None else before.advice)
        each = sensitivity(self._outlook, t, roast, forecast)
        return self._joined(at, t, roast, estimate, forecast, advice, each)

    def _joined(
        self,
        at: float,
        t: float | None,
        roast: Roast,
        estimate: Estimate | None,
        forecast: Forecast,
        advice: Advice | None = None,
        each: str = "",
    ) -> Situation:
        call = None if t is None else call_from(roast, self.profile.document.taps)
        return Situation(
            at, t, self.profile, roast, estimate, forecast,
            preheat=_preheat(roast, at, self.profile) if t is None else None,
            next_move=None if t is None else self.next_move(t, roast, forecast),
            advice=advice,
            sensitivity=each,
            typing=self.typing,
            tapped_onset=None if call is None else call.onset,
        )  # fmt: skip

    def what_if(self, moves: Sequence[tuple[float, Control, float]]) -> WhatIf | None:
        """The forecast if moves (roast time s, control, setting in core units) were made; nothing of it stays."""
        t = self.situation.t
        if t is None or t < 0 or not self.roast.readings or self.roast.phase == "cooling":
            return None
        return self._outlook.what_if(t, self.roast, moves)

    def next_move(self, t: float, roast: Roast, forecast: Forecast) -> NextMove | None:
        """The first planned move that was neither made nor left out."""
        for step in self.profile.steps:
            due = self._due(step, t, roast, forecast)
            if due is None or due < t - OVERDUE:
                continue
            if not answered(step, due, roast.moves, t):
                return NextMove(step, due, due - t)
        return None

    def _due(self, step: Step, t: float, roast: Roast, forecast: Forecast) -> float | None:
        if step.event is not None and step.event != "charge":
            marked = roast.marks.get(step.event)
            if marked is not None:
                return marked + step.after
            if step.event == "first crack" and forecast.first_crack is not None:
                return forecast.first_crack.time.median + step.after
            return max(step.time, t + 1)
        if step.temperature is not None and forecast.path is not None:
            due = crossing(forecast.path.t, forecast.path.mean, step.temperature)
            if due is not None and due > forecast.path.t[0]:
                return due
            if due is not None:
                passed = [r.t for r in roast.readings if r.celsius >= step.temperature and r.t > 60]
                return passed[0] if passed else t
        return step.time


def _first_change(old: Roast, new: Roast) -> float | None:
    """The earliest roast time at which two folds differ; None when they are alike."""
    if old.charge_at != new.charge_at:
        return -1e9
    times: list[float] = []
    for a, b in (
        (old.readings, new.readings),
        (old.moves, new.moves),
        (old.replies, new.replies),
        ([(p,) for p in old.pops], [(p,) for p in new.pops]),
    ):
        if a == b:
            continue
        i = next((j for j, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
        for seq in (a, b):
            if i < len(seq):
                item = seq[i]
                times.append(item[0] if isinstance(item, tuple) else item.t)
    for event in set(old.marks) | set(new.marks):
        if old.marks.get(event) != new.marks.get(event):
            times += [m[event] for m in (old.marks, new.marks) if event in m]
    return min(times, default=None)


def _entry_between(roast: Roast, t0: float, t1: float) -> bool:
    return (
        any(t0 < r.t <= t1 for r in roast.readings[-200:])
        or any(t0 < m.t <= t1 for m in roast.moves)
        or any(t0 < m <= t1 for m in roast.marks.values())
    )


def _preheat(roast: Roast, at: float, profile: Profile) -> Preheat | None:
    """When the drum reaches charge temperature, from a straight line through the last three typed readings."""
    last = roast.preheat[-3:]
    if len(last) < 2 or last[-1].t - last[0].t < 5:
        return None
    t = np.array([r.t for r in last])
    v = np.array([r.celsius for r in last])
    rate = float(np.polyfit(t - t[-1], v, 1)[0])
    gap = profile.charge_temperature - float(v[-1])
    if abs(gap) > 1 and (rate == 0 or gap / rate < 0):
        return None
    left = 0.0 if abs(gap) <= 1 else gap / rate
    sd = max(3.0, 0.15 * left + 1.0 / max(abs(rate), 0.02))
    return Preheat(float(t[-1]) + left, sd, float(v[-1]), rate)
