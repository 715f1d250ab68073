"""Devices and bells for tests: what they do is said beforehand, and they keep what they were given."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from coach.app.sound.device import DeviceError, Fill, Stream


def until(true: Callable[[], bool], timeout: float = 5.0) -> bool:
    """Wait for something another thread does; whether it came."""
    end = time.monotonic() + timeout
    while not true():
        if time.monotonic() > end:
            return False
        time.sleep(0.004)
    return True


class Bell:
    """Counts rings; may fail from the n-th on."""

    def __init__(self, fails_from: int = 0) -> None:
        self.rings = 0
        self.fails_from = fails_from

    def __call__(self) -> None:
        self.rings += 1
        if self.fails_from and self.rings >= self.fails_from:
            raise OSError("terminal gone")


class FakeStream:
    """A stream fed by hand."""

    name = "fake"
    latency = 0.02

    def __init__(self, device: Device, fill: Fill) -> None:
        self.device, self.fill = device, fill
        self.gone = False
        self.closed = False

    @property
    def alive(self) -> bool:
        self.device.call("alive")
        return not self.gone

    def close(self) -> None:
        self.closed = True
        self.device.call("close")


class Device:
    """Opens fake streams.  Raises on the calls numbered in ``fails_on`` (opening, asking, closing: counted from 1)."""

    def __init__(self, *fails_on: int, error: Exception | None = None) -> None:
        self.fails_on = fails_on
        self.error = error or OSError("device fault")
        self.calls: list[str] = []
        self.streams: list[FakeStream] = []
        self.hold = threading.Event()
        self.hold.set()

    def __call__(self, rate: int, fill: Fill) -> Stream:
        self.hold.wait(10)
        self.call("open")
        self.streams.append(FakeStream(self, fill))
        return self.streams[-1]

    def call(self, name: str) -> None:
        self.calls.append(name)
        if len(self.calls) in self.fails_on:
            raise self.error

    def take(self, frames: int = 512, channels: int = 1) -> NDArray[np.float32]:
        """What the newest stream would sound next, shape (frames, channels)."""
        out = np.full((frames, channels), 9.0, dtype=np.float32)
        self.streams[-1].fill(out)
        return out

    def take_all(self, frames: int = 512) -> NDArray[np.float32]:
        """Everything until a silent block."""
        blocks = []
        for _ in range(1000):
            blocks.append(self.take(frames)[:, 0])
            if not blocks[-1].any():
                return np.concatenate(blocks)
        raise AssertionError("never silent")


def not_installed(rate: int, fill: Fill) -> Stream:
    """What opening does without the library."""
    raise DeviceError("the PortAudio library is not installed", for_good=True)
