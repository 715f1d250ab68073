"""The roaster's sound as it comes out of a real PortAudio on a virtual card: pops over the noise, at their times.

Skipped only where PortAudio or Linux's ALSA is not there.
"""

from __future__ import annotations

import os
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from coach.cues.tones import RATE
from coach.simulator.noise import LEAD

CARD = """
pcm.!default {{ type plug slave {{ pcm "kept" format S16_LE channels 2 rate {rate} }} }}
pcm.kept {{ type file slave.pcm "nothing" file "{path}" format "raw" }}
pcm.nothing {{ type null }}
"""
PLAY = """
import time
from coach.simulator.crack import BeanPop
from coach.simulator.noise import RoasterSound
from coach.app.sound.device import BLOCK
from coach.app.sound.speaker import Speaker
speaker = Speaker()
if speaker.ready(10.0) != "sound device":
    raise SystemExit(3)
source = RoasterSound(1)
source.hear([BeanPop(50.0 + t, "first", 1.0, 1.0) for t in (0.2, 0.5, 1.4)], since=50.0)
speaker.set_background(source)
end = time.monotonic() + 10.0
while source.taken * BLOCK < 2.5 * source.rate and time.monotonic() < end:
    time.sleep(0.05)
speaker.close()
"""


def test_pops_come_out_of_a_real_device(tmp_path: Path) -> None:
    if sys.platform != "linux":
        pytest.skip("ALSA is Linux's")
    config, recording = tmp_path / "alsa.conf", tmp_path / "played.raw"
    config.write_text(CARD.format(rate=RATE, path=recording))
    environment = os.environ | {"ALSA_CONFIG_PATH": str(config)}
    done = subprocess.run([sys.executable, "-c", PLAY], env=environment, capture_output=True, text=True, timeout=60)
    if done.returncode == 3:
        pytest.skip("PortAudio is not installed here")
    assert done.returncode == 0, done.stderr
    wave = np.abs(np.fromfile(recording, dtype="<i2").reshape(-1, 2)[:, 0] / 32768.0)
    begin = int(np.argmax(wave > 0.001))
    loud = np.flatnonzero(wave[begin : begin + 2 * RATE] > 0.2) / RATE
    starts = [loud[0], *[b for a, b in pairwise(loud) if b - a > 0.06]]
    assert starts == pytest.approx([LEAD + t for t in (0.2, 0.5, 1.4)], abs=0.01)
    quiet = wave[begin : begin + int(0.4 * RATE)]
    assert 0.005 < np.sqrt(np.mean(quiet**2)) < 0.05
