"""The brief: all that the person who roasts next must know, from profile, logbook and the running roast.  Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from coach.advice.charge_temperature import Today, propose
from coach.advice.charge_temperature import lines as proposed
from coach.logbook.brief.handover import Fact, HandoverState, Section, drop_rule, facts_of
from coach.logbook.index.summary import Summary
from coach.logbook.profiles.differences import changes
from coach.logbook.review.review import degrees, plan_events, setting, unplanned
from coach.logbook.text.text_table import number_text, signed_clock, time_text
from coach.roast.entries import moment_of
from coach.roast.profile import Profile
from coach.roast.roast import Probe, Roast
from coach.roast.units import clock, from_celsius, from_kelvins, from_kpa, number

CAUTION: Final = (
    "Fire, gas, carbon monoxide and burns: the maker's manual, local codes and licensed practice come first. "
    "Never leave a running roaster. The coach advises and controls nothing; in an emergency follow your own plan."
)
CHECKS: Final = (
    "gas supply, flame and shut-off as the maker's manual says",
    "extraction running, carbon monoxide alarm working",
    "chaff collector empty, cooling tray clear",
    "extinguisher in reach, way out free, emergency plan known",
)
"""Checklist for a profile without one of its own (common practice, no source)."""
DOUBT: Final = re.compile(r"^\s*(?:doubt\s*:|\?)\s*(.+)$", re.I | re.S)
"""Pattern of a doubt: a note that begins with 'doubt:' or '?', handed on until a note 'settled: ...' answers it."""
SETTLED: Final = re.compile(r"^\s*settled\s*:", re.I)
LATELY: Final = 2 * 3600.0
"""Time for which a drum may still be warm from the batch before, s (common practice, no source)."""


@dataclass(frozen=True)
class Brief:
    """The page: a title, its sections in order, the three facts to confirm, a remark that the profile has a newer
    version; and what its picture shows, the profile and the readings of a running roast."""

    profile: Profile
    title: str
    sections: tuple[Section, ...]
    facts: tuple[Fact, ...]
    newer: str = ""
    readings: tuple[Probe, ...] = ()


@dataclass(frozen=True)
class PastRoast:
    """An earlier roast with its row of the logbook."""

    row: Summary
    roast: Roast


def brief(
    profile: Profile,
    past: Sequence[PastRoast],
    now: datetime,
    *,
    on_machine: PastRoast | None = None,
    parent: Profile | None = None,
    state: HandoverState | None = None,
    newer: str = "",
) -> Brief:
    """The page for a profile.  ``past``: its live roasts, newest first; ``on_machine``: the batch before, of any
    profile; ``parent``: the version before; ``state``: the running roast, for a takeover; ``newer``: remark that
    there is a newer version; ``now`` is aware."""
    sections, first = ([], actions(profile)) if state is None else (state.sections(), state.actions())
    sections += [
        Section("Your first three actions", tuple(first), ordered=True),
        Section("Recipe", head=("when", "what", "probe", "± time", "± probe"), rows=tuple(recipe(profile))),
        Section("If ... then", tuple(if_then(profile))),
        Section("Safety", (CAUTION, *(profile.document.checklist or CHECKS)), check=True),
        Section(
            "Machine and carry-over",
            (
                *machine_state(profile, on_machine, now, state is not None),
                *(charge_proposal(profile, past, on_machine, now) if state is None else ()),
            ),
        ),
        _last_three(profile, past[:3]),
        Section("Settings changed", tuple(changed(profile, past, parent)) or ("Nothing since the last roast.",)),
        Section("Open doubts", tuple(doubts(past)) or ("None was handed over.",)),
    ]
    name = profile.document.name + (f", version {profile.document.version}" if profile.document.version > 1 else "")
    what = "Taking over in mid-roast" if state is not None else "Brief"
    facts, readings = (facts_of(profile), ()) if state is None else (state.facts(), state.readings)
    return Brief(profile, f"{what}: {name}", tuple(sections), facts, newer, readings)


def actions(profile: Profile) -> list[str]:
    """The first three things to do."""
    d = profile.document
    start = ", ".join(setting(profile, s) for s in profile.steps if s.time <= 1)
    later = next((s for s in profile.steps if s.time > 1), None)
    return [
        f"Go through the safety list, then bring the drum to {degrees(profile.charge_temperature, profile.unit)} "
        f"(± {number(d.charge_tolerance)} °{profile.unit}); type the probe as it rises.",
        f"Weigh {number(d.batch_kg, 3)} kg{' of ' + d.coffee if d.coffee else ''}. Set {start or 'gas and air'}.",
        "Charge, and mark it at once"
        + (f"; the next move is {setting(profile, later)} at {clock(later.time)}." if later is not None else "."),
    ]


def recipe(profile: Profile) -> list[tuple[str, ...]]:
    """Events and moves in order of time, with the probe's temperature then."""
    unit = profile.unit
    rows: list[tuple[float, tuple[str, ...]]] = []
    for event, goal in profile.goals.items():
        rows.append(
            (
                goal.time,
                (
                    clock(goal.time), event.upper() if event == "drop" else event, degrees(goal.temperature, unit),
                    f"{number(goal.time_tolerance, 0)} s", number(from_kelvins(goal.temperature_tolerance, unit)),
                ),
            )
        )  # fmt: skip
    d = profile.document
    rows.append((0.0, ("0:00", "charge", degrees(profile.charge_temperature, unit), "", number(d.charge_tolerance))))
    for s in profile.steps:
        when = clock(s.time)
        if s.temperature is not None:
            when = f"at {degrees(s.temperature, unit)}"
        elif s.event is not None:
            when = f"{s.event}" + (f" +{clock(s.after)}" if s.after else "")
        note = f" ({s.note})" if s.note else ""
        rows.append(
            (s.time + 0.1, (when, setting(profile, s) + note, degrees(profile.curve.value(s.time), unit), "", ""))
        )
    return [row for _, row in sorted(rows, key=lambda r: r[0])]


