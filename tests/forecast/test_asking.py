"""What the coach asks of the person: readings where they matter, a move that wasn't logged, what is odd today."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from helpers import ROOT, example
from simulated_operator import roast_once
from workshops import DEVELOPMENT, Weather, day_of, from_roasts, workshop

from coach.cues.conditions import reading_due
from coach.forecast.knowledge import Knowledge
from coach.forecast.predictor import Outlook
from coach.roast.entries import Move, Reading
from coach.roast.profile import Profile
from coach.roast.roast import Roast
from coach.session.coach import Coach
from coach.session.profile_files import load_profile


def profile() -> Profile:
    return load_profile(str(ROOT / "profiles" / "larch-hill.toml"))


def walked(until: float, batch: float | None = None, charged: float | None = None) -> Coach:
    journal = example()
    header = journal.header if batch is None else journal.header.model_copy(update={"batch_kg": batch})
    coach = Coach(profile(), header)
    charge = next(n.entry.at for n in journal.entries if getattr(n.entry, "event", "") == "charge")
    for n in journal.entries:
        entry = n.entry
        if entry.came - charge > until:
            break
        if charged is not None and isinstance(entry, Reading) and entry.at <= charge:
            entry = entry.model_copy(update={"temperature": charged})
        coach.advance(entry.came)
        coach.receive(entry, n.line)
    coach.advance(charge + until)
    return coach


def test_a_reading_is_wanted_after_the_last_one_and_never_much_later_than_crack() -> None:
    for t in (200.0, 300.0, 400.0, 450.0):
        coach = walked(t)
        wanted = coach.situation.forecast.next_reading
        last = coach.roast.readings[-1].t
        assert wanted is not None
        assert last + 10 <= wanted <= last + 90.5 or wanted == coach.situation.t
        assert coach.situation.forecast.first_crack is not None
        assert wanted <= max(coach.situation.forecast.first_crack.time.median, t)


def test_less_certain_members_want_a_reading_sooner() -> None:
    coach = walked(330.0)
    calm = coach.knowledge.bank
    loose = replace(calm, z=calm.z + np.array([0, 0, 0, 0, 4.0, 0, 0, 3.0, 0]))  # more disturbance, more jitter
    other = Outlook(profile(), replace(coach.knowledge, bank=loose), 1.0)
    _, said = other.at(330.0, coach.roast)
    wanted = coach.situation.forecast.next_reading
    assert wanted is not None
    assert said.next_reading is not None
    assert said.next_reading < wanted


@pytest.mark.long
def test_with_a_fixed_cadence_the_forecast_has_no_say() -> None:
    def due(fixed: bool, wanted: float) -> float:
        """How long after the last reading one is due, s."""
        c = walked(330.0)
        asked = c.situation.profile.document.model_copy(update={"cadence_fixed": fixed})
        forecast = replace(c.situation.forecast, next_reading=wanted)
        s = replace(c.situation, profile=Profile(asked), forecast=forecast)
        last = c.roast.readings[-1].t
        return next(t for t in range(1, 200) if reading_due(replace(s, t=last + t)).size == 1.0)

    last = walked(330.0).roast.readings[-1].t
    assert due(True, last + 20.0) == due(True, last + 80.0) == 45  # one and a half times the profile's 30 s
    assert due(False, last + 20.0) == 20
    assert due(False, last + 80.0) == 60  # no later: drift can't be told from older readings


def test_nothing_is_odd_about_the_bundled_roast() -> None:
    assert walked(400.0).situation.forecast.odd == ()
    assert walked(400.0).situation.forecast.gas_moved is None


def test_a_batch_of_another_weight_and_a_cold_charge_are_named() -> None:
    said = " ".join(walked(300.0, batch=0.95, charged=200.0).situation.forecast.odd)
    assert "0.95 kg" in said
    assert "charged 22 °C too cold" in said


def unlogged(number: int, factor: float) -> tuple[Profile, Knowledge, Roast, float] | None:
    w = workshop(DEVELOPMENT, number, 4, 0)
    assert w is not None
    weather = Weather.draw(w.machine, w.beans, np.random.default_rng([5, number]), 0.5)
    base = [s.value for s in w.profile.steps if s.control == "gas" and s.time <= 240.0][-1]
    gas = min(base * factor, w.machine.burner.full_pressure)
    roaster = weather.roaster(w.machine, w.beans)
    entries = roast_once(w.machine, roaster, w.habits, np.random.default_rng(number), [(240.0, "gas", gas)])
    entries = [e for e in entries if not (isinstance(e, Move) and e.control == "gas" and abs(e.at - 300.0) < 1.5)]
    day = day_of(entries, w.habits.unit, number)
    return w.profile, from_roasts(w.profile, [d.roast for d in w.earlier]), day.roast, 240.0


def suspected(number: int, factor: float) -> list[tuple[float, float]]:
    """When, and for when, a move is suspected that wasn't logged."""
    found = unlogged(number, factor)
    assert found is not None
    p, knowledge, roast, _ = found
    outlook = Outlook(p, knowledge, roast.rounding)
    out = []
    for r in roast.readings:
        if 150 < r.t < 460:
            _, forecast = outlook.at(r.t, roast.until(r.t))
            if forecast.gas_moved is not None:
                out.append((r.t, forecast.gas_moved))
    return out


@pytest.mark.long
def test_a_gas_turned_far_down_in_silence_is_asked_about_more_often_than_one_left_alone() -> None:
    """On purpose a silent sense: it finds more than half of the moves, about when they were made."""
    numbers = (0, 1, 2, 3, 5, 6, 7, 8, 9, 11)
    moved = [suspected(n, 0.5) for n in numbers]
    still = [suspected(n, 1.0) for n in numbers]
    found, false = sum(1 for m in moved if any(t > 240 for t, _ in m)), sum(1 for m in still if m)
    assert found >= 6
    assert false <= 2
    assert found > false + 1
    times = [when for m in moved for t, when in m if t > 240]
    assert abs(float(np.median(times)) - 240.0) < 60.0


@pytest.mark.long
def test_on_an_odd_day_the_range_is_wider_about_the_same_time() -> None:
    usual, odd = (walked(400.0, batch=b).situation.forecast.first_crack for b in (0.8, 0.95))
    assert usual is not None
    assert odd is not None
    assert odd.time.median == pytest.approx(usual.time.median, abs=0.5)
    assert odd.time.spread == pytest.approx(1.3 * usual.time.spread, rel=0.05)
    assert odd.p_early is not None
    assert usual.p_early is not None
    assert odd.p_early > usual.p_early
