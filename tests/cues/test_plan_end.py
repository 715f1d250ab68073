"""Past the end of its reference a plan is not extrapolated, and nothing asks for heat; a handover names no slip."""

from __future__ import annotations

import pytest

from coach.advice.advise import advise
from coach.app.screens.roast_panes import figure_values
from coach.cues.conditions import CONDITIONS
from coach.cues.situation import Situation
from coach.forecast.learning import from_profile
from coach.forecast.predictor import Outlook
from coach.logbook.brief.handover import HandoverState
from coach.roast.entries import Entry, Header, Mark, Move, Reading
from coach.roast.profile import Profile
from coach.roast.roast import Numbered, fold
from coach.session.profile_files import load_profile

HEADER = Header(id="x", started="2026-11-02T08:00:00+00:00")


@pytest.fixture(scope="module")
def profile() -> Profile:
    return load_profile("larch-hill")


def standing(profile: Profile, entries: list[Entry], at: float) -> HandoverState:
    ordered = sorted(entries, key=lambda e: e.at)
    return HandoverState.of(profile, HEADER, [Numbered(i + 2, e) for i, e in enumerate(ordered)], at)


def begun(profile: Profile, until: float, slower: float = 0.0) -> list[Entry]:
    """The plan's roast up to a roast time (s), readings every 20 s."""
    out: list[Entry] = [
        Reading(at=50.0, temperature=222.0),
        Move(at=58.0, control="gas", value=1.6),
        Mark(at=60.0, event="charge"),
    ]
    t = 20.0
    while t <= until:
        off = slower * max(t - 300.0, 0.0)
        out.append(Reading(at=60.0 + t, temperature=float(round(profile.curve.value(min(t, 575.0)) - off))))
        t += 20.0
    return out


def moment(profile: Profile, entries: list[Entry], t: float) -> Situation:
    """What is known at roast time ``t`` (s), with the advice."""
    ordered = sorted(entries, key=lambda e: e.at)
    roast = fold(HEADER, [Numbered(i + 2, e) for i, e in enumerate(ordered)])
    outlook = Outlook(profile, from_profile(profile), 1.0)
    estimate, forecast = outlook.at(t, roast, asking=False)
    advice = advise(outlook, t, roast, forecast, estimate)
    return Situation(60.0 + t, t, profile, roast, estimate, forecast, advice=advice)


@pytest.mark.parametrize("crack", [None, 487.0])
def test_nothing_is_compared_and_no_heat_asked_for_past_the_plan(profile: Profile, crack: float | None) -> None:
    entries = begun(profile, 560.0, 0.03)
    if crack is not None:
        entries.append(Mark(at=60.0 + crack, event="first crack"))
    before = moment(profile, entries, 560.0)
    assert before.forecast.deviation is not None
    assert before.forecast.deviation < -4
    assert CONDITIONS["too cool"](before).size > 1.0  # type: ignore[operator]
    entries += [Reading(at=60.0 + t, temperature=192.0 - (t - 560) / 40) for t in range(580, 1700, 20)]
    s = moment(profile, entries, 1700.0)
    assert s.forecast.deviation is None
    assert s.forecast.lag is None
    name, value, notes, _ = figure_values(s, None)[2]
    assert (name, value, notes) == ("OFF PLAN °C", "–", ["plan ended", "at 9:35"])
    for name in ("too cool", "too hot", "crack late", "stalling"):
        assert CONDITIONS[name](s).size == 0.0, name
    assert s.advice is None or s.advice.kind != "move"


def test_past_the_plan_advice_asks_for_no_more_gas(profile: Profile) -> None:
    entries = [*begun(profile, 560.0, 0.03), Reading(at=60.0 + 578.0, temperature=200.0)]
    said = moment(profile, entries, 580.0).advice
    assert said is not None
    assert said.text == "the plan ended at 9:35: no more heat by it"


def test_a_handover_names_the_last_reading_that_counts(profile: Profile) -> None:
    entries = [*begun(profile, 320.0), Reading(at=60.0 + 335.0, temperature=319.0)]
    found = standing(profile, entries, 60.0 + 347.0)
    said = " ".join(found.sections()[0].lines)
    good = f"Last reading {round(profile.curve.value(320.0))} °C, 0:27 ago."
    assert good in said
    assert "319" not in said
    assert "5:35, was not used" in said
    assert max(r.celsius for r in found.readings) < 200, "nor do the pictures show it"
    assert not any("319" in f.answer for f in found.facts())
    waiting = standing(profile, [entries[0], Reading(at=55.0, temperature=1234.0)], 58.0)
    assert "Last reading 222 °C" in " ".join(waiting.sections()[0].lines)
    alone = standing(profile, [*entries[:3], Reading(at=65.0, temperature=1234.0)], 70.0)
    assert "1234" not in " ".join(alone.sections()[0].lines)
