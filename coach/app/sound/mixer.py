"""One stream out of many sounds: cues that arrive at any time, over a source that goes on."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from coach.cues.tones import RATE, Samples

Background = Callable[[float, int], NDArray[np.floating]]
"""``source(t0, frames)``: samples of a sound that goes on, from ``t0`` seconds after it was set, shape (frames,)."""


class Mixer:
    """Adds up the active sounds, block by block.

    ``add`` and ``set_background`` may be called from any thread and never wait; ``mix`` is called by one thread, the
    device's.  A source that raises or gives the wrong shape is dropped and named in ``trouble``; cues go on.
    """

    def __init__(self) -> None:
        self.trouble = ""
        self._arrived: deque[Samples] = deque()
        self._sounding: list[tuple[Samples, int]] = []
        self._background: tuple[Background, int] | None = None
        self._frames = 0

    @property
    def busy(self) -> bool:
        """True while a cue is waiting or sounding."""
        return bool(self._arrived or self._sounding)

    def add(self, samples: Samples) -> None:
        """Sound these samples, shape (n,), from the next block on.  NaN counts as silence."""
        self._arrived.append(np.nan_to_num(samples))

    def set_background(self, source: Background | None) -> None:
        """Set the sound beneath the cues from the next block on; None for silence."""
        self._background = None if source is None else (source, -1)

    def forget(self) -> None:
        """Drop the cues: nobody will hear them."""
        self._arrived.clear()
        self._sounding = []

    def mix(self, frames: int) -> Samples:
        """The next ``frames`` samples, shape (frames,), within -1 to 1."""
        out = self._beneath(frames)
        while self._arrived:
            try:
                self._sounding.append((self._arrived.popleft(), 0))
            except IndexError:  # another thread dropped the cues in between
                break
        going = []
        for samples, done in self._sounding:
            piece = samples[done : done + frames]
            out[: len(piece)] += piece
            if done + frames < len(samples):
                going.append((samples, done + frames))
        self._sounding = going
        self._frames += frames
        return np.clip(out, -1.0, 1.0, out=out)

    def _beneath(self, frames: int) -> Samples:
        out = np.zeros(frames, dtype=np.float32)
        held = self._background
        if held is None:
            return out
        source, since = held
        if since < 0:
            since = self._frames
            if self._background is held:
                self._background = (source, since)
        try:
            out += np.nan_to_num(source((self._frames - since) / RATE, frames))
        except Exception as error:  # the caller's code: any fault of its own must not silence the cues
            self.trouble = f"the sound beneath the cues stopped ({type(error).__name__})"
            self._background = None
            out[:] = 0.0
        return out
