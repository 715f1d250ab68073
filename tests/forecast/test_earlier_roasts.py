"""What earlier roasts teach: where beans crack, on the reference that they mend; and never at a forecast's cost."""

from __future__ import annotations

import numpy as np
import other_roaster
import pytest
import third_roaster
from helpers import ROOT
from workshops import DEVELOPMENT, from_roasts, workshop

from coach.forecast.learning import from_lessons, from_profile, lesson
from coach.roast.entries import Header
from coach.roast.roast import Probe, Roast
from coach.session.profile_files import load_profile
from coach.verification.hindcast import cases

PROFILE = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
CRACK = PROFILE.goals["first crack"]
LEADS = (150, 120, 90, 60, 30)


def bumpy(t: np.ndarray) -> np.ndarray:
    """Where the probe truly runs: the reference misses a hump about its crack."""
    return np.asarray(PROFILE.curve.at(t) + 1.2 * np.exp(-0.5 * ((t - CRACK.time) / 60.0) ** 2))


def bumpy_roast(day: float) -> Roast:
    """A roast ``day`` K above that way, exactly read, whose beans crack where the hump and the reference have them."""
    every = np.arange(60.0, PROFILE.curve.end, 0.25)
    level = float(bumpy(np.array([CRACK.time]))[0])
    crack = float(every[np.argmax((bumpy(every) + day >= level) & (every > 120.0))])
    times = np.arange(95.0 + 11.0 * day, crack + 90.0, 30.0)
    values = bumpy(times) + day
    readings = tuple(
        Probe(t, v, i + 2, t, v) for i, (t, v) in enumerate(zip(times.tolist(), values.tolist(), strict=True))
    )
    header = Header(id="x", started="2026-11-02T08:00:00+00:00", dial="tenths")
    return Roast(header, charge_at=0.0, marks={"charge": 0.0, "first crack": crack}, readings=readings)


def test_the_level_is_that_of_the_reference_as_mended() -> None:
    known = from_roasts(PROFILE, [bumpy_roast(day) for day in np.linspace(-2.0, 2.0, 9)])
    assert known.reference is not None
    level = known.thresholds["first crack"].centre
    off = PROFILE.curve.value(CRACK.time) - CRACK.temperature
    assert level == pytest.approx(float(bumpy(np.array([CRACK.time]))[0]) - off / 6, abs=0.12)


def test_roasts_that_bear_out_the_profile_change_nothing_but_how_sure_it_is() -> None:
    plain = from_profile(PROFILE).thresholds["first crack"]
    every = np.arange(95.0, PROFILE.curve.end, 30.0)
    readings = tuple(Probe(t, PROFILE.curve.value(t), i + 2, t, PROFILE.curve.value(t)) for i, t in enumerate(every))
    header = Header(id="x", started="2026-11-02T08:00:00+00:00", dial="tenths")
    same = Roast(header, charge_at=0.0, marks={"charge": 0.0, "first crack": CRACK.time}, readings=readings)
    known = from_roasts(PROFILE, [same] * 4)
    crack = known.thresholds["first crack"]
    assert known.reference is not None
    assert np.abs(known.reference.at(every) - PROFILE.curve.at(every)).max() < 0.05
    assert crack.centre == pytest.approx(plain.centre, abs=0.1)
    assert crack.scale < 0.9 * plain.scale


@pytest.mark.long
@pytest.mark.timeout(900)
def test_four_roasts_are_never_worse_than_none_and_fourteen_are_better_on_three_roasters() -> None:
    """Paired over the same days: never worse on any roaster, better over all; the table: tests/bench/bench_dials.py."""
    fourteen: list[np.ndarray] = []
    for make in (workshop, other_roaster.place, third_roaster.place):
        change: dict[int, list[np.ndarray]] = {4: [], 14: []}
        for number in range(6):
            w = make(DEVELOPMENT, number, 14, 3)
            assert w is not None
            lessons = [lesson(w.profile, d.roast) for d in w.earlier]
            off = {}
            for n in (0, 4, 14):
                known, missed = from_lessons(w.profile, lessons[len(lessons) - n :]), np.full((3, len(LEADS)), np.nan)
                for i, d in enumerate(w.live):
                    for c in cases(w.profile, known, d.header, d.entries, crack_leads=LEADS, drop_leads=()):
                        if c.said is not None:
                            missed[i, LEADS.index(c.lead)] = abs(c.said.median - c.happened)
                off[n] = missed
            for n, found in change.items():
                found.append(np.nanmean(off[n] - off[0], axis=0))
        for n, found in change.items():
            mean, unsure = np.mean(found, axis=0), np.std(found, axis=0) / np.sqrt(len(found))
            assert np.all(mean < 2 * unsure), f"{n} earlier on {make.__module__}: {mean.round(2)} s, {unsure.round(2)}"
        fourteen += change[14]
    assert np.mean(fourteen) < -0.3
