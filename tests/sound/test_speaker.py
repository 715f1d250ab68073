"""The sound edge with a device that is there, missing, or lost."""

from __future__ import annotations

from typing import Any

import numpy as np

from coach.sound.speaker import BELL, DEVICE, Speaker


class Device:
    """Takes ``good`` sounds, then fails."""

    def __init__(self, good: int) -> None:
        self.good = good
        self.heard: list[Any] = []

    def check_output_settings(self) -> None:
        pass

    def play(self, samples: Any, rate: int, blocking: bool) -> None:
        if len(self.heard) >= self.good:
            raise OSError("unplugged")
        assert not blocking
        self.heard.append((samples, rate))


def missing() -> Any:
    raise OSError("PortAudio library not found")


def test_device_plays_the_cues_own_sound() -> None:
    rings: list[int] = []
    device = Device(9)
    speaker = Speaker(lambda: rings.append(1), lambda: device)
    assert speaker.ready(5) == DEVICE
    speaker.play("drop now")
    speaker.play("move due")
    speaker.play("reading doubtful")
    assert len(device.heard) == 2
    assert len(device.heard[0][0]) != len(device.heard[1][0])
    assert np.abs(device.heard[0][0]).max() > 0.1
    assert not rings


def test_missing_device_rings_the_bell() -> None:
    rings: list[int] = []
    speaker = Speaker(lambda: rings.append(1), missing)
    assert speaker.ready(5) == BELL
    speaker.play("crack early")
    assert rings == [1]
    assert "no sound device" in speaker.trouble


def test_lost_device_is_survived_and_said() -> None:
    rings: list[int] = []
    speaker = Speaker(lambda: rings.append(1), lambda: Device(1))
    speaker.ready(5)
    speaker.play("drop now")
    speaker.play("drop now")
    assert rings == [1]
    assert speaker.output == BELL
    assert "lost" in speaker.trouble
