"""Measuring a recorded sound: pulses from its envelope, pitch and harmonics from its spectrum."""

import numpy as np
from numpy.typing import NDArray

Wave = NDArray[np.floating]


def envelope(x: Wave, rate: int) -> NDArray[np.float64]:
    """Loudness over time, 1 at the loudest: short-time peak over 2.5 ms, as long as one period of 400 Hz."""
    n = max(1, round(0.0025 * rate))
    magnitude = np.abs(x)
    padded = np.concatenate([np.zeros(n // 2), magnitude, np.zeros(n - 1 - n // 2)])
    peak = np.lib.stride_tricks.sliding_window_view(padded, n).max(axis=1)
    return np.asarray(peak / peak.max(), dtype=np.float64)


def pulses(x: Wave, rate: int, edge: float) -> list[tuple[float, float]]:
    """Start and end of every pulse, s, where the envelope passes ``edge`` (0 to 1)."""
    loud = np.concatenate([[False], envelope(x, rate) > edge, [False]])
    change = np.flatnonzero(np.diff(loud.astype(int)))
    half = 0.00125
    starts, ends = change[::2] / rate + half, change[1::2] / rate - half
    return [(float(a), float(b)) for a, b in zip(starts, ends, strict=True)]


def rises(x: Wave, rate: int, low: float, high: float) -> list[tuple[float, float]]:
    """For every pulse: rise from ``low`` to ``high`` of its height, and its length, s.

    A straight line through the envelope between a fifth and four fifths is carried on to both ends.
    """
    env = envelope(x, rate)
    out = []
    for start, end in pulses(x, rate, 0.02):
        piece = env[round(start * rate) : round(end * rate)]
        top = int(np.argmax(piece >= 0.97 * piece.max()))
        rise = piece[:top] / piece.max()
        i = np.flatnonzero((rise > 0.2) & (rise < 0.8))
        slope = np.polyfit(i / rate, rise[i], 1)[0]
        out.append(((high - low) / float(slope), end - start))
    return out


def spectrum(x: Wave, rate: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Frequencies, Hz, and power of the whole recording, zero-padded to about 0.2 Hz a step."""
    n = 1 << int(np.ceil(np.log2(max(len(x), 4 * rate))))
    power: NDArray[np.float64] = np.abs(np.fft.rfft(x * 1.0, n)) ** 2
    return np.asarray(np.fft.rfftfreq(n, 1 / rate)), power


def pitch(x: Wave, rate: int) -> float:
    """The fundamental, Hz: the lowest frequency whose multiples hold the sound's energy (harmonic sum)."""
    f, power = spectrum(x, rate)
    step = f[1]
    grid = np.arange(300.0, 1100.0, 0.25)
    score = np.array([sum(np.sqrt(power[round(k * g / step)]) for k in (1, 2, 3, 4)) for g in grid])
    return float(grid[int(np.argmax(score))])


def harmonics(x: Wave, rate: int, f0: float) -> list[tuple[float, float]]:
    """Frequency, Hz, and level, dB relative to the fundamental, of harmonics 1 to 8 below half the rate."""
    f, power = spectrum(x, rate)

    def energy(g: float) -> float:
        return float(power[(f > g - 25) & (f < g + 25)].sum())

    base = energy(f0)
    return [(k * f0, 10 * np.log10(energy(k * f0) / base)) for k in range(1, 9) if k * f0 + 25 < rate / 2]