def if_then(profile: Profile) -> list[str]:
    """Sentences for an early crack, a late crack, and a lost probe."""
    out: list[str] = []
    unit, goal = profile.unit, profile.goals.get("first crack")
    rule = drop_rule(profile)
    limit = degrees(profile.safety, unit)
    step = profile.document.limits.gas_step
    little = f"one step of gas ({number(step, 3)} {profile.document.pressure_unit})" if step else "a small step of gas"
    if goal is not None:
        early, late = goal.time - goal.time_tolerance, goal.time + goal.time_tolerance
        hot = degrees(goal.temperature, unit)
        out.append(
            f"If first crack comes before {clock(early)}: mark it when it is heard, take {little} off, and keep the "
            f"rule: {rule}. The clock of the plan no longer counts."
        )
        out.append(
            f"If first crack is not heard by {clock(late)}: trust ears and trier, not the clock; add at most {little}, "
            f"and none when the probe is above {hot}; the rule holds from the crack as heard: {rule}."
        )
    events = plan_events(profile)
    times = ", ".join(f"{e} {clock(t)}" for e, t in sorted(events.items(), key=lambda x: x[1]) if e in _SEEN)
    moves = ", ".join(f"{setting(profile, s)} at {clock(s.time)}" for s in profile.steps if s.time > 1)
    out.append(
        f"If the probe is lost or can't be true: go by clock, eyes, nose and ears: {times}"
        + (f"; {moves}" if moves else "")
        + ". Crack as heard starts development. The coach says 'can't say'. In doubt heat off and drop early."
    )
    out.append(f"If the probe reaches {limit}: heat off at once, and your own emergency plan.")
    return out


_SEEN: Final = ("yellow", "first crack", "drop")


def machine_state(profile: Profile, before: PastRoast | None, now: datetime, running: bool) -> list[str]:
    """State of the machine after the batch before, in sentences."""
    d = profile.document
    out = [f"Profile for {d.machine or 'a machine that is not named'}, {number(d.batch_kg, 3)} kg."]
    if d.ambient is not None:
        out.append(f"The reference was roasted at {number(d.ambient)} °{profile.unit} in the room.")
    if before is None:
        return [*out, "No batch before this one is in the logbook: count the drum as cold."]
    s, r = before.row, before.roast
    ago = _ago(s, now)
    what = "it is the batch before this roast" if running else f"dropped {ago}" if ago else "when is not known"
    out.append(
        f"Batch before: {s.profile or s.name}, {s.day} {s.moment[11:16]}, {number_text(s.batch_kg, 3, 'kg')}; {what}."
    )
    gas = r.setting("gas", s.drop_time or 1e9)
    parts = []
    if s.drop_temperature is not None:
        parts.append(f"probe at drop {degrees(s.drop_temperature, profile.unit)}")
    if gas is not None:
        parts.append(f"gas at drop {number(from_kpa(gas, d.pressure_unit), 3)} {d.pressure_unit}")
    if parts:
        out.append("; ".join(parts)[0].upper() + "; ".join(parts)[1:] + ".")
    seconds = _since_drop(s, now)
    if not running and (seconds is None or seconds > LATELY):
        out.append("That is long ago: count the drum as cold, and warm it as for a first batch.")
    elif not running:
        out.append(
            "The drum holds heat that the probe does not show: leave the same time between batches as usual before "
            "charge (common practice, no source)."
        )
    return out


