"""The sound device through PortAudio: found and opened without output on the terminal."""

from __future__ import annotations

import atexit
import ctypes
import os
import platform
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Final, Protocol

import numpy as np
from numpy.typing import NDArray

Fill = Callable[[NDArray[np.float32]], None]
"""Callback of the device for its next block, shape (frames, channels), to be filled in place."""

BLOCK: Final = 1024
"""Number of samples in a block: 23 ms at 44.1 kHz, long enough for a busy interpreter to keep up."""
LATENCY: Final = 0.06
"""Requested length of the device's buffer, s."""


class DeviceError(Exception):
    """Error of a device that can't be used, with the reason.  ``for_good``: looking again is no use."""

    def __init__(self, message: str, for_good: bool = False) -> None:
        super().__init__(message)
        self.for_good = for_good


class Stream(Protocol):
    """An open, running device."""

    name: str

    @property
    def alive(self) -> bool:
        """True until the device stops by itself."""

    @property
    def latency(self) -> float:
        """Time from a block being filled to its being heard, as the device reports it, s."""

    def close(self) -> None:
        """Stop at once.  May raise or hang if the device is gone."""


OpenDevice = Callable[[int, Fill], Stream]
"""Function ``open(rate, fill)`` that starts the device.  Raises DeviceError, or anything else, when it can't; may take
its time."""


class PortAudioStream:
    """A running PortAudio output stream."""

    def __init__(self, stream: Any, name: str) -> None:
        global _running
        self.name = name
        self._stream = stream
        _running += 1

    @property
    def alive(self) -> bool:
        """True until PortAudio ends the stream."""
        return bool(self._stream.active)

    @property
    def latency(self) -> float:
        """The output latency that PortAudio reports, s."""
        return float(self._stream.latency)

    def close(self) -> None:
        """Abort and close.  Never returns where the device is stalled."""
        global _running, _held
        _running -= 1
        _held += 1
        try:
            self._stream.abort()
        finally:
            self._stream.close()
            _held -= 1


_looked = False
_running = 0
"""Number of streams open in this process: PortAudio looks for devices only when it starts, and a restart would cut
them."""
_held = 0
"""Number of calls to open or close a stream that have not returned yet; those of a stalled device never do."""
LET_GO: Final = 0.3
"""Longest wait for PortAudio at the end of the program, s."""


def _let_go(end: Callable[[], object]) -> None:
    """End PortAudio at the end of the program, without waiting for a stalled device (that would be for ever)."""
    if not _held:
        ending = threading.Thread(target=end, daemon=True)
        ending.start()
        ending.join(LET_GO)


def open_default(rate: int, fill: Fill) -> Stream:
    """Open and start the system's default output.  Looks for devices afresh unless a stream is open, so that one
    plugged in is found.  Raises DeviceError.
    """
    global _held
    _held += 1
    try:
        return _open_default(rate, fill)
    finally:
        _held -= 1


def _open_default(rate: int, fill: Fill) -> Stream:
    global _looked
    with _quietly():
        try:
            import sounddevice as sd
        except ImportError as error:
            raise DeviceError(f"sounddevice can't be loaded ({error})", for_good=True) from error
        except OSError as error:
            raise DeviceError("the PortAudio library is not installed", for_good=True) from error
        try:
            if not _looked:
                atexit.unregister(sd._exit_handler)
                atexit.register(_let_go, sd._exit_handler)
            if _looked and not _running:
                sd._terminate()
                sd._initialize()
            _looked = True
            name = str(sd.query_devices(kind="output")["name"])
            return PortAudioStream(_start(sd, rate, fill), name)
        except (sd.PortAudioError, ValueError, OSError) as error:
            raise DeviceError(_reason(error)) from error


def _start(sd: Any, rate: int, fill: Fill) -> Any:
    """Start a stream of one channel, or of two where the device has no single one."""

    def callback(out: NDArray[np.float32], frames: int, time: Any, status: Any) -> None:
        fill(out)

    settings = {"samplerate": rate, "dtype": "float32", "blocksize": BLOCK, "latency": LATENCY, "callback": callback}
    try:
        stream = sd.OutputStream(channels=1, **settings)
    except sd.PortAudioError:
        stream = sd.OutputStream(channels=2, **settings)
    try:
        stream.start()
    except Exception:
        stream.close()
        raise
    return stream


def _reason(error: Exception) -> str:
    text = str(error.args[0]) if error.args else type(error).__name__
    return "no sound device found" if "querying device" in text else text


# -- quiet ------------------------------------------------------------------------------------------------------


@contextmanager
def _quietly() -> Iterator[None]:
    """Keep the audio libraries' messages off the terminal without turning descriptor 2 away.

    The screen is drawn through descriptor 2.  sounddevice points it at nothing while it looks for devices, and what is
    drawn meanwhile is lost; so it is refused the copy it needs for that, in this thread only, and C's own stream is
    pointed at nothing instead.
    """
    _silence()
    mine, real = threading.get_ident(), os.dup

    def dup(fd: int, /) -> int:
        if fd == 2 and threading.get_ident() == mine:
            raise OSError("kept for the screen")
        return real(fd)

    os.dup = dup
    try:
        yield
    finally:
        os.dup = real


_silent = False


def _silence() -> None:
    """Point C's ``stderr`` at nothing, for good: ALSA, JACK and PortAudio write to it, also when a device is lost.

    Python writes to descriptor 2 itself and is not touched.  Only glibc, where the variable may be assigned (its
    manual, 'Standard Streams').
    """
    global _silent
    if _silent or platform.libc_ver()[0] != "glibc":
        return
    libc = ctypes.CDLL(None)
    libc.fopen.restype = ctypes.c_void_p
    nothing = libc.fopen(os.devnull.encode(), b"w")
    if nothing:
        ctypes.c_void_p.in_dll(libc, "stderr").value = nothing
        _silent = True
