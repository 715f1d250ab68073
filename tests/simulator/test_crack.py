"""Cracks: onset, order, and pops as a Poisson process."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from coach.session.profile_files import names_in
from coach.simulator.beans import LOTS, load_beans
from coach.simulator.crack import (
    ONSET_SHARE,
    BeanPop,
    Crack,
    PopSource,
    crack_drive,
    cracked_share,
    expected_pops,
)
from coach.simulator.machine import load_machine
from coach.simulator.roaster import SimulatedRoaster

CRACK = Crack(onset=196.0, spread=4.0, pops=150.0, strays=3.0)


def climb(seed: int, *, per_second: float = 0.12, to: float = 220.0) -> list[BeanPop]:
    source = PopSource(CRACK, "first", np.random.default_rng(seed))
    drives = np.arange(170.0, to, per_second)
    return [p for k, d in enumerate(drives) for p in source.between(float(k), k + 1.0, float(d))]


def test_onset_is_where_the_share_is_reached() -> None:
    assert cracked_share(drive=196.0, onset=196.0, spread=4.0) == pytest.approx(ONSET_SHARE)
    mean = 196.0 - 4.0 * float(stats.norm.ppf(ONSET_SHARE))
    assert cracked_share(drive=mean, onset=196.0, spread=4.0) == pytest.approx(0.5)


def test_steam_brings_the_crack_forward_a_little() -> None:
    """Munchow et al. (2020): steam drives first crack."""
    wet, dry = crack_drive(bean=196.0, moisture=0.07), crack_drive(bean=196.0, moisture=0.05)
    assert 0.2 < wet - dry < 2.0
    assert crack_drive(bean=200.0, moisture=0.05) - dry > 4.0


def test_pops_are_poisson_with_the_expected_count() -> None:
    counts = np.array([len(climb(s)) for s in range(200)])
    expected = expected_pops(CRACK, float(np.arange(170.0, 220.0, 0.12)[-1]))
    assert counts.mean() == pytest.approx(expected, abs=4.0 * np.sqrt(expected / 200))
    assert 0.75 < counts.var() / counts.mean() < 1.3


def test_pop_times_follow_the_rate() -> None:
    """Scaled by the expected count, the gaps of a Poisson process are exponential (Kolmogorov-Smirnov)."""
    gaps = []
    for seed in range(20):
        scaled = [expected_pops(CRACK, 170.0 + 0.12 * (p.time - 1.0)) for p in climb(seed)]
        gaps += list(np.diff(scaled))
    assert stats.kstest(gaps, "expon").pvalue > 0.01


def test_rate_rises_and_falls_and_stops_in_a_stall() -> None:
    times = np.concatenate([[p.time for p in climb(s)] for s in range(30)])
    counts, _ = np.histogram(times, bins=np.arange(100.0, 440.0, 20.0))
    peak = int(counts.argmax())
    assert 0 < peak < len(counts) - 1
    assert counts[0] < 0.1 * counts[peak]
    assert counts[-1] < 0.1 * counts[peak]
    source = PopSource(CRACK, "first", np.random.default_rng(1))
    assert source.between(0.0, 1.0, 204.0)
    assert not [p for k in range(100) for p in source.between(k + 1.0, k + 2.0, 204.0)]


def test_strays_come_before_the_onset() -> None:
    onset = (196.0 - 170.0) / 0.12
    early = [sum(p.time < onset for p in climb(s)) for s in range(200)]
    assert 3.0 < np.mean(early) < 9.0
    assert np.mean([climb(s)[0].time < onset for s in range(200)]) > 0.9


@pytest.mark.parametrize("lot", names_in(LOTS))
def test_second_crack_is_later_faster_and_softer(lot: str) -> None:
    """Wilson (2014).  That it sounds higher is tested with the sound."""
    machine = load_machine("brambleforge-1")
    roaster = SimulatedRoaster(machine, load_beans(lot), seed=8)
    roaster.charge()
    roaster.advance(1000.0)
    truth = roaster.truth
    assert truth.first_crack is not None
    assert truth.second_crack is not None
    assert truth.second_crack > truth.first_crack + 60.0
    first = [p for p in roaster.pops if p.kind == "first"]
    second = [p for p in roaster.pops if p.kind == "second"]
    assert busiest(second) > 1.5 * busiest(first)
    assert np.mean([p.loudness for p in second]) < np.mean([p.loudness for p in first])


def busiest(pops: list[BeanPop]) -> float:
    """Most pops in any half minute, per minute."""
    times = np.array([p.time for p in pops])
    return float(max(2.0 * ((times >= t) & (times < t + 30.0)).sum() for t in times))
