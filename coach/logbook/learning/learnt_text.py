"""Evidence of earlier roasts in words: the present levels of the profile's marks, and the newest roast's effect.

Pure.  Half widths of 80 % ranges are those of the Student-t that the forecast uses.
"""

from __future__ import annotations

import textwrap
from typing import Final

import numpy as np
from scipy.special import stdtrit

from coach.forecast.control_inputs import Plan
from coach.forecast.event_threshold import Threshold
from coach.forecast.gas_answer import per_unit
from coach.forecast.knowledge import Knowledge
from coach.forecast.learning import LEARNT
from coach.logbook.text.text_table import table
from coach.roast.errors import as_argument
from coach.roast.profile import Profile
from coach.roast.units import clock, from_celsius, from_kelvins, from_kpa, number, to_kpa

PER_RATE: Final = 0.02
"""Change of the rate of rise for which the level's slope is shown, K/s."""
SLIGHT: Final = 0.3
"""Least change of the level over ``PER_RATE`` for which its slope is shown, K."""
STEP_LEFT: Final = 180.0
"""Time before the crack of the gas step whose effect is shown, s."""
LEAVE_OUT: Final = "A roast that should not count: coach result ROAST learn no (learn yes takes it back in)."


def text(
    profile: Profile, before: Knowledge, after: Knowledge, *, newest: str, left_out: int, pays: bool, width: int = 80
) -> list[str]:
    """The page in lines of at most ``width`` cells.

    ``after``: knowledge from all roasts; ``before``: the same without the ``newest`` (its name); ``left_out``: number
    of roasts that a person has left out; ``pays``: False where learning would have made forecasts worse, so that it
    isn't used.
    """
    head = f"Learnt from {after.count} roast{'' if after.count == 1 else 's'} of {profile.name}"
    if left_out:
        head += f"; {left_out} left out as told"
    out = textwrap.wrap(head + ".", width)
    if not pays:
        out += textwrap.wrap(
            "Not used for now: with each roast left out in turn, what the others teach made its forecast worse.", width
        )
    unit = f"°{profile.unit}"
    rows = [("", "plan", f"before {newest}", f"with it ({unit})")]
    for event in LEARNT:
        if event not in after.thresholds:
            continue
        goal, earlier, threshold = profile.goals[event], before.thresholds[event], after.thresholds[event]
        rows.append((event, f"{from_celsius(goal.temperature, profile.unit):.1f}", _level(profile, earlier),
                     _level(profile, threshold)))  # fmt: skip
    out += ["", *table(rows[0], rows[1:])]
    out.append("")
    lines = (_slopes(profile, after), _reference(profile, after), _drop(profile, after))
    for said in (*(x for found in lines for x in found), *gas_words(profile, after)):
        out += textwrap.wrap(said, width, subsequent_indent="  ")
    return [*out, "", *textwrap.wrap(LEAVE_OUT, width)]


def half_width(threshold: Threshold) -> float:
    """Half of the 80 % range of an event's temperature, K."""
    return threshold.scale * float(stdtrit(threshold.df, 0.9))


def taught_by(profile: Profile, before: Knowledge, after: Knowledge, name: str = "ROAST") -> str:
    """Effect of the evidence of one roast of this ``name``, in one sentence; '' where it holds none on the crack."""
    a, b = before.thresholds.get("first crack"), after.thresholds.get("first crack")
    if a is None or b is None or a.count == b.count:
        return ""
    was, now = _level(profile, a), _level(profile, b)
    said = f"It teaches: first crack at {now} °{profile.unit} ({was} before it)."
    if was == now:
        said = f"It bears out what was learnt: first crack at {now} °{profile.unit}."
    return f"{said} To leave it out: coach result {as_argument(name)} learn no"


def _level(profile: Profile, threshold: Threshold) -> str:
    centre, half = from_celsius(threshold.centre, profile.unit), from_kelvins(half_width(threshold), profile.unit)
    return f"{centre:.1f} ±{half:.1f}"


def _slopes(profile: Profile, k: Knowledge) -> list[str]:
    threshold = k.thresholds.get("first crack")
    if threshold is None or abs(threshold.slope) * PER_RATE < SLIGHT:
        return []
    way = "higher" if threshold.slope > 0 else "lower"
    by = number(from_kelvins(abs(threshold.slope) * PER_RATE, profile.unit))
    faster = number(from_kelvins(PER_RATE * 60.0, profile.unit))
    return [f"Where the probe climbs {faster} a minute faster, it cracks {by} °{profile.unit} {way}."]


def _reference(profile: Profile, k: Knowledge) -> list[str]:
    if k.reference is None:
        return []
    t = np.arange(profile.curve.turning_point[0] + 30.0, profile.curve.end, 10.0)
    off = k.reference.at(t) - profile.curve.at(t)
    if not len(t):
        return []
    at = int(np.argmax(np.abs(off)))
    by = number(from_kelvins(abs(float(off[at])), profile.unit))
    way = "above" if off[at] > 0 else "below"
    return [
        f"Reference adjusted from your roasts: up to {by} °{profile.unit} {way} the profile, at {clock(float(t[at]))}."
    ]


def _drop(profile: Profile, k: Knowledge) -> list[str]:
    habit = k.drop
    if habit.temperature is None or habit.development is None:
        return []
    kept = "temperature" if habit.by_temperature > 0.5 else "development"
    temperature = number(from_celsius(habit.temperature, profile.unit))
    wide = number(from_kelvins(habit.temperature_sd, profile.unit))
    return [
        f"Dropped by {kept}: at {temperature} °{profile.unit} (scatter {wide}), {clock(habit.development)} after crack "
        f"(scatter {habit.development_sd:.0f} s)."
    ]


def gas_words(profile: Profile, known: Knowledge) -> list[str]:
    """Effect of this machine's gas with its uncertainty, for a small step ``STEP_LEFT`` s before the planned crack."""
    goal = profile.goals.get("first crack")
    gas = [
        s.value for s in profile.steps if s.control == "gas" and goal is not None and s.time <= goal.time - STEP_LEFT
    ]
    if goal is None or not gas or not known.gas.moves:
        return []
    plan, step = Plan(profile), profile.document.limits.gas_step or 0.1
    unit = profile.document.pressure_unit
    shown = max(round(0.12 * from_kpa(gas[-1], unit) / step), 1) * step
    change = plan.input("gas", gas[-1] + to_kpa(shown, unit)) - plan.input("gas", gas[-1])
    times = np.arange(0.0, STEP_LEFT + 1.0, 5.0)
    done = change * per_unit(times)
    low, middle, high = known.gas.quantiles(done[:, -1] / max(profile.curve.slope(goal.time), 0.02), (0.1, 0.5, 0.9))
    mean = known.gas.weights @ done
    half = float(times[int(np.argmax(mean >= mean[-1] / 2))])
    moves = f"{known.gas.moves} move{'' if known.gas.moves == 1 else 's'}"
    return [
        f"Gas: {number(shown, 3)} {unit}, {STEP_LEFT / 60:.0f} minutes before first crack, moves it by about "
        f"{middle:.0f} s ({low:.0f}-{high:.0f}), half of that in the first {half:.0f} s; from {moves} besides the plan."
    ]
