"""The sound check before charge where there is no sound device: told, survived, and noted when it is skipped.

Pilots who had heard an alarm before missed it far less under load (Dehais and others 2014): hence the check.
"""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest
from helpers import Hand, live

from coach.app.screens.app import RoastApp
from coach.app.screens.sounding import AUDIBLE, BETWEEN
from coach.app.sound.device import DeviceError
from coach.app.sound.speaker import Speaker
from coach.session.folders import sounds_heard
from coach.session.journal import read_journal


def no_device(rate: int, fill: object) -> object:
    raise DeviceError("no sound device")


def run(folder: Path, *, check: bool, bell: bool, answer: str = "n") -> tuple[RoastApp, list[str]]:
    """The screen from the brief to the roast; what stood on its last line after each step."""
    hand = Hand()
    app = RoastApp(live(folder, hand), tick=1000)
    app.turns.monotonic = hand
    lines: list[str] = []

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            app.sound.speaker = Speaker(app.bell if bell else None, no_device)  # type: ignore[arg-type]
            app.sound.speaker.ready(5.0)
            app.show()
            lines.append(app.message or app.sound.speaker.status.text)
            if check:
                await pilot.press("h")
                for n in range(len(AUDIBLE) + 1):
                    hand.now = n * BETWEEN + 0.1
                    app.pulse()
                await pilot.press(answer)
            await pilot.press("enter")
            lines.append(app.message)

    asyncio.run(drive())
    return app, lines


@pytest.mark.parametrize(("bell", "way"), [(False, "screen only"), (True, "terminal bell")])
def test_without_a_device_the_way_is_told_and_recorded(tmp_path: Path, bell: bool, way: str) -> None:
    app, lines = run(tmp_path, check=True, bell=bell)
    assert way in lines[0]
    (entry,) = (n.entry for n in read_journal(app.roast.live.path).entries)
    assert (entry.kind, entry.heard, entry.output) == ("sound check", False, way)  # type: ignore[attr-defined]


@pytest.mark.parametrize("answer", ["y", "n"])
def test_the_home_screen_knows_whether_they_were_heard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, answer: str
) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    run(tmp_path, check=True, bell=True, answer=answer)
    assert sounds_heard() is (answer == "y")


def test_a_check_that_was_skipped_is_noted(tmp_path: Path) -> None:
    app, lines = run(tmp_path, check=False, bell=False)
    assert lines[-1] == "The sounds were not checked."
    assert not read_journal(app.roast.live.path).entries
