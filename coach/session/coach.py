"""The whole coach, headless: entries and time in, a situation and cues out.  Live, replay and rehearsal all use it.

Moments fall on the whole seconds of roast time, and are kept.  A late or corrected entry folds again from
its place; the cues heard are kept outside the fold, so nothing sounds twice.  A screen may spread a long fold over
several calls (``most``, ``catch_up``), and show an entry before its advice is computed: the result is the same, and
until then the present cues and advice stay on the screen.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from operator import attrgetter
from typing import Final

import numpy as np

from coach.advice.advice_values import Advice
from coach.advice.advise import advise, sensitivity
from coach.cues.annunciator import Heard
from coach.cues.conditions import wanted_at
from coach.cues.episodes import Recorder
from coach.cues.first_crack_taps import call_by_taps
from coach.cues.situation import ActiveCue, Preheat, Situation
from coach.cues.table import RULES
from coach.cues.watch import WatchState, announce, judge
from coach.forecast.forecast_values import EVERY, Estimate, Forecast
from coach.forecast.knowledge import Knowledge
from coach.forecast.learning import from_profile
from coach.forecast.predictor import Outlook
from coach.forecast.turned_readings import Face, Turn, renewed
from coach.roast.entries import Entry, Event, Header, Reading
from coach.roast.profile import Profile
from coach.roast.roast import Folded, Numbered, Roast, until
from coach.roast.units import Control
from coach.session.issued_forecasts import IssuedForecasts
from coach.session.planned_moves import planned_moves

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


BEFORE: Final = Moment(-math.inf, WatchState(), Forecast())


class Coach:
    """One roast with its coach.  ``at``: seconds since the journal's ``started``."""

    def __init__(self, profile: Profile, header: Header, knowledge: Knowledge | None = None) -> None:
        self.profile = profile
        self.demoted: Mapping[str, str] = {}
        self.withheld = ""
        """The reason why no moves are advised, in words; '' where they are."""
        self.wider = 1.0
        self.header = header
        self.knowledge = knowledge or from_profile(profile)
        self.folded = Folded.of(header)
        self.at = 0.0
        self.heard = Heard()
        self.cues: tuple[ActiveCue, ...] = ()
        self.record = Recorder()
        self.issued = IssuedForecasts()
        self.typing = False
        self.reading_back = False
        """True while the cues of a roast that was read back (``read_back``) are still to come."""
        self._unseen = False
        """True while the present effects of the newest entry are still to be computed."""
        self._moments = [BEFORE]
        """The state before charge, then those of the whole seconds from it on."""
        self._made: tuple[float, Roast, Outlook, Estimate | None, Forecast] | None = None
        self._turn: Turn | None = None
        self._taken: tuple[Roast, Roast] | None = None
        """A roast, and the one assumed in its place while a crack called from taps waits for its key."""
        self._outlook = self._outlook_by(self.roast.rounding)
        every = profile.document.cadence
        self._least = min(RULES.shortest, RULES.patience * min(every.drying, every.browning, every.development))
        self.situation = self._joined(0.0, self.roast, None, Forecast(reasons=("no reading yet",)))

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
        return self._moments[-1].watch

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
        old, self.folded = self.folded, prepared
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
        old, self.folded = self.folded, Folded.of(self.header, entries)
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
        return self._unseen or bool(self._due)

    def catch_up(self, most: int = 1) -> tuple[ActiveCue, ...]:
        """Fold up to ``most`` more seconds; return the cues that sound once all is folded."""
        if not self.behind:
            return ()
        self._tick(quiet=True, most=most)
        if self._due:
            return ()
        self._unseen = False
        self._look()
        return tuple(c for c in self.cues if c.sounds)

    def learn(self, knowledge: Knowledge) -> None:
        """Go on with other knowledge, as if it had been there from the start; cues heard stay heard."""
        self.knowledge = knowledge
        self._outlook = self._outlook_by(self._outlook.rounding)
        self._moments = [BEFORE]
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

    def _refold(self, old: Folded) -> None:
        """Discard the states that the change makes wrong."""
        if self.roast.readings and self.roast.first_rounding != self._outlook.rounding:
            self._outlook = self._outlook_by(self.roast.first_rounding)
        changed = _first_change(old, self.folded)
        if changed is None:
            return
        if old.roast.charge_at != self.roast.charge_at:
            changed = -1e9
        self._outlook.keep(bisect_left(old.roast.readings, old.roast.time(changed), key=_T))
        del self._moments[bisect_left(self._moments, changed, key=_AT) :]

    # -- time ---------------------------------------------------------------------------------------------------

    def advance(self, at: float, *, most: int | None = None) -> tuple[ActiveCue, ...]:
        """Let time pass to ``at`` (s); return the cues that sounded on the way.

        With ``most``: where more whole seconds than this are due, nothing is folded and ``behind`` is True.
        """
        sounded: list[ActiveCue] = []
        if at > self.at:
            self.at = at
            if most is not None and len(self._due) > most:
                self._look()
            elif self.reading_back:
                self._tick(quiet=True)
                self._look()
            else:
                sounded = self._tick()
                if self.roast.phase == "cooling" and at >= self.situation.at + 1.0:  # nothing but time goes on
                    self.situation = replace(self.situation, at=at, t=self.roast.time(at))
        return tuple(sounded)

    @property
    def _due(self) -> range:
        """The whole seconds after charge that are not folded yet."""
        base = self.roast.charge_at or 0.0
        first = 0 if len(self._moments) == 1 else round(self._moments[-1].at - base) + 1
        last = int(np.floor(min(self.at - base, LONGEST) + 1e-6))
        if "drop" in self.roast.marks:
            last = min(last, int(self.roast.marks["drop"]) + 1)
        return range(first, last + 1)

    def _tick(self, quiet: bool = False, most: int | None = None) -> list[ActiveCue]:
        """Fold the whole seconds up to now; return the cues that sounded: none if ``quiet``, for ``_look`` comes after.

        A cue that falls due while entries are folded again is heard at the moment of folding, not a second before.
        """
        base, due = self.roast.charge_at or 0.0, self._due
        sounded: list[ActiveCue] = []
        live = self.heard.all[-1] if self.heard.all else -1e9
        for n in due[:most]:
            at, last = base + n, n == due[-1]
            view = self.roast.until(float(n)) if quiet or not last else self.roast
            entered = _entry_between(self.roast, n - 1.0, float(n))
            advise_anew = entered or n % ADVISE_EVERY == 0
            past = quiet and n <= due[-1] - ADVISE_EVERY
            situation = self._situation(at, view, renew=entered or n % EVERY == 0, advise_anew=advise_anew, past=past)
            watch = judge(self.watch, situation)
            if at > live and (self.reading_back or (not quiet and at > self.at - 2.0)):
                cues = self._announced(watch, situation)
                if not self.reading_back:
                    sounded += [c for c in cues if c.sounds]
                    self.cues = cues
            if not quiet:
                self._show(situation)
            self._moments.append(
                Moment(at, watch, situation.forecast, situation.advice, situation.sensitivity, situation.tapped_onset)
            )
        return sounded

    def _look(self) -> None:
        """Renew the situation right now, between two ticks."""
        if self.behind:
            self._look_on()
            return
        self._show(self._situation(self.at, self.roast))
        self.cues = self._announced(judge(self.watch, self.situation), self.situation)
        if self.reading_back:  # its sounds are those of before
            self.reading_back = False
            self.cues = tuple(replace(c, sounds=False) for c in self.cues)
            self.restarted()

    def _announced(self, watch: WatchState, s: Situation) -> tuple[ActiveCue, ...]:
        """The cues of a situation, noted with those that sound."""
        self.heard, cues = announce(watch, self.heard, s, self.demoted)
        self.record.note(s.at, cues)
        return cues

    def _show(self, s: Situation) -> None:
        """Make a situation the present one, and note its forecast; an earlier offer of a turn of the dial stays until
        it is used or has passed."""
        if s.t is None or s.t < 0 or s.roast.phase == "cooling":
            self._turn = None
        else:
            face = Face.of(self.header, self._outlook.rounding)
            self._turn = renewed(self._turn, s.estimate, self.header.unit, face, wanted_at(s), s.t)
        self.situation = replace(s, turn=self._turn)
        self.issued.note(s.at, self.roast.charge_at, s.estimate, s.forecast)

    def _look_on(self) -> None:
        """Renew the situation while seconds are left to be folded: cues and advice stay, nothing sounds."""
        before, roast = self.situation, self.roast
        estimate, forecast = before.estimate, before.forecast
        if roast.charge_at is not None and self.at >= roast.charge_at:
            estimate, forecast = self._foreseen(self.at - roast.charge_at, self._assumed(roast)[0])
        self.situation = self._joined(self.at, roast, estimate, forecast, before.advice, before.sensitivity)
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
        self, at: float, roast: Roast, *, renew: bool = True, advise_anew: bool = True, past: bool = False
    ) -> Situation:
        """The situation at ``at`` (s); forecast and advice are those of the last whole second where they aren't
        renewed.

        In the ``past``, while it is folded again, texts that are only shown are left out.
        """
        if roast.charge_at is None or at < roast.charge_at:
            return self._joined(at, roast, None, Forecast(reasons=("before charge",)))
        before, t = self._moments[-1], at - roast.charge_at
        assumed, onset = self._assumed(roast)
        if before.assumed != onset:
            renew = advise_anew = True
        stood = before.advice
        if stood is not None and stood.deadline is not None and t > stood.deadline:
            advise_anew = True
        if renew:
            estimate, forecast = self._foreseen(t, assumed, past=past)
        else:
            estimate, forecast = self._outlook.at(t, assumed, before.forecast)
        if not advise_anew:
            return self._joined(at, roast, estimate, forecast, stood, before.sensitivity)
        advice = advise(self._outlook, t, assumed, forecast, estimate, stood, wider=self.wider)
        if self.withheld and advice is not None and advice.kind == "move":
            advice = Advice(self.withheld, kind="withheld")
        each = "" if past else sensitivity(self._outlook, t, assumed, forecast)
        return self._joined(at, roast, estimate, forecast, advice, each)

    def _assumed(self, roast: Roast) -> tuple[Roast, float | None]:
        """The roast that the forecast uses, and the first crack that it has by the taps (roast time, s) while their
        call waits for its key; None where there is no such call."""
        open_yet = "first crack" not in roast.marks and roast.phase in ("drying", "browning")
        call = call_by_taps(roast, self.profile) if open_yet else None
        if call is None:
            return roast, None
        if self._taken is None or self._taken[0] is not roast or self._taken[1].marks["first crack"] != call.onset:
            marks: dict[Event, float] = {**roast.marks, "first crack": call.onset}
            self._taken = (roast, replace(roast, marks=marks, phase="development"))
        return self._taken[1], call.onset

    def _joined(
        self,
        at: float,
        roast: Roast,
        estimate: Estimate | None,
        forecast: Forecast,
        advice: Advice | None = None,
        each: str = "",
    ) -> Situation:
        t = None if roast.charge_at is None else at - roast.charge_at
        assumed, onset = self._assumed(roast)
        coming, missed = ([], []) if t is None else planned_moves(self.profile, t, assumed, forecast, advice)
        return Situation(
            at, t, self.profile, roast, estimate, forecast,
            preheat=_preheat(roast, at, self.profile) if t is None else None,
            next_move=coming[0] if coming else None,
            due_moves=tuple(m for m in coming if abs(m.due - coming[0].due) < 1.0),
            missed=() if roast.phase == "cooling" else tuple(missed),
            advice=advice,
            sensitivity=each,
            typing=self.typing,
            turn=self._turn,
            tapped_onset=onset,
        )  # fmt: skip

    def what_if(self, moves: Sequence[tuple[float, Control, float]]) -> Forecast | None:
        """The forecast if moves (roast time s, control, setting in core units) were made; changes nothing."""
        t = self.situation.t
        if t is None or t < 0 or not self.roast.readings or self.roast.phase == "cooling":
            return None
        return self._outlook.what_if(t, self._assumed(self.roast)[0], moves)


def _first_change(old: Folded, new: Folded) -> float | None:
    """The earliest moment (``at``, s) of an entry in force that differs; None where all are alike."""
    for a, b in zip_longest(old.ordered, new.ordered):
        if a is not b and a != b:
            return min(n.entry.at for n in (a, b) if n is not None)
    return None


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
