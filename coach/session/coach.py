"""The whole coach, headless: entries and time in, a situation and cues out.  Live, replay and rehearsal all use it.

Moments fall on the whole seconds of roast time, and are kept.  A late or corrected entry folds again from
its place; the cues heard are kept outside the fold, so nothing sounds twice.  A screen may spread a long fold over
several calls (``most``, ``catch_up``), and show an entry before its advice is computed: the result is the same, and
until then the present cues and advice stay on the screen.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import Any, Final

import numpy as np

from coach.advice.advice_values import Advice
from coach.advice.advise import advise, sensitivity
from coach.cues.annunciator import Heard
from coach.cues.conditions import wanted_at
from coach.cues.episodes import Recorder
from coach.cues.first_crack_taps import call_by_taps
from coach.cues.limits import RULES
from coach.cues.situation import ActiveCue, Preheat, Situation
from coach.cues.watch import WatchState, announce, judge
from coach.forecast.forecast_values import EVERY, Estimate, Forecast
from coach.forecast.knowledge import Knowledge
from coach.forecast.learning import from_profile
from coach.forecast.predictor import Outlook, WhatIf
from coach.forecast.turned_readings import Face, Turn, renewed
from coach.roast.entries import Entry, Event, Header, Reading, Reply
from coach.roast.incremental_fold import Folded
from coach.roast.profile import Profile
from coach.roast.roast import Numbered, Probe, Roast, Turned, until
from coach.roast.units import Control
from coach.session.issued_forecasts import IssuedForecasts
from coach.session.planned_moves import coming_moves, missed_moves

ADVISE_EVERY: Final = 10
"""Interval between computations of the advice where no entry comes, s."""
SLIP: Final = 120.0
"""Time before the present beyond which an entry sets the clock back, s.  Entries come in the order of a journal's
lines."""
LONGEST: Final = 3600.0
"""Time after charge at which ticks stop, s."""
_T: Final = attrgetter("t")
_AT: Final = attrgetter("at")


@dataclass(frozen=True)
class Moment:
    """State of the coach on one whole second ``at`` (s), with the forecast and the advice in force."""

    at: float
    watch: WatchState
    forecast: Forecast
    advice: Advice | None = None
    sensitivity: str = ""
    assumed: float | None = None
    """First crack by the taps, where the forecast used it (roast time, s)."""


class Coach:
    """One roast with its coach.  ``at``: seconds since the journal's ``started``."""

    def __init__(
        self,
        profile: Profile,
        header: Header,
        knowledge: Knowledge | None = None,
        demoted: Mapping[str, str] | None = None,
    ) -> None:
        self.profile = profile
        self.demoted = demoted or {}
        self.withheld = ""
        self.wider = 1.0
        """The reason why no moves are advised, in words; '' where they are."""
        self.header = header
        self.knowledge = knowledge or from_profile(profile)
        self.folded = Folded.of(header)
        self.at = 0.0
        self.heard = Heard()
        self.cues: tuple[ActiveCue, ...] = ()
        self.record = Recorder(self.demoted)
        self.issued = IssuedForecasts()
        self.typing = False
        self.reading_back = False
        """True while the cues of a roast that was read back (``read_back``) are still to come."""
        self._unseen = False
        """True while the present effects of the newest entry are still to be computed."""
        self._moments: list[Moment] = []
        self._made: tuple[float, Roast, Outlook, Estimate | None, Forecast] | None = None
        self._turn: Turn | None = None
        self._taken: tuple[Roast, Roast] | None = None
        """A roast, and the one assumed in its place while a crack called from taps waits for its key."""
        self._outlook = self._outlook_by(self.roast.rounding)
        every = profile.document.cadence
        self._least = min(RULES.shortest, RULES.patience * min(every.drying, every.browning, every.development))
        self.situation = self._joined(0.0, None, self.roast, None, Forecast(reasons=("no reading yet",)))

    @property
    def entries(self) -> tuple[Numbered, ...]:
        """All entries in the order in which they came in."""
        return self.folded.entries

    @property
    def roast(self) -> Roast:
        """The roast that the entries fold to."""
        return self.folded.roast

    @property
    def watch(self) -> WatchState:
        """The cues active at the last whole second that was folded."""
        return self._moments[-1].watch if self._moments else WatchState()

    def _outlook_by(self, rounding: float) -> Outlook:
        return Outlook(self.profile, self.knowledge, rounding, needle=self.header.dial == "needle")

    # -- entries ------------------------------------------------------------------------------------------------

    def prepare(self, entry: Entry, line: int | None = None) -> Folded:
        """The active entries with one more, ready to be taken.  Raises EntryError; changes nothing."""
        if line is None:
            line = self.entries[-1].line + 1 if self.entries else 2
        return self.folded.with_entry(Numbered(line, entry))

    def take(self, prepared: Folded, *, most: int | None = None) -> Numbered:
        """Take an entry that was prepared after the one taken last.

        With ``most``, no more than this number of whole seconds are folded again at once; with 0 all effects of the
        entry but estimate and forecast are left to ``catch_up``.  See ``behind``.
        """
        numbered = prepared.entries[-1]
        old, self.folded = self.roast, prepared
        if isinstance(numbered.entry, Reading) and numbered.entry.turned:
            self._turn = None
        if numbered.entry.came < self.at - SLIP:  # an entry before it gave a time that can't be right
            self.at = numbered.entry.came
            del self._moments[bisect_right(self._moments, self.at, key=_AT) :]
        self.at = max(self.at, numbered.entry.came)
        self._refold(old)
        self._unseen = most == 0
        self._tick(quiet=True, most=most)
        self._look()
        return numbered

    def receive(self, entry: Entry, line: int | None = None) -> Numbered:
        """Take an entry.  Raises EntryError, and then changes nothing."""
        return self.take(self.prepare(entry, line))

    def read_back(self, entries: Sequence[Numbered]) -> None:
        """Take the entries of a journal, all of them, into a coach that has none; set the clock to the last.

        The roast is there at once.  Its cues, forecasts and advice are left to ``catch_up``, second by second, the
        sounds that would have been heard included; when that is done, unacknowledged cues sound once more.  Raises
        EntryError.
        """
        old, self.folded = self.roast, Folded.of(self.header, entries)
        self.at = max((n.entry.came for n in entries), default=0.0)
        self.reading_back = True
        self.issued.whole = not entries
        self._refold(old)
        self._look()

    @property
    def behind(self) -> bool:
        """True while seconds, or effects of the newest entry, are left to be folded: ``catch_up`` goes on with them.

        Until then the cues shown are those from before, nothing sounds, and the forecast is that of all entries.
        """
        return self._unseen or self._seconds_due

    @property
    def _seconds_due(self) -> bool:
        first, last = self._due_seconds()
        return first <= last

    def catch_up(self, most: int = 1) -> tuple[ActiveCue, ...]:
        """Fold up to ``most`` more seconds; return the cues that sound once all is folded."""
        if not self.behind:
            return ()
        self._tick(quiet=True, most=most)
        if self._seconds_due:
            return ()
        self._unseen = False
        self._look()
        return tuple(c for c in self.cues if c.sounds)

    def learn(self, knowledge: Knowledge) -> None:
        """Go on with other knowledge, as if it had been there from the start; cues heard stay heard."""
        self.knowledge = knowledge
        self._outlook = self._outlook_by(self._outlook.rounding)
        self._moments = []
        self._tick(quiet=True)
        self._look()

    def demote(self, demoted: Mapping[str, str]) -> None:
        """Show these cues without sounding them from now on; each with its reason."""
        self.demoted = demoted
        self.record.demote(demoted)

    def withhold(self, why: str, wider: float = 1.0) -> None:
        """Advise no moves from now on, and give the reason instead ('': advise them, with ranges so much ``wider``)."""
        self.withheld, self.wider = why, wider

    def restarted(self) -> None:
        """Sound unacknowledged cues once more, after a roast was read back with the sound off."""
        self.heard = self.heard.after_restart(
            c.name for c in self.cues if c.state == "unacknowledged" and c.family != "diagnostic"
        )

    def _refold(self, old: Roast) -> None:
        """Discard the states that the change makes wrong."""
        if self.roast.readings and self.roast.first_rounding != self._outlook.rounding:
            self._outlook = self._outlook_by(self.roast.first_rounding)
        changed = _first_change(old, self.roast)
        if changed is None:
            return
        if old.charge_at != self.roast.charge_at:
            self._outlook.keep(0)
            self._moments = []
        else:
            self._outlook.keep(bisect_left(old.readings, changed, key=_T))
            cut = (self.roast.charge_at or 0.0) + changed
            del self._moments[bisect_left(self._moments, cut, key=_AT) :]

    # -- time ---------------------------------------------------------------------------------------------------

    def advance(self, at: float, *, most: int | None = None) -> tuple[ActiveCue, ...]:
        """Let time pass to ``at`` (s); return the cues that sounded on the way.

        With ``most``: where more whole seconds than this are due, nothing is folded and ``behind`` is True.
        """
        sounded: list[ActiveCue] = []
        if at > self.at:
            self.at = at
            first, last = self._due_seconds()
            if most is not None and last - first >= most:
                self._look()
            elif self.reading_back:
                self._tick(quiet=True)
                self._look()
            else:
                sounded = self._tick()
                if self.roast.phase == "cooling" and at >= self.situation.at + 1.0:  # nothing but time goes on
                    self.situation = replace(self.situation, at=at, t=self.roast.time(at))
        return tuple(sounded)

    def _due_seconds(self) -> tuple[int, int]:
        """First and last whole second after charge that are not folded yet."""
        base = self.roast.charge_at or 0.0
        first = 0 if not self._moments else round(self._moments[-1].at - base) + 1
        last = int(np.floor(min(self.at - base, LONGEST) + 1e-6))
        if "drop" in self.roast.marks:
            last = min(last, int(self.roast.marks["drop"]) + 1)
        return first, last

    def _tick(self, quiet: bool = False, most: int | None = None) -> list[ActiveCue]:
        """Fold the whole seconds up to now; return the cues that sounded: none if ``quiet``, for ``_look`` comes after.

        A cue that falls due while entries are folded again is heard at the moment of folding, not a second before.
        """
        base = self.roast.charge_at or 0.0
        first, last = self._due_seconds()
        sounded: list[ActiveCue] = []
        live = self.heard.all[-1] if self.heard.all else -1e9
        for n in range(first, last + 1 if most is None else min(last + 1, first + most)):
            at = base + n
            view = self.roast.until(float(n)) if quiet or n < last else self.roast
            previous = self._moments[-1] if self._moments else None
            entered = _entry_between(self.roast, n - 1.0, float(n))
            fresh = previous is None or n % EVERY == 0 or entered
            advise_anew = entered or n % ADVISE_EVERY == 0
            past = quiet and n <= last - ADVISE_EVERY
            situation = self._situation(at, view, previous, renew=fresh, advise_anew=advise_anew, past=past)
            watch = judge(self.watch, situation)
            if at > live and (self.reading_back or (not quiet and at > self.at - 2.0)):
                self.heard, cues = announce(watch, self.heard, situation, self.demoted)
                self.record.note(at, cues)
                if not self.reading_back:
                    sounded += [c for c in cues if c.sounds]
                    self.cues = cues
            if not quiet:
                self.situation = self._offering(situation)
                self.issued.note(at, self.roast.charge_at, situation.estimate, situation.forecast)
            self._moments.append(
                Moment(at, watch, situation.forecast, situation.advice, situation.sensitivity, situation.tapped_onset)
            )
        return sounded

    def _look(self) -> None:
        """Renew the situation right now, between two ticks."""
        if self.behind:
            self._look_on()
            return
        situation = self._situation(self.at, self.roast, self._moments[-1] if self._moments else None)
        self.situation = self._offering(situation)
        watch = judge(self.watch, self.situation)
        self.heard, self.cues = announce(watch, self.heard, self.situation, self.demoted)
        self.record.note(self.at, self.cues)
        self.issued.note(self.at, self.roast.charge_at, self.situation.estimate, self.situation.forecast)
        if self.reading_back:  # its sounds are those of before
            self.reading_back = False
            self.cues = tuple(replace(c, sounds=False) for c in self.cues)
            self.restarted()

    def _offering(self, s: Situation) -> Situation:
        """The situation with the offered turn of the dial: an earlier offer stays until it is used or has passed."""
        if s.t is None or s.t < 0 or s.roast.phase == "cooling":
            self._turn = None
            return s
        face = Face.of(self.header, self._outlook.rounding)
        self._turn = renewed(self._turn, s.estimate, self.header.unit, face, wanted_at(s), s.t)
        return replace(s, turn=self._turn)

    def _look_on(self) -> None:
        """Renew the situation while seconds are left to be folded: cues and advice stay, nothing sounds."""
        before, roast = self.situation, self.roast
        t = None if roast.charge_at is None else self.at - roast.charge_at
        estimate, forecast = before.estimate, before.forecast
        if t is not None and t >= 0:
            estimate, forecast = self._foreseen(t, self._assumed(t, roast))
        self.situation = self._joined(self.at, t, roast, estimate, forecast, before.advice, before.sensitivity)
        self.cues = tuple(replace(c, sounds=False) for c in self.cues)

    def _foreseen(self, t: float, roast: Roast, *, past: bool = False) -> tuple[Estimate | None, Forecast]:
        """Estimate and forecast at roast time ``t`` (s), computed once for a moment and a roast."""
        if past:  # the time of the next needed reading doesn't matter so soon after the last one
            estimate, forecast = self._outlook.at(t, roast, asking=False)
            if estimate is not None and estimate.reading_t is not None and t + EVERY < estimate.reading_t + self._least:
                return estimate, forecast
        made = self._made
        if made is None or made[0] != t or made[1] is not roast or made[2] is not self._outlook:
            self._made = made = (t, roast, self._outlook, *self._outlook.at(t, roast))
        return made[3], made[4]

    # -- the situation ------------------------------------------------------------------------------------------

    def _situation(
        self,
        at: float,
        roast: Roast,
        before: Moment | None,
        *,
        renew: bool = True,
        advise_anew: bool = True,
        past: bool = False,
    ) -> Situation:
        """The situation at ``at`` (s); forecast and advice are those of the moment before where they aren't renewed.

        In the ``past``, while it is folded again, texts that are only shown are left out.
        """
        t = None if roast.charge_at is None else at - roast.charge_at
        if t is None or t < 0:
            return self._joined(at, t, roast, None, Forecast(reasons=("before charge",)))
        real, roast = roast, self._assumed(t, roast)
        if before is not None and before.assumed != self._onset(real, roast):
            renew = advise_anew = True
        if renew or before is None:
            estimate, forecast = self._foreseen(t, roast, past=past)
        else:
            estimate, forecast = self._outlook.at(t, roast, before.forecast)
        late = before is not None and before.advice is not None and before.advice.deadline is not None
        if late and before is not None and before.advice is not None and t > (before.advice.deadline or t):
            advise_anew = True
        if before is not None and not advise_anew:
            return self._joined(at, t, real, estimate, forecast, before.advice, before.sensitivity)
        stood = None if before is None else before.advice
        advice = advise(self._outlook, t, roast, forecast, estimate, stood, wider=self.wider)
        if self.withheld and advice is not None and advice.kind == "move":
            advice = Advice(self.withheld, kind="withheld")
        each = "" if past else sensitivity(self._outlook, t, roast, forecast)
        return self._joined(at, t, real, estimate, forecast, advice, each)

    def _tapped(self, t: float | None, roast: Roast) -> float | None:
        """First crack called from taps and neither confirmed nor denied (roast time, s); None without such a call."""
        if t is None or "first crack" in roast.marks or roast.phase not in ("drying", "browning"):
            return None
        call = call_by_taps(roast, self.profile)
        return None if call is None else call.onset

    def _assumed(self, t: float, roast: Roast) -> Roast:
        """The roast that the forecast uses: with first crack by the taps while that call waits for its key."""
        onset = self._tapped(t, roast)
        if onset is None:
            return roast
        if self._taken is None or self._taken[0] is not roast or self._taken[1].marks["first crack"] != onset:
            marks: dict[Event, float] = {**roast.marks, "first crack": onset}
            self._taken = (roast, replace(roast, marks=marks, phase="development"))
        return self._taken[1]

    @staticmethod
    def _onset(real: Roast, assumed: Roast) -> float | None:
        return None if real is assumed else assumed.marks["first crack"]

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
        assumed = roast if t is None else self._assumed(t, roast)
        coming = [] if t is None else coming_moves(self.profile, t, assumed, forecast, advice)
        return Situation(
            at, t, self.profile, roast, estimate, forecast,
            preheat=_preheat(roast, at, self.profile) if t is None else None,
            next_move=coming[0] if coming else None,
            due_moves=tuple(m for m in coming if abs(m.due - coming[0].due) < 1.0),
            missed=() if t is None or roast.phase == "cooling" else missed_moves(self.profile, t, assumed, forecast),
            advice=advice,
            sensitivity=each,
            typing=self.typing,
            turn=self._turn,
            tapped_onset=self._tapped(t, roast),
        )  # fmt: skip

    def what_if(self, moves: Sequence[tuple[float, Control, float]]) -> WhatIf | None:
        """The forecast if moves (roast time s, control, setting in core units) were made; changes nothing."""
        t = self.situation.t
        if t is None or t < 0 or not self.roast.readings or self.roast.phase == "cooling":
            return None
        return self._outlook.what_if(t, self._assumed(t, self.roast), moves)


