"""A virtual sound card: PortAudio on ALSA's ``file`` plugin over a ``null`` device, which keeps what is played.

Run as a program it plays the four sounds and times short ones, in a process of its own, since ALSA reads its
configuration once; it prints one JSON object.  ``play_through`` starts it and reads the recording.

The null device takes everything at once and has no clock, so each block is held back until a real card of the same rate
would have asked for it.  Times are therefore of the program, PortAudio and ALSA's plugins; the card's own buffer is
counted with the latency that PortAudio reports for the stream.
"""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from coach.app.sound.device import Fill, Stream, open_default
from coach.app.sound.speaker import Speaker
from coach.cues.tones import PATTERNS, RATE, Sound, samples

CONFIG = """
pcm.!default {{ type plug slave {{ pcm "kept" format S16_LE channels 2 rate {rate} }} }}
pcm.kept {{ type file slave.pcm "nothing" file "{path}" format "raw" }}
pcm.nothing {{ type null }}
"""
SILENCE = 0.6
"""Between two sounds of the recording, s: longer than any gap within one."""


@dataclass(frozen=True)
class Heard:
    """What came out: the four sounds, the delays from ``play`` to the block being handed over, s, and the stream's
    reported latency, s."""

    sounds: dict[Sound, NDArray[np.float64]]
    delays: list[float]
    latency: float
    device: str


class NoCardError(Exception):
    """PortAudio is not installed here."""


def play_through(folder: Path, times: int, pace: float = 1.0) -> Heard:
    """Play the four sounds (``pace`` times faster than a card would) and time ``times`` short ones (at a card's pace).

    Raises NoCardError without PortAudio.
    """
    recording = folder / "played.raw"
    config = folder / "alsa.conf"
    config.write_text(CONFIG.format(rate=RATE, path=recording))
    root = Path(__file__).parents[3]
    done = subprocess.run(
        [sys.executable, __file__, str(times), str(pace)],
        env=os.environ | {"ALSA_CONFIG_PATH": str(config), "PYTHONPATH": str(root)},
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    if done.returncode == 3:
        raise NoCardError(done.stderr)
    if done.returncode or done.stderr:
        raise AssertionError(f"{done.returncode}: {done.stderr}")
    told = json.loads(done.stdout)
    both = np.fromfile(recording, dtype="<i2").reshape(-1, 2) / 32768
    if not np.array_equal(both[:, 0], both[:, 1]):
        raise AssertionError("the channels differ")
    parts = split(both[:, 0])[: len(Sound)]
    return Heard(dict(zip(Sound, parts, strict=True)), told["delays"], told["latency"], told["device"])


def split(x: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """The recording cut at every silence longer than SILENCE."""
    loud = np.flatnonzero(x)
    breaks = np.flatnonzero(np.diff(loud) > SILENCE * RATE)
    starts = [loud[0], *loud[breaks + 1]]
    ends = [*loud[breaks], loud[-1]]
    return [x[a - 1 : b + 2] for a, b in zip(starts, ends, strict=True)]


class Card:
    """Opens the real default device, holds its blocks back, and notes when the start of each cue is handed over."""

    def __init__(self, pace: float) -> None:
        self.pace = pace
        self.asked: float | None = None
        self.delays: list[float] = []
        self.frames = 0
        self.stream: Stream | None = None
        self._due = 0.0

    def __call__(self, rate: int, fill: Fill) -> Stream:
        def held(out: NDArray[np.float32]) -> None:
            now = time.perf_counter()
            self._due = max(self._due + len(out) / rate / self.pace, now - 0.05)
            if self._due > now:
                time.sleep(self._due - now)
            fill(out)
            self.frames += len(out)
            if self.asked is not None and out.any():
                self.delays.append(time.perf_counter() - self.asked)
                self.asked = None

        self.stream = open_default(rate, held)
        return self.stream

    def wait(self, seconds: float) -> None:
        """Until that much sound was taken."""
        end = self.frames + seconds * RATE
        while self.frames < end:
            time.sleep(0.005)


def main(times: int, pace: float) -> int:
    """Play, time, and print."""
    card = Card(pace)
    speaker = Speaker(None, card)
    if speaker.ready(20) != "sound device":
        print(speaker.trouble, file=sys.stderr)
        return 3 if "not installed" in speaker.trouble else 4
    card.wait(0.1)
    for sound in Sound:
        speaker.play(samples(sound))
        card.wait(PATTERNS[sound].duration + SILENCE + 0.2)
    card.pace = 1.0
    rng = random.Random(1)
    blip = samples("prompt")[: RATE // 50]
    card.delays.clear()
    for _ in range(times):
        time.sleep(0.1 + 0.05 * rng.random())
        card.asked = time.perf_counter()
        speaker.play(blip)
    card.wait(0.2)
    assert card.stream is not None
    latency, device = card.stream.latency, speaker.status.device
    speaker.close()
    print(
        json.dumps({"delays": card.delays, "latency": latency, "device": device, "threads": threading.active_count()})
    )
    return 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), float(sys.argv[2])))
