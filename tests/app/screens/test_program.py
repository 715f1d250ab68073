"""What every full screen shares: leaving, clicks, themes, help on the first page."""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import still
from still import app_of, painted, text_of

from coach.app.screens.roast_view import RoastView
from coach.app.screens.widgets import Pane
from coach.session.settings import Settings


def driven(app: Any, drive: Any, size: tuple[int, int] = (80, 24)) -> None:
    async def whole() -> None:
        async with app.run_test(size=size) as pilot:
            await drive(pilot)

    asyncio.run(whole())


def test_ctrl_c_says_how_to_leave_and_covers_no_entry(tmp_path: Path) -> None:
    app = app_of(tmp_path, still.near_plan())

    async def drive(pilot: Any) -> None:
        await pilot.press("enter", *"16", "ctrl+c")
        await pilot.pause()
        assert app.roast.line.text == "16"
        text = text_of(app)
        assert "› 16" in text
        assert "Ctrl+q leaves" in text
        assert app.is_running

    driven(app, drive)


def test_keys_of_the_last_row_can_be_clicked(tmp_path: Path) -> None:
    app = app_of(tmp_path, still.near_plan())

    async def drive(pilot: Any) -> None:
        await pilot.press("enter")
        await pilot.pause()
        row = text_of(app).splitlines()[-1]
        await pilot.click("#keys", offset=(row.index("glance") if "glance" in row else row.index("? keys"), 0))
        await pilot.pause()
        assert app.top.view in ("glance", "page")

    driven(app, drive)


def test_the_first_page_has_the_page_of_keys_and_a_checklist_that_is_ticked(tmp_path: Path) -> None:
    app = app_of(tmp_path, still.waiting())

    async def drive(pilot: Any) -> None:
        await pilot.press("question_mark")
        await pilot.pause()
        assert "KEYS" in text_of(app)
        await pilot.press("escape")
        await pilot.pause()
        assert app.top.view == "brief"
        await pilot.press("2")
        await pilot.pause()
        page = str(app.screen.query_one("#brief-text").render())
        assert "[ ] 1" in page
        assert "[x] 2" in page
        assert "4 left" in page

    driven(app, drive)


@pytest.mark.parametrize("theme", ["light", "contrast", "terminal"])
def test_another_theme_draws_anew(tmp_path: Path, theme: Any) -> None:
    app = app_of(tmp_path, still.near_plan())

    async def drive(pilot: Any) -> None:
        await pilot.press("enter")
        await pilot.pause()
        before = app.screen.query_one("#state").shown.spans
        app.look_like(theme)
        await pilot.pause()
        assert app.theme == f"coach-{theme}"
        assert app.screen.query_one("#state").shown.spans != before

    driven(app, drive)


def test_every_action_is_in_the_palette_with_its_key(tmp_path: Path) -> None:
    app = app_of(tmp_path, still.near_plan())

    async def drive(pilot: Any) -> None:
        await pilot.press("enter")
        commands = list(app.get_system_commands(app.screen))
        names = [c.title for c in commands]
        assert names[0] == "first crack (f)", "what is likely in this phase comes first"
        assert "theme: light" in names
        assert names[-1] == "leave"
        assert all(c.title.rpartition(" (")[0] != c.help for c in commands), "each said once"
        assert app.screen.query_one(RoastView).shot is not None
        await pilot.press("ctrl+p")
        text = await painted(pilot, app)
        assert text.index("first crack (f)") < text.index("drop (d)"), "in this order on the screen too"
        assert "Search actions" in text

    driven(app, drive)


def test_before_the_roast_the_palette_has_the_keys_of_the_page(tmp_path: Path) -> None:
    app = app_of(tmp_path, still.waiting())

    async def drive(pilot: Any) -> None:
        found = {c.title: c.callback for c in app.get_system_commands(app.screen)}
        assert list(found)[:3] == ["roast (Enter)", "sounds (h)", "keys (?)"]
        assert "tick (1-9)" not in found
        found["keys (?)"]()
        assert "KEYS" in await painted(pilot, app)
        await pilot.press("escape")
        found["roast (Enter)"]()
        await painted(pilot, app)
        assert app.top.view == "roast"

    driven(app, drive)


def test_after_the_drop_the_palette_has_no_action_from_before_it(tmp_path: Path) -> None:
    app = app_of(tmp_path, still.cooling())

    async def drive(pilot: Any) -> None:
        await pilot.press("enter")
        names = [c.title for c in app.get_system_commands(app.screen)]
        assert names[0] == "review (b)"
        assert not any(n.startswith(("charge", "drop", "pop")) for n in names)

    driven(app, drive)


