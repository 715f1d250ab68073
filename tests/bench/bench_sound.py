"""From ``play`` to the device: delays and waveforms through a real PortAudio.

    python tests/bench/bench_sound.py

1. ALSA ``file`` plugin over a ``null`` device (see tests/app/sound/virtual.py).  The null device has no clock: blocks
   are held back to a card's pace, and the card's buffer is counted with the latency PortAudio reports.
2. If pulseaudio and parec are on the PATH: a PulseAudio null sink, which has a clock of its own.  The delay is measured
   from ``play``, and from the entry that makes a cue true, to the arrival of the first non-zero sample at a recorder of
   the sink's monitor: the whole way, the recorder's own buffer included.
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from coach.app.live import LiveRoast  # noqa: E402
from coach.app.sound.speaker import Speaker  # noqa: E402
from coach.cues.tones import RATE, Sound, samples  # noqa: E402
from coach.roast.entries import Mark, Reading  # noqa: E402
from coach.session.profile_files import load_profile  # noqa: E402
from tests.app.sound.measure import harmonics, pitch, pulses, rises  # noqa: E402
from tests.app.sound.virtual import NoCardError, play_through  # noqa: E402

TIMES = 100


def table(sounds: dict[Sound, np.ndarray]) -> None:
    """Print what was found in each recording."""
    for sound, x in sounds.items():
        f0 = pitch(x, RATE)
        found = pulses(x, RATE, 0.1)
        gaps = " ".join(f"{1e3 * (b[0] - a[1]):.0f}" for a, b in pairwise(found))
        levels = ", ".join(f"{f:.0f} Hz {db:+.1f} dB" for f, db in harmonics(x, RATE, f0) if f <= 4000 and db > -15)
        rise = statistics.median(100 * r / length for r, length in rises(x, RATE, 0.1, 0.9))
        length = 1e3 * statistics.median(b - a for a, b in found)
        print(f"  {sound.value:10} {len(x) / RATE:.2f} s  {len(found):2} pulses of {length:.0f} ms, rise {rise:.0f} %")
        print(f"             gaps {gaps} ms\n             {levels}")


def spread(name: str, delays: list[float]) -> None:
    """Print median and tails."""
    ms = np.array(delays) * 1e3
    tail = f"95 % {np.percentile(ms, 95):.0f} ms, worst {ms.max():.0f} ms, n {len(ms)}"
    print(f"  {name}: median {np.median(ms):.0f} ms, {tail}")


def by_file() -> None:
    """The virtual card of the tests."""
    with tempfile.TemporaryDirectory() as folder:
        try:
            heard = play_through(Path(folder), TIMES, pace=4.0)
        except NoCardError as error:
            print(f"no PortAudio here: {error}")
            return
    print(f"ALSA file over null, device {heard.device!r}")
    table(heard.sounds)
    spread("play to block handed to PortAudio", heard.delays)
    print(f"  latency reported by PortAudio: {1e3 * heard.latency:.0f} ms")
    spread("sum", [d + heard.latency for d in heard.delays])


@contextmanager
def null_sink(folder: Path) -> Iterator[dict[str, str]]:
    """A PulseAudio server of our own with one null sink; the environment that leads to it."""
    config = folder / "alsa.conf"
    config.write_text("</usr/share/alsa/alsa.conf>\npcm.!default { type pulse }\nctl.!default { type pulse }\n")
    env = os.environ | {
        "HOME": str(folder), "XDG_RUNTIME_DIR": str(folder), "PULSE_RUNTIME_PATH": str(folder / "pulse"),
        "ALSA_CONFIG_PATH": str(config), "PYTHONPATH": str(ROOT),
    }  # fmt: skip
    server = subprocess.Popen(
        ["pulseaudio", "-n", "--daemonize=no", "--use-pid-file=no", "--exit-idle-time=-1",
         "--load=module-native-protocol-unix", f"--load=module-null-sink sink_name=card rate={RATE} channels=1"],
        env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        for _ in range(100):
            if subprocess.run(["pactl", "info"], env=env, capture_output=True, check=False).returncode == 0:
                break
            time.sleep(0.1)
        yield env
    finally:
        server.terminate()
        server.wait(10)


class Recorder:
    """Reads the sink's monitor and notes when each piece arrived."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [
                "parec",
                "-d",
                "card.monitor",
                "--raw",
                "--format=s16le",
                f"--rate={RATE}",
                "--channels=1",
                "--latency-msec=5",
            ],
            stdout=subprocess.PIPE,
        )
        self.pieces: list[tuple[float, np.ndarray]] = []
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self) -> None:
        assert self._process.stdout is not None
        fd, odd = self._process.stdout.fileno(), b""
        while data := os.read(fd, 65536):
            data = odd + data
            odd = data[len(data) // 2 * 2 :]
            self.pieces.append((time.perf_counter(), np.frombuffer(data[: len(data) // 2 * 2], dtype="<i2")))

    def first_after(self, start: float, timeout: float = 2.0) -> float:
        """When the first non-zero sample arrived after ``start``."""
        end = start + timeout
        while time.perf_counter() < end:
            for at, piece in reversed(self.pieces[-400:]):
                if at < start:
                    break
                if piece.any():
                    return min(a for a, p in self.pieces[-400:] if a >= start and p.any())
            time.sleep(0.002)
        raise AssertionError("nothing arrived")

    def quiet(self, seconds: float = 0.7, timeout: float = 10.0) -> None:
        """Wait until nothing but silence has arrived for so long (a cue is silent for 0.46 s inside): else the sound
        before is taken for the next one."""
        end = time.perf_counter() + timeout
        while time.perf_counter() < end:
            now = time.perf_counter()
            recent = [p for a, p in self.pieces[-400:] if a >= now - seconds]
            if recent and not any(p.any() for p in recent):
                return
            time.sleep(0.01)
        raise AssertionError("never silent")

    def stop(self) -> None:
        """End it."""
        self._process.terminate()
        self._process.wait(5)


def from_entry(play: Callable[[str], object], recorder: Recorder, times: int = 40) -> None:
    """From the entry that makes a cue true to its first sample: journal, fold, forecast, watch, mixer, device.

    A roast of ten readings, then one over the safety limit, typed into a live roast with its journal on disk.
    """
    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    whole, thinking = [], []
    for _ in range(times):
        with tempfile.TemporaryDirectory() as folder:
            live = LiveRoast.open(profile, Path(folder), lambda: 0.0, started=datetime.now(UTC), run="live")
            live.enter(Mark(at=10.0, event="charge"))
            for t in range(60, 360, 30):
                live.coach.advance(10.0 + t)
                live.enter(Reading(at=10.0 + t, temperature=round(profile.curve.value(t))))
            live.coach.advance(379.0)
            recorder.quiet()
            start = time.perf_counter()
            live.enter(Reading(at=380.0, temperature=profile.safety + 1))
            cue = next((c.name for c in live.coach.cues if c.sounds), None)
            if cue is None:  # kept out as doubtful: borne out by the next
                start = time.perf_counter()
                live.enter(Reading(at=386.0, temperature=profile.safety + 2))
                cue = next(c.name for c in live.coach.cues if c.sounds)
            thinking.append(time.perf_counter() - start)
            play(cue)
            whole.append(recorder.first_after(start) - start)
            live.close()
    assert all(w > t for w, t in zip(whole, thinking, strict=True)), "heard before it was played"
    spread("entry to cue", thinking)
    spread("entry to first sample at the monitor's recorder (limit: median 150 ms)", whole)


def clocked() -> None:
    """Run in a process whose environment leads to the null sink."""
    speaker = Speaker(None)
    if speaker.ready(20) != "sound device":
        print(f"  {speaker.trouble}")
        return
    recorder = Recorder()
    time.sleep(1.5)
    blip = samples("prompt")[: RATE // 20]
    delays = []
    rng = np.random.default_rng(1)
    for _ in range(TIMES):
        recorder.quiet(0.2)
        time.sleep(0.05 * rng.random())
        start = time.perf_counter()
        speaker.play(blip)
        delays.append(recorder.first_after(start) - start)
    print(f"PulseAudio null sink, device {speaker.status.device!r}")
    spread("play to first sample at the monitor's recorder", delays)
    time.sleep(3.0)
    from_entry(speaker.play, recorder)
    time.sleep(3.0)
    sounds = {}
    for sound in Sound:
        time.sleep(0.6)
        recorder.pieces.clear()
        speaker.play(samples(sound))
        time.sleep(3.0)
        x = np.concatenate([p for _, p in recorder.pieces]) / 32768
        loud = np.flatnonzero(x)
        sounds[sound] = x[loud[0] - 1 : loud[-1] + 2]
    table(sounds)
    recorder.stop()
    speaker.close()


def main() -> None:
    """Both ways."""
    if "--clocked" in sys.argv:
        clocked()
        return
    by_file()
    if not (shutil.which("pulseaudio") and shutil.which("parec")):
        print("PulseAudio is not installed: no measurement with a clocked sink")
        return
    with tempfile.TemporaryDirectory() as folder, null_sink(Path(folder)) as env:
        subprocess.run([sys.executable, __file__, "--clocked"], env=env, check=True)


if __name__ == "__main__":
    main()