def _first_change(old: Roast, new: Roast) -> float | None:
    """The earliest roast time (s) at which two folds differ; None where they are alike."""
    if old.charge_at != new.charge_at:
        return -1e9
    times: list[float] = []
    lists: tuple[tuple[Sequence[Any], Sequence[Any]], ...] = (
        (old.readings, new.readings),
        (old.moves, new.moves),
        (old.replies, new.replies),
        (old.pops, new.pops),
    )
    for a, b in lists:
        if a is b:
            continue
        alike = zip(a, b, strict=False)  # most of the objects are identical
        i = next((j for j, (x, y) in enumerate(alike) if x is not y and x != y), min(len(a), len(b)))
        times += [_time(seq[i]) for seq in (a, b) if i < len(seq)]
    for event in set(old.marks) | set(new.marks):
        if old.marks.get(event) != new.marks.get(event):
            times += [m[event] for m in (old.marks, new.marks) if event in m]
    return min(times, default=None)


def _time(item: Probe | Turned | tuple[float, Reply] | float) -> float:
    if isinstance(item, tuple):
        return item[0]
    return item if isinstance(item, float) else item.t


def _entry_between(roast: Roast, t0: float, t1: float) -> bool:
    return (
        until(roast.readings, t0) < until(roast.readings, t1)
        or until(roast.moves, t0) < until(roast.moves, t1)
        or any(t0 < m <= t1 for m in roast.marks.values())
    )


def _preheat(roast: Roast, at: float, profile: Profile) -> Preheat | None:
    """Time at which the drum reaches charge temperature, from a straight line through the last three typed readings."""
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
