"""The waveforms, measured as an instrument would: envelope for the pulses, spectrum for the pitch.

Limits: IEC 60601-1-8 (as quoted by PUI Audio and a public generator of its sounds), MIL-STD-1472E 5.3.4.3 and 5.3.6,
NUREG-0700 4.2.6.3-16.  Nothing here reads the patterns the sounds are made from.
"""

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.cues.tones import Sound, describe, samples
from tests.app.sound.measure import harmonics, pitch, pulses, rises

RATE = 44100
COUNTS = {Sound.ACT_NOW: 10, Sound.ALARM: 3, Sound.GET_READY: 3, Sound.PROMPT: 2}
EDGES = (0.02, 0.5)
"""Where a pulse begins and ends, as a share of its height: near the foot, and at half height."""


@pytest.fixture(params=list(Sound), ids=lambda s: s.value)
def sound(request: pytest.FixtureRequest) -> Sound:
    return Sound(request.param)


def test_there_are_at_most_four_sounds() -> None:
    assert len(Sound) <= 4  # MIL-STD-1472E 5.3.4.3.1
    assert [s.value for s in Sound] == ["act now", "alarm", "get ready", "prompt"]


@pytest.mark.parametrize("rate", [8000, 22050, 44100, 48000])
def test_starts_and_ends_at_zero_without_clipping(sound: Sound, rate: int) -> None:
    x = samples(sound, rate)
    assert x.dtype == np.float32
    assert x.ndim == 1
    assert x[0] == 0.0
    assert x[-1] == 0.0
    assert np.abs(x).max() < 1.0
    assert longest_run(np.abs(x) >= np.abs(x).max() * 0.9999) <= 2  # no flat tops


def test_length_of_a_burst(sound: Sound) -> None:
    assert 0.5 <= len(samples(sound, RATE)) / RATE <= 3.0  # MIL-STD-1472E 5.3.6.5; the upper end is ours


@pytest.mark.parametrize("edge", EDGES)
def test_number_and_length_of_pulses(sound: Sound, edge: float) -> None:
    found = pulses(samples(sound, RATE), RATE, edge)
    assert len(found) == COUNTS[sound]
    lengths = [end - start for start, end in found]
    low, high = (0.075, 0.200) if sound is Sound.ACT_NOW else (0.125, 0.250)
    assert min(lengths) >= low
    assert max(lengths) <= high


@pytest.mark.parametrize("edge", EDGES)
def test_act_now_is_two_fives_grouped_three_and_two(edge: float) -> None:
    found = pulses(samples(Sound.ACT_NOW, RATE), RATE, edge)
    gaps = [b[0] - a[1] for a, b in pairwise(found)]
    within = [gaps[i] for i in (0, 1, 3, 5, 6, 8)]
    assert all(0.050 <= g <= 0.125 for g in within)
    assert all(max(within) * 1.5 < gaps[i] < 0.350 for i in (2, 7))
    assert 0.350 <= gaps[4] <= 1.300


@pytest.mark.parametrize("edge", EDGES)
@pytest.mark.parametrize("name", [Sound.ALARM, Sound.GET_READY, Sound.PROMPT])
def test_spacing_of_the_others(name: Sound, edge: float) -> None:
    found = pulses(samples(name, RATE), RATE, edge)
    assert all(0.125 <= b[0] - a[1] <= 0.250 for a, b in pairwise(found))


def test_rise_by_either_way_of_measuring(sound: Sound) -> None:
    x = samples(sound, RATE)
    for low, high in ((0.0, 1.0), (0.1, 0.9)):
        for rise, length in rises(x, RATE, low, high):
            assert rise >= 0.010
            assert 0.145 <= rise / length <= 0.205  # 15-20 %, half a point for the envelope's own smoothing


def test_pitch_and_harmonics(sound: Sound) -> None:
    x = samples(sound, RATE)
    f0 = pitch(x, RATE)
    assert 400 <= f0 <= 1000
    levels = harmonics(x, RATE, f0)
    audible = [f for f, db in levels if 300 <= f <= 4000 and abs(db) <= 15]
    assert len(audible) >= 4
    assert all(db <= -40 for f, db in levels if f > 4000)


def test_every_pair_differs_in_pulses_and_in_pitch() -> None:
    for a, b in combinations(Sound, 2):
        low, high = sorted((pitch(samples(a, RATE), RATE), pitch(samples(b, RATE), RATE)))
        assert (high - low) / high >= 0.20, (a, b)  # NUREG-0700 4.2.6.3-16, from either end
        assert timing(a) != timing(b), (a, b)


def test_first_half_second_tells_them_apart() -> None:
    """MIL-STD-1472E 5.3.4.3.3: the first 0.5 s alone; pitch always, and the second onset between rhythms."""
    heads = {s: samples(s, RATE)[: RATE // 2] for s in Sound}
    second = {s: pulses(x, RATE, 0.1)[1][0] for s, x in heads.items()}
    for a, b in combinations(Sound, 2):
        low, high = sorted((pitch(heads[a], RATE), pitch(heads[b], RATE)))
        assert (high - low) / high >= 0.20
        if {a, b} != {Sound.GET_READY, Sound.PROMPT}:
            first, last = sorted((second[a], second[b]))
            assert last / first >= 1.25


def test_three_rhythms_between_one_and_eight_pulses_a_second() -> None:
    rates = {round(1 / timing(s)[0], 1) for s in Sound}
    assert len(rates) <= 3
    assert all(1 <= r <= 8 for r in rates)


@given(st.sampled_from(list(Sound)), st.integers(8000, 96000))
def test_any_rate(name: Sound, rate: int) -> None:
    x = samples(name, rate)
    assert np.abs(x).max() == pytest.approx(0.5, rel=1e-5)
    assert x[0] == x[-1] == 0.0


def test_refuses_rates_it_cannot_make() -> None:
    with pytest.raises(ValueError, match="rate"):
        samples("alarm", 4000)


def test_refuses_other_names() -> None:
    with pytest.raises(ValueError, match="none"):
        samples("none")


def test_words_name_the_measured_pitch(sound: Sound) -> None:
    told = float(describe(sound).split(" Hz")[0].split()[-1])
    assert told == pytest.approx(pitch(samples(sound, RATE), RATE), rel=0.004)


def timing(sound: Sound) -> tuple[float, ...]:
    """Onset to onset of all pulses, s to the nearest 10 ms."""
    onsets = [start for start, _ in pulses(samples(sound, RATE), RATE, 0.1)]
    return tuple(round(b - a, 2) for a, b in pairwise(onsets))


def longest_run(flags: np.ndarray) -> int:
    """Length of the longest stretch of true values."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    return int(max(edges[1::2] - edges[::2]))
