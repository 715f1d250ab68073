"""No sound alone, no colour alone: what is heard stands on the screen in the same moment, in plain words.

MIL-STD-1472E 5.3.6.3: a sound that is no speech goes with a visual that names the condition.  WCAG 2.2, 1.4.1: colour
is never the only means.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from coach.app.screens.act import act, others
from coach.app.screens.palette import LOOKS, Sketch
from coach.app.screens.roast_panes import alert_words
from coach.app.screens.words import SIGNS, urgent
from coach.cues.situation import ActiveCue, CueState
from coach.cues.table import CUES, Priority
from tests.cues.situations import Story, lead
from tests.cues.test_conditions import MUST

HOW = Sketch(LOOKS["dark"])
STATES: tuple[CueState, ...] = ("unacknowledged", "acknowledged", "shelved")
PRIORITIES: tuple[Priority, ...] = ("high", "medium", "low", "none")
SHOWN = ActiveCue("x", "alarm", "low", "unacknowledged", False, "200 °C at 5:00", "less heat", 300.0)


@pytest.mark.parametrize(
    ("cue", "story", "start", "end"), [pytest.param(n, *rows[0], id=n) for n, rows in MUST.items()]
)
def test_what_is_heard_is_named_in_the_same_moment(cue: str, story: Story, start: float, end: float) -> None:
    led = lead(story, start, end)
    for t, name in led.sounds:
        shown = led.cue(name, t)
        assert shown is not None
        assert shown.sounds
        assert shown.text.strip()
        assert shown.action.strip()
        s = story.at(t)
        band = act(s, led.shown[t], lambda action: action)
        if name == band.cue:
            assert band.urgency != "later"
            said = f"{band.what} {band.more}"
            named = any(word in said for word in (*name.split(), shown.text.split()[0], shown.action.split(",")[0]))
            assert named, said
        else:
            line = next(alert_words(c, HOW)[0] for c in others(led.shown[t], band) if c.name == name)
            assert shown.text in line
            assert shown.action in line
            assert line.startswith(SIGNS[shown.priority])
    assert cue in {n for _, n in led.sounds}


def test_every_priority_and_state_reads_differently_without_colour() -> None:
    cues = [replace(SHOWN, priority=p, state=s) for p, s in product(PRIORITIES, STATES)]
    lines = [alert_words(c, HOW)[0] for c in cues]
    assert len(set(lines)) == len(PRIORITIES) * len(STATES)
    assert len(set(SIGNS.values())) == len(SIGNS)


def test_a_forecast_of_trouble_goes_before_the_plan_until_it_is_answered() -> None:
    low, drift = replace(SHOWN, name="crack early"), replace(SHOWN, name="too hot")
    seen, prompt = replace(low, state="acknowledged"), replace(SHOWN, family="prompt")
    medium = replace(drift, priority="medium", state="acknowledged")
    assert urgent([prompt, drift, low]) == low
    assert urgent([seen, drift, prompt]) is None
    assert urgent([prompt, medium]) == medium
    assert urgent([replace(medium, state="shelved"), prompt]) is None
    assert urgent([replace(prompt, priority="high")]) is not None


def test_every_sounding_row_has_a_scenario_here() -> None:
    assert set(MUST) == {n for n, row in CUES.items() if row.sound != "none"}
