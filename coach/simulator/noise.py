"""The simulated roaster as heard: drum and fan, and over them every pop of the beans.  Synthesis, no recording.

Wilson (2014), J. Acoust. Soc. Am. 135(6), doi 10.1121/1.4874355: first crack is louder, lower and slower than second
(read); peaks near 800 Hz for the first and far higher for the second, the first about 15 % louder (from memory).  The
second crack's pitch is put where people of any age and cheap loudspeakers can hear it.  All else is our own.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from typing import Final

import numpy as np

from coach.cues.tones import RATE, Samples
from coach.simulator.crack import BeanPop, CrackKind

MODES: Final[dict[CrackKind, tuple[tuple[float, float, float], ...]]] = {
    "first": ((800.0, 0.6, 0.012), (1350.0, 0.3, 0.007), (2400.0, 0.1, 0.004)),
    "second": ((4200.0, 0.6, 0.004), (6100.0, 0.3, 0.0025), (8800.0, 0.1, 0.0015)),
}
"""Modes of a bean wall that bursts: frequency [Hz], share of the whole amplitude, time constant of its decay [s]."""
LOUDEST: Final = 0.30
"""Peak of a pop of usual loudness, as a share of full scale."""
TOP: Final = 0.80
"""Peak of the loudest pop, as a share of full scale."""
ATTACK: Final = 0.0004
"""Rise of a pop [s]."""
LENGTH: Final = 0.05
"""Time from its start to silence [s]."""
DRUM_LEVEL: Final = 0.020
FAN_LEVEL: Final = 0.018
"""Root mean square at the usual drum speed and at full air, as shares of full scale."""
LOOP: Final = 4.0
"""Length of the noise before it repeats, without a seam [s]."""
LEAD: Final = 0.25
"""Delay of a pop after the screen received it [s], so that the gaps between pops are true."""


def pop_wave(kind: CrackKind, *, loudness: float = 1.0, pitch: float = 1.0, rate: int = RATE) -> Samples:
    """One pop, shape (LENGTH * rate,); it starts and ends at zero.

    loudness = amplitude relative to a usual first-crack pop; pitch = relative to a usual pop of its kind.
    """
    t = np.arange(round(LENGTH * rate), dtype=np.float64) / rate
    wave = np.zeros_like(t)
    for mode, share, decay in MODES[kind]:
        f = min(mode * pitch, 0.45 * rate)
        wave += share * np.exp(-t / decay) * np.sin(2.0 * np.pi * f * t)
    wave *= np.minimum(1.0, t / ATTACK) * np.minimum(1.0, (t[-1] - t) / 0.01)
    peak = min(LOUDEST * loudness, TOP)
    return np.asarray(peak * wave / np.abs(wave).max(), dtype=np.float32)


def noise_loop(low: float, high: float, seed: int, rate: int = RATE) -> Samples:
    """Noise between two frequencies [Hz] that can be repeated without a seam, shape (LOOP * rate,); rms 1.

    Its power falls with frequency (1/f).
    """
    n = round(LOOP * rate)
    f = np.fft.rfftfreq(n, 1.0 / rate)
    rng = np.random.default_rng([seed, 21])
    amplitude = np.where((f >= low) & (f <= high), 1.0 / np.sqrt(np.maximum(f, 1.0)), 0.0)
    wave = np.fft.irfft(amplitude * np.exp(2j * np.pi * rng.random(len(f))), n)
    return np.asarray(wave / np.sqrt(np.mean(wave**2)), dtype=np.float32)


class RoasterSound:
    """A source for the speaker: ``sound(t0, frames)`` from the device's thread, ``hear`` from the screen's.

    Pops handed over sound :data:`LEAD` later, with their true gaps.  When nobody takes samples, nothing piles up.
    """

    def __init__(self, seed: int = 0, rate: int = RATE) -> None:
        self.rate = rate
        self.taken = 0
        """Blocks taken so far: grows while there is a device."""
        self.drum = 1.0
        """Drum speed relative to the usual one."""
        self.air = 0.5
        """Flow relative to full air, 0..1."""
        self._rumble = noise_loop(40.0, 400.0, seed, rate)
        self._hiss = noise_loop(300.0, 5000.0, seed + 1, rate)
        self._now = 0.0
        self._arrived: deque[tuple[float, Samples]] = deque(maxlen=200)
        self._sounding: list[tuple[int, Samples]] = []

    def hear(self, pops: Sequence[BeanPop], *, since: float, speed: float = 1.0) -> None:
        """Take over pops that came after ``since`` [s on the roaster's clock, which runs ``speed`` times as fast]."""
        base = self._now + LEAD
        for pop in pops:
            wave = pop_wave(pop.kind, loudness=pop.loudness, pitch=pop.pitch, rate=self.rate)
            self._arrived.append((base + (pop.time - since) / speed, wave))

    def __call__(self, t0: float, frames: int) -> Samples:
        """The next samples, shape (frames,), from ``t0`` [s of sound] on."""
        first = round(t0 * self.rate)
        self.taken += 1
        self._now = (first + frames) / self.rate
        out = self._beneath(first, frames)
        while self._arrived:
            start, wave = self._arrived.popleft()
            self._sounding.append((round(start * self.rate), wave))
        going = []
        for start, wave in self._sounding:
            a, b = max(start, first), min(start + len(wave), first + frames)
            if a < b:
                out[a - first : b - first] += wave[a - start : b - start]
            if first + frames < start + len(wave):
                going.append((start, wave))
        self._sounding = going
        return out

    def _beneath(self, first: int, frames: int) -> Samples:
        index = (first + np.arange(frames)) % len(self._rumble)
        turn = 1.0 + 0.35 * np.sin(2.0 * np.pi * index / (len(self._rumble) / 4))
        out = DRUM_LEVEL * self.drum**0.5 * turn * self._rumble[index] + FAN_LEVEL * self.air * self._hiss[index]
        return np.asarray(out, dtype=np.float32)
