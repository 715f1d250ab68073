"""Pops, drum and fan as heard."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.app.sound.mixer import Mixer
from coach.cues.tones import RATE, Samples
from coach.simulator.crack import BeanPop
from coach.simulator.machine import load_machine
from coach.simulator.noise import LEAD, LENGTH, LOOP, RoasterSound, noise_loop, pop_wave
from coach.simulator.roaster import SimulatedRoaster


def centroid(wave: Samples) -> float:
    power = np.abs(np.fft.rfft(wave, RATE)) ** 2
    return float((power * np.arange(len(power))).sum() / power.sum())


def take(sound: RoasterSound, seconds: float, block: int = 1024) -> Samples:
    out, t = [], 0
    while t < seconds * RATE:
        out.append(sound(t / RATE, block))
        t += block
    return np.concatenate(out)[: round(seconds * RATE)]


def test_second_crack_is_higher_and_softer() -> None:
    """Wilson (2014): amplitude first > second, pitch first < second.  Its faster rate is held with the pops."""
    machine = load_machine("brambleforge-1")
    roaster = SimulatedRoaster(machine, seed=5)
    roaster.charge()
    roaster.advance(1000.0)
    pops = roaster.pops
    kinds = {k: [pop_wave(p.kind, loudness=p.loudness, pitch=p.pitch) for p in pops if p.kind == k] for k in
             ("first", "second")}  # fmt: skip
    assert min(len(v) for v in kinds.values()) > 50
    first, second = (np.mean([np.abs(w).max() for w in kinds[k]]) for k in ("first", "second"))
    assert first > 1.15 * second
    low, high = (np.mean([centroid(w) for w in kinds[k]]) for k in ("first", "second"))
    assert 600.0 < low < 1200.0
    assert high > 3.0 * low


@pytest.mark.parametrize("kind", ["first", "second"])
def test_a_pop_is_short_and_begins_and_ends_at_zero(kind: str) -> None:
    wave = pop_wave(kind)  # type: ignore[arg-type]
    assert wave[0] == 0.0
    assert wave[-1] == 0.0
    assert len(wave) == round(LENGTH * RATE)
    assert np.abs(wave).max() == pytest.approx(0.3, rel=0.01)
    assert np.abs(wave[len(wave) // 2 :]).max() < 0.15 * np.abs(wave).max()
    assert np.abs(pop_wave(kind, loudness=50.0)).max() <= 0.8  # type: ignore[arg-type]


def test_noise_has_its_band_and_no_seam() -> None:
    wave = noise_loop(300.0, 5000.0, 3)
    power = np.abs(np.fft.rfft(wave)) ** 2
    f = np.fft.rfftfreq(len(wave), 1.0 / RATE)
    assert power[(f < 290.0) | (f > 5010.0)].sum() < 1e-6 * power.sum()
    assert np.sqrt(np.mean(wave**2)) == pytest.approx(1.0, abs=1e-3)
    steps = np.abs(np.diff(np.concatenate([wave[-50:], wave[:50]])))
    assert steps[49] < 4.0 * np.median(np.abs(np.diff(wave)))
    assert len(wave) == LOOP * RATE


def test_pops_stand_out_of_the_noise_at_their_times() -> None:
    sound = RoasterSound(1)
    sound.air = 1.0
    times = [0.5, 0.9, 1.05, 2.4]
    sound.hear([BeanPop(100.0 + t, "first", 1.0, 1.0) for t in times], since=100.0)
    wave = np.abs(take(sound, 3.0))
    loud = np.flatnonzero(wave > 0.2) / RATE
    starts = [loud[0], *[b for a, b in pairwise(loud) if b - a > 0.06]]
    assert starts == pytest.approx([LEAD + t for t in times], abs=0.003)
    quiet = RoasterSound(1)
    quiet.air = 1.0
    noise = take(quiet, 3.0)
    assert 20 * np.log10(0.3 / np.sqrt(np.mean(noise**2))) > 15.0
    assert np.abs(noise).max() < 0.2


def test_speed_draws_the_pops_together() -> None:
    sound = RoasterSound(1)
    sound.hear([BeanPop(t, "first", 1.0, 1.0) for t in (10.0, 20.0)], since=10.0, speed=20.0)
    wave = np.abs(take(sound, 1.0))
    loud = np.flatnonzero(wave > 0.2) / RATE
    starts = [loud[0], *[b for a, b in pairwise(loud) if b - a > 0.06]]
    assert np.diff(starts) == pytest.approx([0.5], abs=0.003)


@settings(max_examples=10, deadline=None)
@given(st.lists(st.integers(1, 3000), min_size=1, max_size=30))
def test_any_blocks_the_same_sound(blocks: list[int]) -> None:
    def fresh() -> RoasterSound:
        sound = RoasterSound(2)
        sound.hear([BeanPop(t, "second", 1.0, 1.0) for t in (0.0, 0.01, 0.2)], since=0.25)
        return sound

    whole = take(fresh(), 1.0, block=RATE)
    sound, at, pieces = fresh(), 0, []
    for block in blocks:
        pieces.append(sound(at / RATE, block))
        at += block
    cut = np.concatenate(pieces)[:RATE]
    np.testing.assert_array_equal(cut, whole[: len(cut)])


def test_fan_and_drum_are_heard() -> None:
    still, full = RoasterSound(1), RoasterSound(1)
    still.air, full.air = 0.05, 1.0
    assert np.std(take(full, 1.0)) > 1.2 * np.std(take(still, 1.0))


def test_nothing_piles_up_when_nobody_listens_and_the_mixer_takes_it() -> None:
    sound = RoasterSound(1)
    for n in range(3000):
        sound.hear([BeanPop(float(n), "first", 1.0, 1.0)], since=float(n))
    mixer = Mixer()
    mixer.set_background(sound)
    for _ in range(60):
        block = mixer.mix(512)
    assert mixer.trouble == ""
    assert sound.taken == 60
    assert np.abs(block).max() <= 1.0
