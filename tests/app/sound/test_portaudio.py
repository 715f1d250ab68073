"""The sounds as they come out of a real PortAudio on a virtual card, and how soon.

Skipped only where PortAudio (Debian: libportaudio2) or Linux's ALSA is not there; ALSA's file and null plugins come
with its library.  Limits: IEC 60601-1-8 and MIL-STD-1472E, as in test_tones.
"""

from __future__ import annotations

import ast
import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from coach.cues.tones import RATE, Sound
from tests.app.sound.measure import harmonics, pitch, pulses
from tests.app.sound.virtual import CONFIG, Heard, NoCardError, play_through

COUNTS = {Sound.ACT_NOW: 10, Sound.ALARM: 3, Sound.GET_READY: 3, Sound.PROMPT: 2}
PITCHES = {Sound.ACT_NOW: 925, Sound.ALARM: 710, Sound.GET_READY: 545, Sound.PROMPT: 415}


@pytest.fixture(scope="module")
def heard(tmp_path_factory: pytest.TempPathFactory) -> Heard:
    if sys.platform != "linux":
        pytest.skip("ALSA is Linux's")
    try:
        return play_through(tmp_path_factory.mktemp("card"), times=9, pace=8.0)
    except NoCardError as error:
        pytest.skip(str(error))


@pytest.mark.parametrize("sound", list(Sound), ids=lambda s: s.value)
def test_what_comes_out(heard: Heard, sound: Sound) -> None:
    x = heard.sounds[sound]
    assert len(pulses(x, RATE, 0.1)) == COUNTS[sound]
    f0 = pitch(x, RATE)
    assert f0 == pytest.approx(PITCHES[sound], rel=0.004)
    audible = [f for f, db in harmonics(x, RATE, f0) if 300 <= f <= 4000 and abs(db) <= 15]
    assert len(audible) >= 4
    assert 0.1 < np.abs(x).max() < 1.0
    assert 0.5 <= len(x) / RATE <= 3.0


def test_from_play_to_the_first_sample_at_the_device(heard: Heard) -> None:
    """Median under 150 ms, with the device's buffer counted in full."""
    assert len(heard.delays) == 9
    assert 0 < heard.latency < 0.15
    assert statistics.median(heard.delays) + heard.latency < 0.150


def test_looking_for_devices_says_nothing_on_the_terminal(tmp_path: Path) -> None:
    """A configuration full of faults, which ALSA would complain about on the descriptor the screen is drawn through."""
    broken = tmp_path / "alsa.conf"
    broken.write_text('pcm.!default { type plug slave.pcm "nowhere" }\npcm.odd { type hw card 9 }\n')
    code = """
import os, threading, time
from coach.app.sound.device import DeviceError, open_default
done, drawn = threading.Event(), 0
def draw():
    global drawn
    while not done.is_set():
        drawn += os.write(2, b".")
        time.sleep(0.0005)
screen = threading.Thread(target=draw)
screen.start()
tries = 0
while tries < 3 or (drawn <= 20 and tries < 200):  # a busy machine gives the drawing thread little time
    tries += 1
    try:
        open_default(44100, lambda out: out.fill(0)).close()
    except DeviceError:
        pass
done.set()
screen.join()
print(drawn)
"""
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=os.environ | {"ALSA_CONFIG_PATH": str(broken)},
        capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    assert int(done.stdout) > 20
    assert done.stderr == "." * int(done.stdout)  # nothing of the screen's was lost, nothing else was written


STALLED = """
import os, sys, time
kept_open = os.open(sys.argv[1], os.O_RDWR)  # somebody who never reads: the pipe is full after a third of a second
from coach.app.sound.speaker import Speaker
begun = time.monotonic()
s = Speaker(lambda: None)
if s.ready(5) != "sound device":
    sys.exit(3)
while s.output == "sound device" and time.monotonic() - begun < float(sys.argv[2]):
    time.sleep(0.05)
told = time.monotonic() - begun, s.status.text
s.close()
print(time.time(), told, flush=True)
"""


@pytest.mark.parametrize("after", [0.6, 8.0])
def test_a_stalled_device_is_told_within_three_seconds_and_holds_nobody_up(tmp_path: Path, after: float) -> None:
    """A card that takes nothing any more, in the middle of a write: the program is left before and after it is told."""
    if sys.platform != "linux":
        pytest.skip("ALSA is Linux's")
    pipe, config = tmp_path / "card", tmp_path / "alsa.conf"
    os.mkfifo(pipe)
    config.write_text(CONFIG.format(rate=RATE, path=pipe))
    done = subprocess.run(
        [sys.executable, "-c", STALLED, str(pipe), str(after)],
        env=os.environ | {"ALSA_CONFIG_PATH": str(config)}, capture_output=True, text=True, timeout=30, check=False,
    )  # fmt: skip
    ended = time.time()
    if done.returncode == 3:
        pytest.skip("no PortAudio here")
    assert (done.returncode, done.stderr) == (0, "")
    closed, told = done.stdout.split(" ", 1)
    assert ended - float(closed) < 1.0
    if after > 1.0:
        at, text = ast.literal_eval(told.strip())
        assert at < 3.0
        assert text == "terminal bell: sound device lost (takes no sound)"
