"""Pages beside the roast: pulses through the crack, the roast looked back on, trend and last roast before charge."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from helpers import ROOT, Hand, example, live
from still import text_of

from coach.advice.advise import Pulse
from coach.app.screens.app import RoastApp
from coach.app.screens.desk import Desk
from coach.app.screens.pulses import lines, name_of
from coach.forecast.distribution import Distribution
from coach.roast.entries import Mark
from coach.roast.units import from_celsius, number
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


@pytest.mark.parametrize("size", [(80, 24), pytest.param((120, 40), marks=pytest.mark.long)])
def test_pulses_stand_beside_the_gas_as_it_is_and_follow_the_time(tmp_path: Path, size: tuple[int, int]) -> None:
    r = Roasted(tmp_path, 500.0, size)

    async def drive(pilot: Any) -> None:
        await pilot.press("k")
        await pilot.pause()
        said = text_of(r.app)
        coach = r.app.roast.live.coach
        assert said.startswith(" NEXT: "), "what is to be done now stays in sight"
        assert "gas stands at 0.8 kPa" in said
        choices = coach.pulses()
        assert [name_of(p) for p in choices] == ["not at all", "10 s once", "20 s once", "30 s once", "10 s twice"]
        for p in choices:
            row = next(x for x in said.splitlines() if x.startswith(f" {name_of(p)}") and "%" in x)
            assert f" {number(p.temperature.median, 0)} " in row
            assert row.split("%")[0].endswith(f"{100 * p.stall:.0f}")
        assert "now 8:20" in said
        r.to(507.0)
        await pilot.pause()
        assert "now 8:27" in text_of(r.app)
        before = len(coach.entries)
        await pilot.press("pagedown", "escape")
        await pilot.pause()
        assert "THROUGH THE CRACK" not in text_of(r.app)
        assert r.app.top.view == "roast"
        assert len(coach.entries) == before, "nothing of it stays"

    r.run(drive)


def test_a_mark_typed_over_a_page_is_taken(tmp_path: Path) -> None:
    r = Roasted(tmp_path, 480.0)

    async def drive(pilot: Any) -> None:
        await pilot.press("k", "f")
        await pilot.pause()
        assert r.app.roast.live.coach.roast.marks["first crack"] == pytest.approx(480.0)
        assert r.app.top.view == "roast"
        for i, key in enumerate(("k", "question_mark", "question_mark")):
            r.to(482.0 + i)
            await pilot.press(key)
        await pilot.pause()
        assert "KEYS" in text_of(r.app), "help is help again"

    r.run(drive)


def test_pulses_are_in_the_units_of_the_gauge_and_the_probe(tmp_path: Path) -> None:
    r = Roasted(tmp_path, 500.0)

    async def drive(pilot: Any) -> None:
        s = r.app.roast.live.coach.situation
        from dataclasses import replace

        header = s.roast.header.model_copy(update={"unit": "F", "pressure_unit": "mbar"})
        shown = replace(s, roast=replace(s.roast, header=header))
        page = "\n".join(lines(shown, r.app.roast.live.coach.pulses(), 77))
        assert "8 mbar" in page
        assert "drop °F" in page
        first = r.app.roast.live.coach.pulses()[0]
        assert f" {number(from_celsius(first.temperature.median, 'F'), 0)} " in page
        for width in (36, 60, 77, 110):
            assert max(map(len, lines(shown, r.app.roast.live.coach.pulses(), width))) <= max(width, 46)

    r.run(drive)


def test_the_words_name_the_nearest_and_its_risk(tmp_path: Path) -> None:
    r = Roasted(tmp_path, 500.0)

    def at(celsius: float, off: tuple[float, ...], stall: float) -> Pulse:
        import numpy as np

        heat = Distribution(np.array([celsius - 2, celsius + 2]), np.array([0.0, 1.0]))
        time = Distribution(np.array([570.0, 580.0]), np.array([0.0, 1.0]))
        return Pulse(off, tuple(t + 20 for t in off), heat, time, stall, 0.0)

    async def drive(pilot: Any) -> None:
        s = r.app.roast.live.coach.situation
        plan = s.profile.drop_temperature
        said = " ".join(lines(s, [at(plan + 3, (), 0.0), at(plan + 0.5, (510.0,), 0.3)], 77))
        assert "Nearest to the plan: 20 s once, off at 8:30" in said
        assert "it stalls in 30% of such cases" in said
        calm = " ".join(lines(s, [at(plan + 0.5, (), 0.0), at(plan - 0.4, (510.0,), 0.3)], 77))
        assert "No pulse comes clearly nearer" in calm
        assert "can't say" in " ".join(lines(s, [], 77)).lower()

    r.run(drive)


def test_before_drop_there_is_nothing_to_look_back_on(tmp_path: Path) -> None:
    r = Roasted(tmp_path, 300.0)

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
    for i in range(3):
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
            await there(pilot, "t  the trend")
            await pilot.press("t")
            said = await there(pilot, "3 roasts, 2026-11-01")
            assert "Esc returns" in said
            await pilot.press("enter")
            await pilot.pause()
            assert app.top.view == "brief", "Enter on a page aside begins no roast"
            await there(pilot, "t  the trend")
            await pilot.press("l")
            await there(pilot, "r2: Larch Hill")
            await pilot.press("pagedown", "escape")
            assert "CAUTION" in await there(pilot, "t  the trend")
            await pilot.press("enter")
            await pilot.pause()
            assert app.opened is not None
            app.roast.live.enter(Mark(at=1.0, event="charge"))

    asyncio.run(whole())
    assert len(list(folder.glob("*.jsonl"))) == 4