def charge_proposal(
    profile: Profile, past: Sequence[PastRoast], on_machine: PastRoast | None, now: datetime
) -> list[str]:
    """Charge temperature proposed for a drum still warm from the batch before, where that was dropped lately."""
    seconds = None if on_machine is None else _since_drop(on_machine.row, now)
    if seconds is None or seconds > LATELY:
        return []
    proposal = propose(profile, Today(since_drop=seconds), [p.roast for p in reversed(past)])
    return proposed(profile, proposal) if proposal.worth_it else []


def _since_drop(s: Summary, now: datetime) -> float | None:
    """Seconds since a roast was dropped (about: its journal was opened a little before charge); None if not known."""
    started = moment_of(s.started)
    seconds = -1.0 if started is None else (now - started).total_seconds() - (s.drop_time or 0.0)
    return seconds if seconds >= 0 else None


def _ago(s: Summary, now: datetime) -> str:
    """Time since a roast was dropped, in words; '' when its journal doesn't say."""
    seconds = _since_drop(s, now)
    if seconds is None:
        return ""
    if seconds < 5400:
        return f"{seconds / 60:.0f} minutes ago"
    return f"{seconds / 3600:.0f} hours ago" if seconds < 48 * 3600 else f"{seconds / 86400:.0f} days ago"


def _last_three(profile: Profile, past: Sequence[PastRoast]) -> Section:
    unit, goal = profile.unit, profile.goals.get("first crack")
    rows = []
    for p in past:
        s = p.row
        off = None if goal is None or s.crack_time is None else s.crack_time - goal.time
        hot = None if s.drop_temperature is None else from_celsius(s.drop_temperature, unit)
        warm = None if s.charge_temperature is None else from_celsius(s.charge_temperature, unit)
        rows.append(
            (
                s.day, s.person or "–", number_text(warm, 0), time_text(s.crack_time),
                "–" if off is None else signed_clock(off), time_text(s.development), number_text(hot, 0),
                number_text(s.loss, 1, "%"), number_text(s.colour, 1), number_text(s.cup_score, 2),
                {True: "accepted", False: "refused", None: "–"}[s.accepted],
            )
        )  # fmt: skip
    if not rows:
        return Section("Last three roasts", ("None is in the logbook.",))
    head = (
        "date",
        "person",
        f"charge °{unit}",
        "crack",
        "off",
        "dev.",
        f"drop °{unit}",
        "loss",
        "colour",
        "cup",
        "",
    )
    empty = [i for i in range(1, len(head) - 1) if all(row[i] == "–" for row in rows)]
    keep = [i for i in range(len(head)) if i not in empty]
    found = tuple(tuple(row[i] for i in keep) for row in rows)
    spare = (head[2], "off", "person", "colour")
    return Section("Last three roasts", head=tuple(head[i] for i in keep), rows=found, spare=spare)


def changed(profile: Profile, past: Sequence[PastRoast], parent: Profile | None) -> list[str]:
    """Changes of the profile's new version, and the last roast's deviations from the plan."""
    out: list[str] = []
    if profile.document.provisional:
        out.append("This profile is provisional: a first guess, or learnt from few roasts.")
    if parent is not None:
        found = changes(parent, profile)
        out += [f"Since version {parent.document.version}: {c}." for c in found[:6]]
    if past:
        last = past[0]
        out += [f"Last roast ({last.row.day}): {text}" for text in unplanned(profile, last.roast)[:5]]
    return out


def doubts(past: Sequence[PastRoast]) -> list[str]:
    """Open doubts in the words of those who had them, newest first; a note 'settled: ...' closes those before it."""
    out: list[str] = []
    for p in past[:10]:
        who = p.row.person or "someone"
        for _, text in reversed(p.roast.notes):
            if SETTLED.match(text):
                return out
            match = DOUBT.match(text)
            if match:
                out.append(f"“{match[1].strip()}” ({who}, {p.row.day})")
    return out
