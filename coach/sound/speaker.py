"""The edge that makes sound: a sound device, else the terminal bell.  Never raises, never waits."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any, Final

from coach.cues import CUES

DEVICE: Final = "sound device"
BELL: Final = "terminal bell"


class Speaker:
    """Plays cues by name.  ``output`` says which way they go out now; ``bell`` is called where there is no device.

    The device is looked for in the background, so that the first paint does not wait for it.
    """

    def __init__(self, bell: Callable[[], None], load: Callable[[], Any] | None = None) -> None:
        self.output = BELL
        self.trouble = ""
        self._bell = bell
        self._device: Any = None
        self._load = load or _sounddevice
        self._thread = threading.Thread(target=self._look, daemon=True)
        self._thread.start()

    def _look(self) -> None:
        try:
            device = self._load()
            device.check_output_settings()
        except Exception as error:  # PortAudio reports its faults in many classes
            self.trouble = f"no sound device ({type(error).__name__}): terminal bell"
            return
        self._device, self.output = device, DEVICE

    def ready(self, timeout: float) -> str:
        """Wait (s) until the device was looked for; the way out that was found."""
        self._thread.join(timeout)
        return self.output

    def play(self, cue: str) -> None:
        """Sound a cue, by its name in the table.  A device that fails is given up for the bell, and said."""
        row = CUES.get(cue)
        if row is None or row.sound == "none":
            return
        if self._device is not None:
            from coach.sound.tones import RATE, samples

            try:
                self._device.play(samples(row.sound), RATE, blocking=False)
                return
            except Exception as error:
                self._device, self.output = None, BELL
                self.trouble = f"sound device lost ({type(error).__name__}): terminal bell"
        self._bell()


def _sounddevice() -> Any:
    import sounddevice

    return sounddevice
