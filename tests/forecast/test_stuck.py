"""When a probe that stands still is said to, and what it does to the forecast."""

from __future__ import annotations

import pytest

from coach.forecast.learning import from_profile
from coach.forecast.predictor import Outlook
from coach.forecast.reading_requests import stuck
from coach.roast.entries import Header
from coach.roast.roast import Probe, Roast
from coach.session.profile_files import load_profile

PROFILE = load_profile("larch-hill")
HEADER = Header(id="x", started="2026-11-02T08:00:00+00:00")


def roast(*readings: tuple[float, float], cracked: bool = False) -> Roast:
    told = tuple(Probe(t, v, i + 2, t, v) for i, (t, v) in enumerate(readings))
    marks = {"charge": 0.0, "first crack": 485.0} if cracked else {"charge": 0.0}
    return Roast(HEADER, 0.0, marks, readings=told, phase="development" if cracked else "browning")  # type: ignore[arg-type]


def plan(*times: float) -> list[tuple[float, float]]:
    return [(t, float(round(PROFILE.curve.value(t)))) for t in times]


def stuck_from(t: float, *after: float) -> list[tuple[float, float]]:
    value = float(round(PROFILE.curve.value(t)))
    return [*plan(*range(100, int(t), 30)), (t, value), *((t + s, value) for s in after)]


def test_readings_on_plan_do_not_stand_still() -> None:
    sound = roast(*plan(*range(20, 600, 10)))
    assert [t for t in range(20, 600, 10) if stuck(PROFILE, sound, float(t))] == []


@pytest.mark.parametrize(
    ("after", "said"), [((10.0,), False), ((70.0,), True), ((5.0, 10.0), False), ((20.0, 40.0), True)]
)
def test_it_stands_still_once_the_reference_has_moved_far_enough(after: tuple[float, ...], said: bool) -> None:
    """At 5:00 the plan rises about 16 K a minute: 8 K for two readings alike, 4 K for three."""
    found = stuck(PROFILE, roast(*stuck_from(300.0, *after)), 400.0)
    assert ("since 5:00: probe stuck, or roast stands still" in found) is said
    assert bool(found) is said


def test_one_that_moves_again_is_no_longer_stuck() -> None:
    readings = [*stuck_from(300.0, 20.0, 40.0), (360.0, 180.0)]
    assert stuck(PROFILE, roast(*readings), 350.0)
    assert stuck(PROFILE, roast(*readings), 360.0) == ""


def test_about_the_turning_point_a_probe_does_stand_still() -> None:
    turn = PROFILE.curve.turning_point[0]
    assert stuck(PROFILE, roast((turn - 20, 90.0), (turn, 90.0), (turn + 25, 90.0)), turn + 25) == ""


def test_before_crack_the_forecast_is_withheld_and_after_it_widened() -> None:
    outlook = Outlook(PROFILE, from_profile(PROFILE), 1.0)
    told = roast(*stuck_from(360.0, 20.0, 40.0))
    _, said = outlook.at(400.0, told)
    assert (said.first_crack, said.drop, said.path) == (None, None, None)
    assert "stuck" in said.reasons[0]
    assert "stuck" in said.odd[-1]
    after = [*plan(*range(100, 500, 30)), (490.0, 198.0), (510.0, 198.0), (530.0, 198.0)]
    moving = [*after[:-2], (510.0, 200.0), (530.0, 203.0)]
    wide, sound = (
        Outlook(PROFILE, from_profile(PROFILE), 1.0).at(530.0, roast(*r, cracked=True))[1] for r in (after, moving)
    )
    assert wide.drop is not None
    assert sound.drop is not None
    assert wide.drop.temperature.spread > 2.0 * sound.drop.temperature.spread
    assert wide.stall is not None, "a roast that stalls is still warned of"
    assert "stuck" in wide.odd[-1]
    assert not any("stuck" in word for word in sound.odd)
