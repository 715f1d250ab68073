"""A long fold on the screen: the entry is there at once, keys are taken meanwhile, and what stands then sounds."""

from __future__ import annotations

import asyncio
import time
from pathlib import Path
from typing import Any

import pytest
from helpers import Hand, Hurried, live
from textual.pilot import Pilot

from coach.app.screens.app import RoastApp
from coach.session.coach import Coach


async def begun(app: RoastApp, pilot: Pilot[None], hand: Hand, until: int) -> None:
    """Charged at 10 s, read every 20 s from a minute after it on."""
    await pilot.press("enter")
    hand.now = 10.0
    await pilot.press("c")
    for t in range(60, until, 20):
        hand.now = 10.0 + t
        app.pulse()
        app.roast.paste(f"{app.roast.live.coach.profile.curve.value(float(t)):.0f}\n")


def test_a_charge_told_late_is_painted_before_all_is_folded(tmp_path: Path) -> None:
    hand = Hand()
    app = RoastApp(live(tmp_path, hand), tick=1000)

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await begun(app, pilot, hand, 200)
            coach = app.roast.live.coach
            while coach.behind:
                await pilot.pause(0.01)
            app.turns.monotonic = Hurried(0.004)  # no fold of many seconds is done in one part
            hand.now = 205.0
            app.pulse()
            await pilot.press("backspace", "escape")  # the last reading is withdrawn
            heard = len(coach.heard.all)
            app.roast.paste("155\n")
            app.roast.paste("@1:30\n")  # and the one made up for it belongs a minute and a half back
            assert coach.behind, "much is to be folded again"
            assert coach.roast.readings[-1].t != 90.0
            assert "1:30" in app.message, "and it is said that it is taken"
            await pilot.press("1", "4")
            assert app.roast.line.text == "14", "keys are taken meanwhile"
            hand.now = 206.0
            app.pulse()
            end = time.monotonic() + 60.0
            while coach.behind and time.monotonic() < end:
                await pilot.pause(0.005)
            assert not coach.behind
            assert len(coach.heard.all) >= heard
            whole = replayed(coach)
            for name, track in coach.watch.tracks.items():
                assert name == "reading due" or track == whole.watch.tracks[name]  # that one waits while keys are typed
            assert coach.situation.estimate == whole.situation.estimate

    asyncio.run(drive())


def test_parts_follow_each_other_however_the_machine_stumbles(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The library's timers see five milliseconds go by at each look: a short one of them never fires then."""
    hand, stumbles = Hand(), Hurried(0.005)
    app = RoastApp(live(tmp_path, hand), tick=1000)

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await begun(app, pilot, hand, 120)
            app.turns.monotonic = Hurried(0.013)
            monkeypatch.setattr("textual._time.get_time", lambda: time.monotonic() + stumbles())
            app.roast.paste("@-30\n")
            app.roast.paste("\n".join(f"/note {n}" for n in range(5)) + "\n")
            assert len(app.roast.live.coach.roast.notes) == 5, "a paste is taken meanwhile"
            end = time.monotonic() + 30.0
            while app.roast.live.coach.behind and time.monotonic() < end:
                await pilot.pause(0.005)
            assert not app.roast.live.coach.behind, "the fold goes on to its end"

    asyncio.run(drive())


def replayed(coach: Coach) -> Any:
    """The same entries through a coach that folds all at once."""
    other = Coach(coach.profile, coach.header, coach.knowledge)
    for n in coach.entries:
        other.advance(n.entry.came)
        other.receive(n.entry, n.line)
    other.advance(coach.at)
    return other