def test_results_stand_as_a_form_after_the_drop(tmp_path: Path) -> None:
    from coach.app.screens.palette import LOOKS, Sketch
    from coach.app.screens.roast_panes import results_panel
    from coach.roast.entries import Result

    roast = still.cooling().roast
    how = Sketch(LOOKS["dark"])
    empty = results_panel(roast, 40, how).plain
    assert "type  out 690g" in empty
    assert "loss" not in empty
    result = Result(at=700.0, weight_in=0.8, weight_out=0.69, colour=58.0, colour_scale="our meter")
    filled = results_panel(replace(roast, result=result), 40, how).plain
    assert "0.69 kg" in filled
    assert "13.8%" in filled, "1 - 0.69 / 0.8 = 0.1375"
    assert "58 (our meter)" in filled
    assert "type  score 85" in filled


def test_lists_take_the_rows_that_they_need_as_the_roast_goes_on(tmp_path: Path) -> None:
    app = app_of(tmp_path, still.waiting())

    async def drive(pilot: Any) -> None:
        await pilot.press("enter")
        await pilot.pause()
        app.roast.live.coach.situation = still.near_plan()
        app.roast.live.coach.cues = still.early()
        app.show()
        await pilot.pause()
        text = text_of(app)
        assert "205 to 210, plan 209" in text, "the drop stands in the forecast"
        assert "takes effect from 6:50" in text

    driven(app, drive, (120, 36))


def test_a_second_alone_paints_the_clock_and_the_countdown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_of(tmp_path, still.near_plan(), still.early())
    anew: list[str | None] = []
    refresh = Pane.refresh

    def watched(pane: Pane, *how: Any, **more: Any) -> Any:
        anew.append(pane.id)
        return refresh(pane, *how, **more)

    async def drive(pilot: Any) -> None:
        await pilot.press("enter")
        coach = app.roast.live.coach
        for _ in range(2):  # the first second is that in which all is laid out
            await painted(pilot, app)
            anew.clear()
            coach.situation = replace(coach.situation, at=coach.situation.at + 1.0, t=coach.situation.t + 1.0)
            app.show()
        assert {"state", "figures"} <= {*anew} <= {"state", "figures", "band"}

    monkeypatch.setattr(Pane, "refresh", watched)
    driven(app, drive, (200, 60))


LATER = (
    "numpy", "scipy", "matplotlib", "sqlite3", "jinja2", "coach.advice", "coach.forecast", "coach.simulator",
    "coach.verification", "coach.app.live", "coach.app.sound", "coach.app.screens.roast_panes",
    "coach.app.screens.roast_screen", "coach.roast.entries", "coach.session.journal",
)  # fmt: skip
"""What no first paint waits for, by the beginnings of its modules' names."""


@pytest.mark.parametrize(
    ("screen", "typed"), [("app import RoastApp", ["follow", "larch-hill"]), ("home import HomeApp", [])]
)
def test_the_first_paint_waits_for_nothing_that_it_does_not_show(tmp_path: Path, screen: str, typed: list[str]) -> None:
    code = f"""if True:
        import os, sys
        import coach.app.screens.terminal as t
        from coach.app.cli import main
        from coach.app.screens.{screen} as First
        run = First.run
        First.run = lambda app, **how: run(app, headless=True)
        First.after_first_paint = lambda app: print(*sys.modules, flush=True) or os._exit(0)
        t.check_terminal, t.on_a_terminal = lambda *_: None, lambda: True
        main({typed})
    """
    env = {**os.environ, "COACH_HOME": str(tmp_path)}
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=env, check=True)
    loaded = ran.stdout.split()
    assert "coach.session.settings" in loaded
    assert [m for m in loaded if m.startswith(LATER)] == []


@pytest.mark.parametrize("theme", ["dark", "light", "contrast", "terminal"])
def test_danger_is_filled_in_every_theme(tmp_path: Path, theme: Any) -> None:
    app = app_of(tmp_path, still.near_plan(), still.too_hot(), settings=Settings(theme=theme))

    async def drive(pilot: Any) -> None:
        await pilot.press("enter")
        await pilot.pause()
        band = app.screen._compositor.render_strips()[6]
        grounds = {segment.style.bgcolor for segment in band if segment.style is not None}
        assert all(ground is not None and not ground.is_default for ground in grounds)
        assert grounds.isdisjoint({s.style.bgcolor for s in app.screen._compositor.render_strips()[-2] if s.style})

    driven(app, drive)
