"""The sound edge with a device that is there, missing, busy, slow, or lost in the middle of a roast."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
import pytest

from coach.app.sound.device import DeviceError, open_default
from coach.app.sound.speaker import Speaker, Status
from coach.cues.tones import samples
from tests.app.sound.fakes import Bell, Device, not_installed, until
from tests.app.sound.measure import pulses

BEEP = np.full(1000, 0.25, dtype=np.float32)


@contextmanager
def speaker(*args: Any, **kwargs: Any) -> Iterator[Speaker]:
    made = Speaker(*args, **{"retry": 0.03, "patience": 5.0} | kwargs)
    try:
        yield made
    finally:
        made.close()


def sounds(s: Speaker, device: Device) -> bool:
    """Whether the device, if there is one, gives out anything but silence now."""
    return s.output == "sound device" and bool(device.take().any())


def test_device_plays_what_it_is_given() -> None:
    device, bell = Device(), Bell()
    with speaker(bell, device) as s:
        assert s.ready(5) == "sound device"
        assert s.status == Status("sound device", "fake")
        assert s.trouble == ""
        s.play(BEEP)
        heard = device.take_all()
    assert np.array_equal(heard[:1000], BEEP)
    assert not heard[1000:].any()
    assert bell.rings == 0


def test_full_sound_reaches_the_device_unchanged() -> None:
    device = Device()
    wave = samples("alarm")
    with speaker(Bell(), device) as s:
        s.ready(5)
        s.play(wave)
        heard = np.concatenate([device.take(441)[:, 0] for _ in range(len(wave) // 441 + 1)])
    assert np.array_equal(heard[: len(wave)], wave)


def test_cues_by_name_have_their_own_sound() -> None:
    device = Device()
    with speaker(Bell(), device) as s:
        s.ready(5)
        s.play("drop now")
        assert len(pulses(device.take(3 * 44100)[:, 0], 44100, 0.1)) == 10
        s.play("move due")
        heard = device.take(44100)[:, 0]
        assert len(pulses(heard, 44100, 0.1)) == 2
        s.play("reading doubtful")
        assert not device.take().any()


def test_a_name_nobody_knows_rings_the_bell() -> None:
    device, bell = Device(), Bell()
    with speaker(bell, device) as s:
        s.ready(5)
        s.play("no such cue")
        assert until(lambda: bell.rings == 1)


def test_sounds_add_up_over_the_source_on_every_channel() -> None:
    device = Device()
    times = []

    def hum(t0: float, frames: int) -> np.ndarray:
        times.append(t0)
        return np.full(frames, 0.125)

    with speaker(Bell(), device) as s:
        s.ready(5)
        device.take(441)
        s.set_background(hum)
        s.play(BEEP)
        s.play(BEEP)
        out = device.take(441, channels=2)
        assert np.allclose(out, 0.125 + 0.25 + 0.25)
        device.take(441)
        assert times == pytest.approx([0.0, 0.01])
        s.play(np.full(441, 0.95, dtype=np.float32))
        assert device.take(441).max() == 1.0  # never beyond full scale
        s.set_background(None)
        device.take_all()
        assert not device.take().any()


@pytest.mark.parametrize("bad", [lambda t, n: 1 / 0, lambda t, n: np.ones(n + 1), lambda t, n: "hiss"])
def test_a_faulty_source_never_silences_cues(bad: Any) -> None:
    device = Device()
    with speaker(Bell(), device) as s:
        s.ready(5)
        s.set_background(bad)
        s.play(BEEP)
        assert np.array_equal(device.take(1000)[:, 0], BEEP)
        assert "beneath the cues stopped" in s.trouble


def test_what_is_not_a_number_is_silence() -> None:
    device = Device()
    with speaker(Bell(), device) as s:
        s.ready(5)
        s.play(np.array([np.nan, 0.5, np.inf], dtype=np.float32))
        assert device.take(4)[:, 0].tolist() == [0.0, 0.5, 1.0, 0.0]


def test_without_the_library_the_bell_rings_and_nobody_looks_again() -> None:
    bell, asked = Bell(), []

    def counted(rate: int, fill: Any) -> Any:
        asked.append(rate)
        return not_installed(rate, fill)

    with speaker(bell, counted) as s:
        assert s.ready(5) == "terminal bell"
        s.play("crack early")
        assert until(lambda: bell.rings == 1)
        assert s.trouble == "the PortAudio library is not installed: terminal bell"
        time.sleep(0.15)
        assert len(asked) == 1


def test_screen_only_without_device_and_bell() -> None:
    with speaker(None, not_installed) as s:
        assert s.ready(5) == "screen only"
        s.play("drop now")
        assert s.status.text == "screen only: the PortAudio library is not installed"


def test_a_bell_that_fails_leaves_the_screen() -> None:
    bell = Bell(fails_from=2)
    with speaker(bell, not_installed) as s:
        s.ready(5)
        for _ in range(4):
            s.play(BEEP)
        assert until(lambda: s.output == "screen only")
    assert bell.rings == 2
    assert "not installed" in s.status.why
    assert "terminal bell failed" in s.status.why


def test_a_busy_device_is_taken_as_soon_as_it_is_free() -> None:
    device, bell = Device(1, 2, error=DeviceError("device busy")), Bell()
    with speaker(bell, device, retry=0.3) as s:
        assert s.ready(5) == "terminal bell"
        assert s.status.why == "device busy"
        s.play(BEEP)
        assert until(lambda: bell.rings == 1)
        assert until(lambda: s.output == "sound device")
        assert not device.take().any()  # rung already: doesn't sound late
        s.play(BEEP)
        assert device.take().any()


@pytest.mark.parametrize("how", ["ends", "stalls"])
def test_lost_in_mid_sound_is_rung_said_and_taken_up_again(how: str) -> None:
    device, bell = Device(), Bell()
    at_the_bell: list[Status] = []
    patience = 5.0 if how == "ends" else 0.1

    def ring() -> None:
        at_the_bell.append(s.status)
        bell()

    with speaker(ring, device, patience=patience) as s:
        s.ready(5)
        s.play(np.ones(5000, dtype=np.float32))
        device.take()
        first = device.streams[0]
        first.gone = how == "ends"
        assert until(lambda: bell.rings == 1)
        assert until(lambda: first.closed)
        assert "sound device lost" in at_the_bell[0].why
        assert until(lambda: s.output == "sound device")
        out = np.ones((64, 1), dtype=np.float32)
        first.fill(out)  # the old one wakes: silence, and nothing is taken from the new one
        assert not out.any()
        s.play(BEEP)
        assert until(lambda: sounds(s, device) or bell.rings > 1)


def test_play_returns_at_once_while_the_device_hangs() -> None:
    device, bell = Device(), Bell()
    device.hold.clear()
    with speaker(bell, device, patience=0.2) as s:
        start = time.perf_counter()
        s.play("drop now")
        assert time.perf_counter() - start < 0.05
        assert until(lambda: bell.rings == 1)
        assert s.status.why == "the sound device does not answer"
        device.hold.set()
        assert until(lambda: s.output == "sound device")
        assert not device.take().any()


def test_a_cue_of_the_first_moment_waits_for_the_device() -> None:
    device, bell = Device(), Bell()
    device.hold.clear()
    with speaker(bell, device) as s:
        s.play(BEEP)
        device.hold.set()
        assert s.ready(5) == "sound device"
        assert np.array_equal(device.take(1000)[:, 0], BEEP)
    assert bell.rings == 0


def test_closing_a_hung_device_takes_a_second_at_most() -> None:
    device = Device()
    device.hold.clear()
    s = Speaker(Bell(), device)
    start = time.perf_counter()
    s.close()
    assert time.perf_counter() - start < 1.5
    device.hold.set()
    assert until(lambda: bool(device.streams) and device.streams[0].closed)


@pytest.mark.parametrize("n", range(1, 13))
def test_whatever_call_fails_every_cue_is_heard(n: int) -> None:
    """Four calls on the device in a row fail, from the n-th on; each cue sounds or is rung."""
    device, bell = Device(*range(n, n + 4)), Bell()
    played = heard = 0
    with speaker(bell, device, patience=0.05) as s:
        s.ready(5)
        while len(device.calls) < n + 5 and played < 500:
            before = bell.rings
            s.play(BEEP)
            played += 1
            heard += until(lambda before=before: bell.rings > before or sounds(s, device), 1.0)
            time.sleep(0.005)
        assert until(lambda: s.output == "sound device")
    assert heard == played
    assert len(device.calls) >= n + 5


def test_opening_says_why_sounddevice_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(DeviceError, match="can't be loaded") as caught:
        open_default(44100, lambda out: None)
    assert caught.value.for_good


def test_opening_says_that_portaudio_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    class Finder:
        @staticmethod
        def find_spec(name: str, *rest: Any) -> None:
            if name == "sounddevice":
                raise OSError("PortAudio library not found")

    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Finder, *sys.meta_path])
    with pytest.raises(DeviceError, match="PortAudio library is not installed") as caught:
        open_default(44100, lambda out: None)
    assert caught.value.for_good


def test_importing_the_speaker_does_not_load_portaudio() -> None:
    code = "import sys, coach.app.sound.speaker; sys.exit('sounddevice' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
