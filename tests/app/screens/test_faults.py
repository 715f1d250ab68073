"""A fault of the program's own in mid-roast: said, noted, and the roast goes on."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest
from helpers import ROOT, Hand, live

from coach.app.screens.app import RoastApp
from coach.app.screens.desk import Desk
from coach.app.screens.turns import MOST, Guard, file
from coach.session.journal import read_journal
from coach.session.profile_files import load_profile


def broken(*args: Any, **more: Any) -> Any:
    raise ZeroDivisionError("a fault of ours")


def test_a_fault_while_time_goes_on_ends_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    hand = Hand()
    app = RoastApp(live(tmp_path / "roasts", hand), tick=1000)
    app.turns.guard.on = True

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter", "c")
            monkeypatch.setattr(app.roast.live.coach, "advance", broken)
            for hand.now in (1.0, 2.0, 3.0):
                app.pulse()
            await pilot.pause()
            assert "FAULT in the coach (ZeroDivisionError)" in str(app.screen.query_one("#trouble").render())  # type: ignore[no-untyped-call]
            hand.now = 90.0
            await pilot.press(*"96", "enter")
            monkeypatch.setattr(app.roast.live.coach, "_refold", broken)
            hand.now = 120.0
            await pilot.press(*"104", "enter")

    asyncio.run(drive())
    values = [getattr(n.entry, "temperature", 0) for n in read_journal(app.roast.live.path).entries]
    assert values == [0, 96, 104], "what is typed is written all the same"
    assert "a fault of ours" in file(tmp_path).read_text()


def test_a_fault_in_a_page_aside_ends_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    app = RoastApp(live(tmp_path / "roasts", Hand()), tick=1000)
    app.turns.guard.on = True

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter", "c")
            monkeypatch.setattr("coach.app.screens.roast_screen.help_lines", broken)
            await pilot.press("question_mark")
            assert "FAULT in the coach" in str(app.screen.query_one("#trouble").render())
            await pilot.press("escape", *"96", "enter")
            assert app.top.view == "roast"
            assert app.roast.live.coach.roast.readings[-1].shown == 96

    asyncio.run(drive())


def test_a_fault_in_learning_leaves_a_roast_that_can_be_begun(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    desk = Desk(load_profile(str(ROOT / "profiles" / "larch-hill.toml")), tmp_path / "roasts")
    for name in ("look", "learn", "handed_on"):
        monkeypatch.setattr(desk, name, broken)
    app = RoastApp(desk=desk, tick=1000)
    app.turns.guard.on = True

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await app.workers.wait_for_complete()
            await pilot.press("enter", "c")
            assert app.roast.live.coach.roast.charge_at is not None

    asyncio.run(drive())


def test_without_the_guard_a_fault_is_not_hidden() -> None:
    with pytest.raises(ZeroDivisionError):
        Guard().run(broken)


def test_the_file_of_faults_does_not_grow_without_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    guard = Guard()
    guard.on = True
    for _ in range(MOST + 30):
        assert not guard.run(broken)
    assert file(tmp_path).read_text().count("Traceback") == MOST


def test_time_that_goes_on_while_the_screen_is_left_does_nothing(tmp_path: Path) -> None:
    hand = Hand()
    app = RoastApp(live(tmp_path, hand), tick=1000)

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter", "c")
        hand.now = 9.0
        app.pulse()
        assert app.roast.live.coach.at < 9.0

    asyncio.run(drive())
