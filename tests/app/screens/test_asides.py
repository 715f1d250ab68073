"""Pages beside the roast: the roast looked back on, trend and last roast before charge."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from helpers import ROOT, Hand, example, live
from still import app_of, near_plan, painted, text_of

from coach.app.screens.app import RoastApp
from coach.app.screens.desk import Desk
from coach.app.screens.palette import LOOKS, Sketch
from coach.app.screens.widgets import PageView
from coach.roast.entries import Mark
from coach.session.journal import line_of
from coach.session.profile_files import load_profile

Drive = Callable[[Any], Awaitable[None]]
CHARGE = 60.0


class Roasted:
    """The example told to the screen up to a roast time, by a clock in the test's hand."""

    def __init__(self, folder: Path, until: float, size: tuple[int, int] = (80, 24)) -> None:
        self.hand, self.size, self.until = Hand(), size, until
        self.app = RoastApp(live(folder, self.hand), tick=1000)
        self.app.turns.monotonic = self.hand

    def run(self, drive: Drive) -> None:
        async def whole() -> None:
            async with self.app.run_test(size=self.size) as pilot:
                await pilot.press("enter")
                for n in example().entries:
                    if n.entry.came > CHARGE + self.until:
                        break
                    self.hand.now = n.entry.came
                    self.app.roast.enter(n.entry)
                    while self.app.roast.live.coach.behind:
                        self.app.roast.live.coach.catch_up()
                self.to(self.until)
                await pilot.pause()
                await drive(pilot)

        asyncio.run(whole())

    def to(self, t: float) -> None:
        self.hand.now = CHARGE + t
        self.app.pulse()

    async def until_there(self, pilot: Any, word: str) -> str:
        for _ in range(200):
            await pilot.pause(0.05)
            self.app.show()
            await pilot.pause()
            if word in text_of(self.app):
                return text_of(self.app)
        pytest.fail(f"'{word}' never came:\n{text_of(self.app)}")


def test_a_mark_typed_over_a_page_is_taken(tmp_path: Path) -> None:
    r = Roasted(tmp_path, 200.0)

    async def drive(pilot: Any) -> None:
        await pilot.press("question_mark", "y")
        await pilot.pause()
        assert r.app.roast.live.coach.roast.marks["yellow"] == pytest.approx(200.0)
        assert r.app.top.view == "roast"
        for i, key in enumerate(("question_mark", "question_mark", "question_mark")):
            r.to(202.0 + i)
            await pilot.press(key)
        await pilot.pause()
        assert "KEYS" in text_of(r.app), "help is help again"

    r.run(drive)


def test_before_drop_there_is_nothing_to_look_back_on(tmp_path: Path) -> None:
    r = Roasted(tmp_path, 20.0)

    async def drive(pilot: Any) -> None:
        await pilot.press("b")
        assert "After drop b reviews" in r.app.message
        assert r.app.top.view == "roast"

    r.run(drive)


def test_the_roast_is_looked_back_on_after_drop(tmp_path: Path) -> None:
    r = Roasted(tmp_path, 700.0)

    async def drive(pilot: Any) -> None:
        assert r.app.roast.live.coach.roast.phase == "cooling"
        assert "b review" in text_of(r.app)
        await pilot.press("b")
        said = await r.until_there(pilot, "o readings" if r.size[1] > 30 else "OFF PLAN (°C)")
        assert "Larch Hill" in said
        await pilot.press("end")
        await pilot.pause()
        end = text_of(r.app)
        assert "Next time:" in end
        assert "Only a proposal" in end
        r.app.show()
        whole = "\n".join(r.app.top.lines(77, False))
        assert "CUES HEARD" in whole, "as they were noted, not worked out again"
        for part in ("FORECASTS AS SHOWN (without earlier roasts)", "LARGEST DIFFERENCES", "drying", "first crack"):
            assert part in whole
        await pilot.press("escape", *"in 0.8", "enter")
        await pilot.pause()
        assert r.app.roast.live.coach.roast.result is not None, "results are typed as before"

    r.run(drive)


def test_a_roast_that_is_taken_over_is_shown_as_it_stands(tmp_path: Path) -> None:
    folder = tmp_path / "roasts"
    folder.mkdir()
    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    started = (datetime.now(UTC) - timedelta(seconds=400)).isoformat()
    header = example().header.model_copy(update={"id": "run", "started": started})
    entries = [n.entry for n in example().entries if n.entry.came < 380.0]
    (folder / "run.jsonl").write_text(line_of(header) + "".join(map(line_of, entries)))
    app = RoastApp(desk=Desk(profile, folder), tick=1000)

    async def whole() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            for word, key in (
                ("s  the unfinished roast so far, to hand it over", "s"),
                ("Taking over in mid-roast", "escape"),
            ):
                for _ in range(300):
                    await pilot.pause(0.05)
                    app.show()
                    await pilot.pause()
                    if word in text_of(app):
                        break
                else:
                    pytest.fail(f"'{word}' never came:\n{text_of(app)}")
                if key == "escape":
                    assert "Roast time 5:4" in text_of(app)
                await pilot.press(key)
            await pilot.pause()
            assert app.top.view == "brief"

    asyncio.run(whole())


def test_trend_and_last_roast_before_charge(tmp_path: Path) -> None:
    folder = tmp_path / "roasts"
    folder.mkdir()
    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    for i in range(2):
        header = example().header.model_copy(update={"id": f"r{i}", "started": f"2026-11-0{i + 1}T08:00:00+00:00"})
        (folder / f"r{i}.jsonl").write_text(line_of(header) + "".join(line_of(n.entry) for n in example().entries))
    app = RoastApp(desk=Desk(profile, folder), tick=1000)

    async def there(pilot: Any, word: str) -> str:
        for _ in range(300):
            await pilot.pause(0.05)
            app.show()
            await pilot.pause()
            if word in text_of(app):
                return text_of(app)
        pytest.fail(f"'{word}' never came:\n{text_of(app)}")

    async def whole() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await there(pilot, "t trend")
            await pilot.press("t")
            said = await there(pilot, "2 roasts, 2026-11-01")
            assert "Esc returns" in said
            await pilot.press("enter")
            await pilot.pause()
            assert app.top.view == "brief", "Enter on a page aside begins no roast"
            await there(pilot, "t trend")
            await pilot.press("l")
            await there(pilot, "First crack ")
            await pilot.press("pagedown", "escape")
            assert "CAUTION" in await there(pilot, "t trend")
            await pilot.press("enter")
            await pilot.pause()
            assert app.opened is not None
            app.roast.live.enter(Mark(at=1.0, event="charge"))

    asyncio.run(whole())
    assert len(list(folder.glob("*.jsonl"))) == 3


def test_a_page_aside_takes_the_colours_of_another_theme(tmp_path: Path) -> None:
    async def go() -> None:
        app = app_of(tmp_path, near_plan())
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter", "question_mark")
            await painted(pilot, app)
            app.look_like("light")
            await painted(pilot, app)
            shown = app.screen.query_one(PageView).body.shown
            assert shown is not None
            assert shown.spans[0].style == Sketch(LOOKS["light"]).inks()["heading"]

    asyncio.run(go())
