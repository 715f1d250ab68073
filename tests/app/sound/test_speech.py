"""Spoken words: off by default, silent where the program is missing or misbehaves, after the tone where it works."""

from __future__ import annotations

import shutil
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from coach.app.sound.speech import Voice
from coach.session.settings import Settings
from tests.app.sound.fakes import until

GOOD = """
import io, sys, wave
text = sys.stdin.read()
open({log!r}, "a").write(text + "\\n")
with wave.open(sys.stdout.buffer, "wb") as f:
    f.setnchannels(1); f.setsampwidth(2); f.setframerate(22050)
    f.writeframes(b"\\x00\\x10" * 2205)
"""


def program(folder: Path, body: str) -> str:
    """A program that stands in for the speech program."""
    path = folder / "speaks"
    path.write_text(f"#!{sys.executable}\n{body}")
    path.chmod(0o755)
    return str(path)


def test_off_by_default_and_silent_when_missing() -> None:
    said: list[np.ndarray] = []
    assert not Settings().speech
    missing = Voice(said.append, program="no-such-program")
    missing.say("crack in one minute")
    assert "not installed" in missing.trouble
    assert said == []


def test_words_come_at_the_speakers_rate_after_the_tone(tmp_path: Path) -> None:
    said: list[np.ndarray] = []
    voice = Voice(said.append, program=program(tmp_path, GOOD.format(log=str(tmp_path / "log"))))
    start = time.monotonic()
    voice.say("gas to\x1b point six", after=2.0)
    assert time.monotonic() - start < 0.05
    assert until(lambda: len(said) == 1)
    words = np.flatnonzero(said[0])
    assert len(words) == pytest.approx(4410, abs=4)  # 0.1 s
    assert start + 2.0 <= time.monotonic() + words[0] / 44100
    assert np.abs(said[0]).max() == pytest.approx(0.5)
    assert (tmp_path / "log").read_text() == "gas to  point six\n"
    voice.close()


def test_only_the_newest_of_those_that_wait_is_said(tmp_path: Path) -> None:
    said: list[np.ndarray] = []
    slow = "import time; time.sleep(0.3)\n" + GOOD.format(log=str(tmp_path / "log"))
    voice = Voice(said.append, program=program(tmp_path, slow))
    voice.say("one")
    time.sleep(0.1)
    for text in ("two", "three", "four"):
        voice.say(text)
    assert until(lambda: len(said) == 2)
    assert (tmp_path / "log").read_text().split() == ["one", "four"]
    voice.close()


@pytest.mark.parametrize(
    "body", ["import sys; sys.exit(3)", "print('not a sound')", "import time; time.sleep(9)", "", "this is no program"]
)
def test_a_program_that_misbehaves_is_survived_and_said(tmp_path: Path, body: str) -> None:
    said: list[np.ndarray] = []
    voice = Voice(said.append, program=program(tmp_path, body), timeout=0.4)
    voice.say("drop")
    assert until(lambda: "not spoken" in voice.trouble)
    assert said == []
    voice.close()


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")
def test_real_program() -> None:
    said: list[np.ndarray] = []
    voice = Voice(said.append)
    voice.say("-crack in one minute")
    assert until(lambda: bool(said), 10)
    assert 0.8 < len(said[0]) / 44100 < 4.0
    assert np.sqrt(np.mean(said[0] ** 2)) > 0.02
    voice.close()
