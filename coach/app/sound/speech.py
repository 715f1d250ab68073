"""Spoken words, if wanted and if espeak-ng is installed.  Never raises, never waits; silent where it can't speak."""

from __future__ import annotations

import io
import queue
import shutil
import subprocess
import threading
import wave
from collections.abc import Callable
from time import monotonic
from typing import Final

import numpy as np

from coach.cues.tones import LEVEL, RATE, Samples

PROGRAM: Final = "espeak-ng"
WORDS_A_MINUTE: Final = 160
LONGEST: Final = 200
"""Number of letters of a text that are spoken at most; a cue is a few words."""
TIMEOUT: Final = 3.0
"""Longest time to make words, s: later ones come too late."""


class Voice:
    """Speaks short texts through ``play``.  Without the program it stays silent, and ``trouble`` says so.

    One text is made into sound at a time, in a thread of its own; of those waiting only the newest is spoken.
    """

    def __init__(
        self,
        play: Callable[[Samples], object],
        *,
        program: str = PROGRAM,
        timeout: float = TIMEOUT,
    ) -> None:
        self._play = play
        self._path = shutil.which(program)
        self._timeout = timeout
        self._texts: queue.SimpleQueue[tuple[str, float] | None] = queue.SimpleQueue()
        self.trouble = f"no spoken words: {program} is not installed" if self._path is None else ""
        """The reason why nothing is spoken, or the last error; '' if there is none."""
        if self._path is not None:
            threading.Thread(target=self._work, name="voice", daemon=True).start()

    def say(self, text: str, after: float = 0.0) -> None:
        """Speak a text, ``after`` s from now at the earliest (the length of the tone it follows)."""
        if self._path is not None:
            self._texts.put((text, monotonic() + after))

    def close(self) -> None:
        """Speak nothing more.  Does not wait."""
        self._texts.put(None)

    def _work(self) -> None:
        while True:
            item = self._texts.get()
            while item is not None and not self._texts.empty():
                item = self._texts.get()
            if item is None:
                return
            text, earliest = item
            try:
                words = self._speak(text)
                quiet = np.zeros(max(0, round((earliest - monotonic()) * RATE)), dtype=np.float32)
                self._play(np.concatenate([quiet, words]))
                self.trouble = ""
            except Exception as error:  # another program's output may be anything
                self.trouble = f"words not spoken ({type(error).__name__})"

    def _speak(self, text: str) -> Samples:
        """The words as samples at ``RATE``, peak LEVEL, shape (n,).  Passes on any error."""
        assert self._path is not None
        plain = "".join(c if c.isprintable() else " " for c in text)[:LONGEST]
        made = subprocess.run(
            [self._path, "--stdout", "--stdin", "-s", str(WORDS_A_MINUTE)],
            input=plain.encode(), stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, timeout=self._timeout, check=True,
        )  # fmt: skip
        with wave.open(io.BytesIO(made.stdout)) as file:
            if file.getsampwidth() != 2 or file.getnchannels() != 1:
                raise ValueError("not 16 bit, one channel")
            heard = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2").astype(np.float32)
            step = file.getframerate() / RATE
        if not heard.any():
            raise ValueError("silence")
        words = np.interp(np.arange(0, len(heard) - 1, step), np.arange(len(heard)), heard)
        return np.asarray(words * (LEVEL / np.abs(words).max()), dtype=np.float32)
