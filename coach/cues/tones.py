"""The four sounds as arrays: pulses and pitches, and nothing about devices or cues.

Limits kept, and where they come from:

- IEC 60601-1-8 (as quoted by makers of sounders and by a public generator): fundamental 150-1000 Hz, four harmonics or
  more in 300-4000 Hz within 15 dB of it (the fundamental may count); high priority 5 + 5 pulses grouped 3 + 2, pulse
  75-200 ms, spacing 50-125 ms, 350-1300 ms between the fives; medium priority 3 pulses, pulse and spacing 125-250 ms.
- MIL-STD-1472E 5.3.4.3.1 and .3, 5.3.6.5: four sounds at most, told apart in the first half second, half a second long
  or more.  NUREG-0700 4.2.6.3-16: three pulse rates at most, 1 to 8 a second, pitches 20 % apart.
- Rise: sources for IEC 60601-1-8 differ (10-20 % or 10-40 % of the pulse); 15-20 % meets both.  The ramp is straight
  and 19.5 % of the pulse long, a 10 % to 90 % rise of 15.6 %: within the limits by either way of measuring.

Pulse and spacing stay within their limits whether edges are taken at the foot of the ramp or at half height.  NUREG's
factor of two between rates holds for the first two rhythms only (6.7, 3.4, 2.2 a second): IEC's longest spacing
forbids a slower third.  So the pattern differs as well as the speed: 3 + 2 twice; two and one; even.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

RATE: Final = 44100
"""Samples a second, unless another rate is requested."""
LEVEL: Final = 0.5
"""Peak of a sound, as a share of full scale: no setting makes one inaudible (MIL-STD-1472E 5.3.6.4.1)."""
RISE: Final = 0.195
"""Length of the ramp at either end, as a share of the pulse."""
HARMONIC_STEP_DB: Final = -3.0
"""Each harmonic relative to the one below it, dB."""
HARMONICS: Final = 5
TOP: Final = 4000.0
"""Harmonics above this are left out, Hz."""


class Sound(StrEnum):
    """One of the four sounds.  The text on screen names the condition; the sound gives only its urgency."""

    ACT_NOW = "act now"
    ALARM = "alarm"
    GET_READY = "get ready"
    PROMPT = "prompt"


@dataclass(frozen=True)
class Pattern:
    """Pitch [Hz], length of every pulse [s], silence after each pulse but the last [s], words for it."""

    pitch: float
    pulse: float
    gaps: tuple[float, ...]
    words: str

    @property
    def onsets(self) -> tuple[float, ...]:
        """Start of every pulse [s]."""
        times = [0.0]
        for gap in self.gaps:
            times.append(times[-1] + self.pulse + gap)
        return tuple(times)

    @property
    def duration(self) -> float:
        """Time from the start of the first pulse to the end of the last [s]."""
        return self.onsets[-1] + self.pulse


def _five(pulse: float, gap: float) -> tuple[float, ...]:
    """Gaps of five pulses grouped 3 + 2; between the groups twice the gap and a pulse (IEC 60601-1-8, from memory)."""
    return (gap, gap, 2 * gap + pulse, gap)


PATTERNS: Final[dict[Sound, Pattern]] = {
    Sound.ACT_NOW: Pattern(
        925.0, 0.097, (*_five(0.097, 0.052), 0.45, *_five(0.097, 0.052)),
        "ten quick high pulses: three and two, three and two",
    ),
    Sound.ALARM: Pattern(710.0, 0.160, (0.130, 0.210), "three pulses: two and one"),
    Sound.GET_READY: Pattern(545.0, 0.245, (0.200, 0.200), "three long even pulses, lower"),
    Sound.PROMPT: Pattern(415.0, 0.245, (0.200,), "two long even pulses, lowest"),
}  # fmt: skip


def samples(sound: Sound | str, rate: int = RATE) -> Samples:
    """The sound as one channel, shape (n,), 32-bit floats, peak ``LEVEL``, both ends exactly 0.

    ``rate`` in samples a second, 8000 or more.  Raises ValueError for another name or rate.
    """
    pattern = PATTERNS[Sound(sound)]
    if rate < 2 * TOP:
        raise ValueError(f"rate {rate}: at least {2 * TOP:.0f} samples a second")
    pulse = _pulse(pattern, rate)
    out = np.zeros(round(pattern.duration * rate) + 2)
    for onset in pattern.onsets:
        start = round(onset * rate)
        out[start : start + len(pulse)] += pulse
    out *= LEVEL / np.abs(out).max()
    return out.astype(np.float32)


def describe(sound: Sound | str) -> str:
    """The sound in words, with pitch and length."""
    pattern = PATTERNS[Sound(sound)]
    return f"{pattern.words}; {pattern.pitch:.0f} Hz, {pattern.duration:.1f} s"


def _pulse(pattern: Pattern, rate: int) -> NDArray[np.float64]:
    """One pulse with its ramps: harmonics in Schroeder's phases (IEEE Trans. Inf. Theory 16, 1970: a low peak)."""
    n = round(pattern.pulse * rate)
    t = np.arange(n + 1) / rate
    tones = [k for k in range(1, HARMONICS + 1) if k * pattern.pitch <= TOP]
    wave = sum(
        10 ** (HARMONIC_STEP_DB * (k - 1) / 20)
        * np.sin(2 * np.pi * k * pattern.pitch * t - np.pi * k * (k - 1) / len(tones))
        for k in tones
    )
    ramp = RISE * n
    envelope = np.minimum(1.0, np.minimum(np.arange(n + 1), n - np.arange(n + 1)) / ramp)
    return np.asarray(wave * envelope, dtype=np.float64)
