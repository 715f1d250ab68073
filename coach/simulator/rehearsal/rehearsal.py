"""A rehearsal's side of the screen: the simulated roaster hears what is typed and shows its dials.

The roaster follows the journal as the coach does.  A move acts when it comes in.  A charge or drop acts at its own
time; one that is withdrawn or amended never happened so: the roaster is built again and replays everything up to now.
A move that is withdrawn or amended sets the control, from now on, to where the journal has it.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from coach.roast.entries import Correction, Entry, Mark, Move, Note, Reading
from coach.roast.profile import Profile
from coach.roast.roast import STEPS
from coach.roast.units import from_celsius, from_kpa, number, to_celsius, to_kpa
from coach.session.coach import Coach
from coach.session.settings import Action
from coach.simulator.beans import Beans
from coach.simulator.machine import Machine
from coach.simulator.noise import RoasterSound
from coach.simulator.person import Habits, Person, recipe_of_profile
from coach.simulator.physics import AIR_HEAT_CAPACITY
from coach.simulator.rehearsal.clock import RehearsalClock
from coach.simulator.rehearsal.inject import COLLEAGUE, Injector, Truth, colleague_of, is_over, roaster_of, truth_of
from coach.simulator.rehearsal.model import Drill, Handover
from coach.simulator.rehearsal.score import HINT
from coach.simulator.roaster import FAULTS, HandAct, SimulatedRoaster
from coach.simulator.trier import EMPTY, TrierLook, look_at

TOGETHER: Final = 1.0
"""Time apart within which two acts are of the same moment [s]."""
BEFORE_CRACK: Final = 60.0
"""Time before first crack at which a jump ends [s]."""
HELPER: Final = "simulated person"
"""Author of the entries of a jump, in their field ``by``."""
HINTS_AT: Final = "rehearse"
"""The stage at which hints are given."""
STOPPED: Final = (
    "STOPPED. Now your own emergency plan counts, with the maker's manual and the local fire code: not this program. "
    "^q leaves."
)
"""Text shown when a safety drill was stopped."""
SHOWN: Final = 45.0
"""Time for which a sentence is shown beside the dials [s]."""
CALLED_AFTER: Final = 30.0
"""Time after which a dial over the safety limit that nobody has read is read out [s]."""
UNHEARD: Final = 15
"""Number of looks at the dials without the speaker taking sound after which pops are shown instead."""


def draught(roaster: SimulatedRoaster) -> float:
    """Reading of the draught gauge, 0 to 10: the flow through the drum as a share of full air (own)."""
    full = roaster.machine.air.flow_highest
    return 10.0 * roaster.conditions.capacity_rate / (full * AIR_HEAT_CAPACITY)


class Rehearsal:
    """The simulated roaster behind the screen.  With ``auto`` a simulated person works it and types.

    ``clock`` is the clock of the rehearsal, to pause it and put it forward.
    ``profile`` is the one that is rehearsed, ``beans`` the lot (the machine's if None); ``stage`` the person's, '' for
    none.  ``offer`` is the text on taking over from the simulated person, '' where nobody can.  ``sound`` is a source
    for the speaker: drum, fan and pops.  ``silent``: the drill wants no cue heard.
    """

    def __init__(
        self,
        machine: Machine,
        *,
        seed: int = 0,
        auto: bool = False,
        clock: RehearsalClock | None = None,
        habits: Habits | None = None,
        profile: Profile | None = None,
        beans: Beans | None = None,
        drill: Drill | None = None,
        stage: str = "",
        offer: str = "",
    ) -> None:
        self.auto = auto
        self.offer = offer
        self.seed = seed
        self.drill = drill
        self.stage = stage
        self.machine = machine
        self.profile = profile
        self.beans = beans
        self.sound = RoasterSound(seed)
        self.silent = drill is not None and not drill.sound
        self.stopped = False
        self.roaster = self._fresh()
        self._injector = self._fresh_injector()
        if clock is None:
            clock = RehearsalClock(lambda: 0.0)
            clock.begin()
        self._clock = clock
        self._habits = habits or Habits()
        self._person: Person | None = None
        self._helps_until = 0.0
        self._second = 0
        self._own: list[Entry] = []
        self._heard_to = 0.0
        self._taken, self._untaken = 0, UNHEARD
        self._read_at = -math.inf
        self._called = False
        self._notice, self._notice_until = "", 0.0
        self.turns: list[tuple[float, float]] = []
        """Times at which the dial turned over, s since the start, and to which number."""
        if drill is not None:
            self._notify(f"DRILL: {drill.brief}")

    @property
    def person(self) -> Person | None:
        """The simulated person at work, if one is."""
        return self._person

    @property
    def truth(self) -> Truth:
        """The truth so far.  Not for the person's eyes before the end."""
        return truth_of(self.roaster, self._injector.happened)

    # ── what the screen calls ───────────────────────────────────────────────────────────────────────────────────

    def begin(self) -> None:
        """Let its time run."""
        self._clock.begin()

    def advance(self, now: float, coach: Coach) -> list[Entry]:
        """Run the roaster to ``now`` [s]; return what a simulated person, if there is one, typed meanwhile."""
        out: list[Entry] = []
        if self._second == 0 and self.drill is not None and self.drill.handover is not None:
            out += self._hand_over(coach, self.drill.handover)
        self._keep_up(coach)
        while self._second + 1 <= now:
            t = self._next_second()
            if self.auto or t <= self._helps_until:
                out += self._person_for(coach).second(t, self.roaster)
            else:
                self._person = None
            out += self._called_out(t, coach, out)
        self.roaster.advance(max(now, self.roaster.time))
        shown = self._shown(coach)
        if not self.turns or self.turns[-1][1] != shown:
            self.turns.append((self.roaster.time, shown))
        self._own += out
        self._let_hear()
        return out

    def hear(self, entry: Entry, coach: Coach) -> None:
        """Let what was typed act on the roaster; what a simulated person typed has acted already."""
        if any(entry is e for e in self._own):
            self._own = [e for e in self._own if e is not entry]
            return
        self.roaster.advance(max(entry.at, self.roaster.time))
        if isinstance(entry, Reading):
            self._read_at = entry.came
        elif isinstance(entry, Move):
            value = to_kpa(entry.value, coach.header.pressure_unit) if entry.control == "gas" else entry.value
            self.roaster.set(entry.control, value)
            if entry.control == "gas" and entry.value == 0.0:
                self._stop()
        elif isinstance(entry, Mark) and entry.event in ("charge", "drop"):
            self._happened(coach)
        elif isinstance(entry, Correction):
            self._corrected(entry, coach)
        elif isinstance(entry, Note):
            self._read(entry.text.strip().lower())

    def line(self, coach: Coach) -> str:
        """The dials as a person sees them, and the sentence beside them."""
        if self.stopped:
            return STOPPED
        r, unit = self.roaster, coach.header.unit
        gas = number(from_kpa(r.setting("gas"), coach.header.pressure_unit), 2)
        at_work = self.auto and self.offer and coach.roast.phase != "cooling"
        parts = [
            f"SIMULATED PERSON AT WORK ({self.offer})" if at_work else "SIMULATED",
            f"dial {number(self._shown(coach), 1)} °{unit}",
            f"gas {gas} {coach.header.pressure_unit}",
            f"air {number(r.setting('air'))}",
            f"draught {draught(r):.1f}",
        ]
        if not self._is_heard():
            pops = sum(1 for p in r.pops if p.time > r.time - 5.0)
            parts.append("pops " + "*" * min(pops, 12) if pops else "")
        notice = self._notice if r.time <= self._notice_until else ""
        if coach.roast.charge_at is None and not notice:
            parts.append(f"(charge at {from_celsius(coach.profile.charge_temperature, unit):.0f})")
        if r.setting("smoke alarm"):
            parts.append("SMOKE ALARM IN THE ROOM (rehearsed)")
        if r.cut_out:
            parts.append("LIMIT SWITCH: the burner is shut")
        if self.paused:
            parts.append("PAUSED")
        if coach.roast.phase == "cooling":
            parts.append("^q: the score")
        return "  ".join([*(p for p in parts if p), *([f"· {notice}"] if notice else [])])

    def do(self, action: Action, coach: Coach) -> str:
        """Look at the trier, pause or go on, jump or take over; return the message about it, '' for another action."""
        if action == "look":
            seen = self.look()
            return f"trier: {seen.words}; smells of {seen.smell}"
        if action == "pause":
            if not self.stopped:  # for good
                self._clock.toggle()
            return "PAUSED" if self.paused else "going on"
        if action == "jump":
            return self._jump(coach)
        return self._take_over(coach) if action == "take_over" else ""

    def look(self) -> TrierLook:
        """Look at the trier.  A second look within five seconds shows the same handful."""
        r = self.roaster
        if not r.loaded:
            return EMPTY
        rng = np.random.default_rng([r.seed, 11, r.batch, math.floor(r.time / 5.0)])
        return look_at(bean=r.bean, rng=rng, smoke=bool(r.setting("smoke alarm")))

    @property
    def paused(self) -> bool:
        """True if the rehearsal is paused."""
        return self._clock.paused

    def _take_over(self, coach: Coach) -> str:
        """Take over from the simulated person; return what to do now, or why nothing changes."""
        if not self.auto:
            return "You are at work already."
        if coach.roast.phase == "cooling":
            return "The roast is over."
        self.auto, self._person = False, None
        return "You have taken over: type readings and moves, mark what you see and hear."

    def _jump(self, coach: Coach) -> str:
        """Put roaster and clock forward to a minute before first crack; return what was done, or why nothing was.

        The simulated person works and types in between; the next ``advance`` gives those entries.
        """
        if self.stopped:
            return "The rehearsal is stopped."
        now = self.roaster.time
        if coach.roast.phase in ("development", "cooling"):
            return "First crack is past."
        onset = self._onset_ahead(coach)
        if onset is None:
            return "First crack does not come within half an hour."
        target = math.floor(onset - BEFORE_CRACK)
        if target <= now + 1.0:
            return "First crack is less than a minute away."
        self._helps_until = target
        self._clock.forward(target - now)
        return "A minute before first crack. The simulated person worked and typed until here."

    # ── inside ──────────────────────────────────────────────────────────────────────────────────────────────────

    def _fresh(self) -> SimulatedRoaster:
        return roaster_of(self.machine, self.drill, seed=self.seed, profile=self.profile, beans=self.beans)

    def _fresh_injector(self) -> Injector:
        return Injector(() if self.drill is None else self.drill.inject, self.seed)

    def _shown(self, coach: Coach) -> float:
        """The number on the dial, in the steps in which the person's own dial shows it; a needle to half a degree."""
        dial = coach.header.dial or "whole"
        return self.roaster.display(0.5 if dial == "needle" else STEPS[dial], coach.header.unit)

    def _called_out(self, t: float, coach: Coach, typed: list[Entry]) -> list[Entry]:
        """Enter a dial over the safety limit of an empty drum over a burning gas that nobody reads, as if called out,
        so that the coach's own cue sounds: once until it has been below the limit again.  A drill leaves it to the
        person."""
        if any(isinstance(x, Reading) and x.came > t - 1.0 for x in typed):
            self._read_at = t
        if self.drill is not None or self.roaster.loaded or t < self._read_at + CALLED_AFTER:
            return []
        shown = self._shown(coach)
        over = to_celsius(shown, coach.header.unit) >= coach.profile.safety
        self._called = self._called and over
        if not over or self._called or self.roaster.setting("gas") <= 0.0:
            return []
        self._called = True
        self._notify("over limit: read out")
        return [Reading(at=t, temperature=shown)]

    def _next_second(self) -> float:
        self._second += 1
        t = float(self._second)
        self.roaster.advance(max(t, self.roaster.time))
        self._injector.second(t, self.roaster)
        return t

    def _hand_over(self, coach: Coach, handover: Handover) -> list[Entry]:
        """Run the colleague's part of the roast, all at once."""
        colleague = colleague_of(handover, coach.profile, self.seed)
        out: list[Entry] = []
        begun = self.roaster.time
        while not is_over(handover, colleague, float(self._second)):
            out += colleague.second(self._next_second(), self.roaster)
        self._clock.forward(self._second - begun)
        self._notify(f"YOU TAKE OVER. {COLLEAGUE}: {handover.says}")
        return out

    def _let_hear(self) -> None:
        r = self.roaster
        speed = self._clock.speed
        since = max(self._heard_to, r.time - 2.0 * speed)
        self.sound.hear([p for p in r.pops if p.time > since], since=since, speed=speed)
        self._heard_to = r.time
        self.sound.air = draught(r) / 10.0
        self.sound.drum = r.setting("drum") / r.machine.drum.usual

    def _is_heard(self) -> bool:
        self._untaken = self._untaken + 1 if self.sound.taken == self._taken else 0
        self._taken = self.sound.taken
        return self._untaken < UNHEARD

    def _notify(self, text: str, lasts: float = SHOWN) -> None:
        """Show a sentence beside the dials for so many seconds of the person's time."""
        self._notice = text
        self._notice_until = self.roaster.time + lasts * self._clock.speed

    def _read(self, text: str) -> None:
        """HandAct on a note that requests a hint, or stops a safety drill."""
        if text == HINT and self.drill is not None:
            given = self.stage in ("", HINTS_AT)
            self._notify(f"Hint: {self.drill.hint}" if given else f"No hints at the stage '{self.stage}'.")
        elif text.startswith("stop"):
            self._stop()

    def _stop(self) -> None:
        if self.drill is None or self.drill.kind != "safety":
            return
        self.stopped = True
        self._notify(STOPPED, lasts=math.inf)
        self._clock.stop()

    def _keep_up(self, coach: Coach) -> None:
        """Report to the simulated person what others typed; who has lost the charge begins again."""
        person, charge = self._person, coach.roast.charge_at
        if person is None:
            return
        if charge != person.charged:
            self._person = None
        elif charge is not None:
            person.marked_by_others({event: charge + at for event, at in coach.roast.marks.items()})

    def _person_for(self, coach: Coach) -> Person:
        if self._person is None:
            self._person = self._new_person(coach, self.roaster.time)
        return self._person

    def _new_person(self, coach: Coach, t: float) -> Person:
        rng = np.random.default_rng([self.seed, 13, int(t)])
        habits = replace(self._habits, unit=coach.header.unit)
        by = "" if self.auto and not self.offer else HELPER
        person = Person(habits, recipe_of_profile(coach.profile), rng, coach.header.pressure_unit, by=by)
        charge = coach.roast.charge_at
        if charge is not None:
            marks = {event: charge + at for event, at in coach.roast.marks.items()}
            person.take_over(t, charge, marks, [(m.control, m.value) for m in coach.roast.moves])
        return person

    def _onset_ahead(self, coach: Coach) -> float | None:
        """True onset of first crack if the simulated person went on from here, s since the start."""
        roaster, injector = copy.deepcopy(self.roaster), copy.deepcopy(self._injector)
        t = self._second + 1.0
        person = copy.deepcopy(self._person) if self.auto and self._person else self._new_person(coach, t)
        end = t + 1800.0
        while t < end and roaster.truth.first_crack is None:
            roaster.advance(max(t, roaster.time))
            injector.second(t, roaster)
            person.second(t, roaster)
            t += 1.0
        return roaster.truth.first_crack

    def _corrected(self, entry: Correction, coach: Coach) -> None:
        target = next((n.entry for n in coach.entries if n.line == entry.of), None)
        if isinstance(target, Move):
            t = coach.roast.time(self.roaster.time)
            for control in {target.control, (entry.replace or {}).get("control", target.control)}:
                value = coach.roast.setting(control, t)
                at_start = self._fresh().setting(control)
                self.roaster.set(control, at_start if value is None else value)
        elif isinstance(target, Mark) and target.event in ("charge", "drop"):
            self._happened(coach)

    def _happened(self, coach: Coach) -> None:
        """Bring the roaster's charge and drop to those of the journal, by a new roaster that repeats all the rest."""
        roast, roaster = coach.roast, self.roaster
        reported = list[HandAct]()
        if roast.charge_at is not None:
            reported.append(HandAct(roast.charge_at, "charge"))
            if "drop" in roast.marks:
                reported.append(HandAct(roast.charge_at + roast.marks["drop"], "drop"))
        done = [a for a in roaster.acts if a.what in ("charge", "drop")]
        undone = [a for a in done if not _among(a, reported)]
        if not undone and all(_among(a, done) for a in reported):
            return
        anew = any(a.what == "charge" for a in undone)
        if anew:  # what was injected into a charge that never was comes again
            self._injector = self._fresh_injector()
        kept = [a for a in roaster.acts if a not in done and not (anew and a.what in FAULTS)]
        acts = [*(a._replace(time=min(max(a.time, 0.0), roaster.time)) for a in reported), *kept]
        self.roaster = self._fresh()
        self.roaster.repeat(sorted(acts, key=lambda a: a.time), roaster.time)


def _among(act: HandAct, acts: Sequence[HandAct]) -> bool:
    return any(a.what == act.what and abs(a.time - act.time) <= TOGETHER for a in acts)
