"""The edge that makes sound: a sound device, else the terminal bell, else the screen alone.  Never raises, never waits.

Three threads meet here.  The caller's puts a cue into the mixer, or asks for a bell.  The device's takes blocks out of
the mixer.  A worker of our own watches over the device, rings the bell, and has the device opened by a helper thread,
which may hang without anybody waiting for it.
"""

from __future__ import annotations

import logging
import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from coach.app.sound.device import DeviceError, OpenDevice, Stream, open_default
from coach.app.sound.mixer import Background, Mixer
from coach.cues.table import CUES
from coach.cues.tones import RATE, Samples, samples

_log = logging.getLogger(__name__)
_log.addHandler(logging.NullHandler())

BEAT: Final = 0.2
"""Interval at which the worker checks the device, s."""
GRACE: Final = 1.4
"""Extra patience with a device just opened, as a multiple of ``patience`` (an idle PulseAudio sink took 1.9 s); with
the patience and a beat it is less than 3 s."""
LET_GO: Final = 0.3
"""Longest wait for the device to close at the end, s."""


Way = Literal["sound device", "terminal bell", "screen only"]
"""Ways out for cues, best first."""


@dataclass(frozen=True)
class Status:
    """The way cues go out now, the device's name if there is one, and why it is no better way ('' if none is known)."""

    way: Way
    device: str = ""
    why: str = ""

    @property
    def text(self) -> str:
        """One line for the screen."""
        if self.device:
            return f"{self.way} ({self.device})"
        return f"{self.way}: {self.why}" if self.why else self.way


_Event = tuple[Literal["ring", "opened", "failed", "close"], object]


class Speaker:
    """Plays cues.  ``play`` returns at once and never raises, whatever the device does.

    ``bell`` rings the terminal's bell; it is called from another thread, None if there is no bell.  A device that is
    missing, busy or lost is looked for again every ``retry`` seconds; one that takes no sound for ``patience`` seconds
    is lost (2.4 times that just after opening: an idle sound server may wake late).  The device is opened in the
    background, so that the first paint does not wait for it.
    """

    def __init__(
        self,
        bell: Callable[[], object] | None = None,
        open_device: OpenDevice = open_default,
        *,
        retry: float = 10.0,
        patience: float = 1.0,
    ) -> None:
        self._bell = bell
        self._open_device = open_device
        self._retry = retry
        self._patience = patience
        self._mixer = Mixer()
        self._events: queue.SimpleQueue[_Event] = queue.SimpleQueue()
        self._settled = threading.Event()
        self._closed = False
        self._stream: Stream | None = None
        self._attempt = 0
        self._opening_since: float | None = None
        self._try_at = 0.0
        self._taken_at = 0.0
        self._opened_at = 0.0
        self._to_mixer = True
        self.status = self._lesser("")
        self._worker = threading.Thread(target=self._work, name="speaker", daemon=True)
        self._worker.start()

    # -- for the caller -----------------------------------------------------------------------------------------

    @property
    def output(self) -> Way:
        """The way cues go out now."""
        return self.status.way

    @property
    def trouble(self) -> str:
        """The reason why cues don't go out through the device, or another trouble; '' if there is none, or none known
        yet."""
        return f"{self.status.why}: {self.output}" if self.status.why else self._mixer.trouble

    def ready(self, timeout: float) -> Way:
        """Wait up to ``timeout`` s until the device is found or not; return the way out."""
        self._settled.wait(timeout)
        return self.output

    def play(self, what: Samples | str) -> None:
        """Sound this now, over whatever sounds already: samples at ``RATE``, or the name of a cue or of a sound.

        A silent cue is silent; an unknown name rings the bell.
        """
        wave = self._named(what) if isinstance(what, str) else np.asarray(what, dtype=np.float32).ravel()
        if wave is not None and not len(wave):
            return
        if self._to_mixer and wave is not None:
            self._mixer.add(wave)
        else:
            self._events.put(("ring", None))

    def set_background(self, source: Background | None) -> None:
        """Set a sound that goes on beneath the cues while there is a device; None stops it.

        ``source(t0, frames)`` gives samples at ``RATE``, shape (frames,), ``t0`` in seconds of sound since it was set.
        It is called from the device's thread and has about 20 ms.  One that raises is dropped, and ``trouble`` says so.
        """
        self._mixer.set_background(source)

    def close(self) -> None:
        """Release the device, in half a second at most.  Nothing is played after this."""
        self._closed = True
        self._to_mixer = False
        self._events.put(("close", None))
        self._worker.join(LET_GO + 0.2)

    def _named(self, name: str) -> Samples | None:
        """Samples of a cue or a sound, by its name: empty for a silent cue, None if there is no such name."""
        sound = CUES[name].sound if name in CUES else name
        if sound == "none":
            return np.zeros(0, dtype=np.float32)
        try:
            return samples(sound)
        except ValueError:
            return None

    # -- the worker's thread ------------------------------------------------------------------------------------

    def _work(self) -> None:
        while True:
            self._look_after()
            try:
                kind, value = self._events.get(timeout=min(BEAT, self._patience / 2, self._retry))
            except queue.Empty:
                continue
            if kind == "close":
                break
            if kind == "ring" and not self._closed:
                self._ring()
            elif kind == "opened":
                self._opened(value)  # type: ignore[arg-type]
            elif kind == "failed":
                self._failed(value)  # type: ignore[arg-type]
        if self._stream is not None:
            self._start(self._dispose, self._stream).join(LET_GO)

    def _look_after(self) -> None:
        """Open the device when it is due; notice one that was lost or does not answer."""
        now = monotonic()
        if not self._to_mixer and self._mixer.busy:  # a cue came while the device was being given up
            self._mixer.forget()
            self._ring()
        if self._stream is not None:
            try:
                lost = "" if self._stream.alive else "stopped"
            except Exception as error:  # a device that is gone may fail in any way
                lost = type(error).__name__
            if not lost and now - max(self._taken_at, self._opened_at + GRACE * self._patience) > self._patience:
                lost = "takes no sound"
            if lost:
                old, self._stream = self._stream, None
                self._without(f"sound device lost ({lost})")
                self._begin(old)
        elif self._opening_since is not None:
            if self._to_mixer and now - self._opening_since > self._patience:
                self._without("the sound device does not answer")
        elif now >= self._try_at:
            self._begin(None)

    def _begin(self, old: Stream | None) -> None:
        self._opening_since, self._try_at = monotonic(), float("inf")
        self._attempt += 1
        self._start(self._open, self._attempt, old)

    def _opened(self, stream: Stream) -> None:
        self._opening_since = None
        self._taken_at = self._opened_at = monotonic()
        if not self._to_mixer:
            self._mixer.forget()  # so that no old cue sounds late
        self._stream = stream
        self._to_mixer = not self._closed
        self.status = Status("sound device", device=stream.name)
        self._settled.set()

    def _failed(self, error: Exception) -> None:
        self._opening_since = None
        for_good = isinstance(error, DeviceError) and error.for_good
        self._try_at = float("inf") if for_good else monotonic() + self._retry
        if self._to_mixer or not self._settled.is_set():
            self._without(str(error) if isinstance(error, DeviceError) else f"no sound device ({type(error).__name__})")
        self._settled.set()

    def _without(self, why: str) -> None:
        """Go on without the device: ring the bell for cues that were not heard to their end."""
        self._to_mixer = False
        unheard = self._mixer.busy
        self._mixer.forget()
        self.status = self._lesser(why)
        if unheard:
            self._ring()

    def _ring(self) -> None:
        if self._bell is None:
            return
        try:
            self._bell()
        except Exception as error:  # the caller's code
            self._bell = None
            if self.output == "terminal bell":
                why = f"{self.status.why}; " if self.status.why else ""
                self.status = self._lesser(f"{why}the terminal bell failed ({type(error).__name__})")

    def _lesser(self, why: str) -> Status:
        return Status("screen only" if self._bell is None else "terminal bell", why=why)

    # -- helper threads, and the device's -----------------------------------------------------------------------

    @staticmethod
    def _start(work: Callable[..., None], *args: object) -> threading.Thread:
        thread = threading.Thread(target=work, args=args, daemon=True)
        thread.start()
        return thread

    def _open(self, attempt: int, old: Stream | None) -> None:
        if old is not None:
            self._dispose(old)
        try:
            stream = self._open_device(RATE, lambda out: self._fill(attempt, out))
        except Exception as error:  # a device may fail in any way
            self._events.put(("failed", error))
            return
        if self._closed:
            self._dispose(stream)
        else:
            self._events.put(("opened", stream))

    @staticmethod
    def _dispose(stream: Stream) -> None:
        try:
            stream.close()
        except Exception:  # it was going away anyhow
            _log.debug("closing the device", exc_info=True)

    def _fill(self, attempt: int, out: NDArray[np.float32]) -> None:
        if attempt != self._attempt:  # a device given up earlier that woke again
            out.fill(0.0)
            return
        self._taken_at = monotonic()
        out[:] = self._mixer.mix(len(out))[:, np.newaxis]
