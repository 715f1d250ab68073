"""The screens as plain text, against what is stored beside this file; they rest on situations made by hand.

After an intended change run this file with COACH_SNAPSHOTS=write in the environment, read the diff, and look at the
pictures: ``python tests/bench/picture.py --all FOLDER`` draws each of these as it looks.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import still
from still import app_of, painted, text_of

from coach.app.screens.palette import LOOKS, Sketch
from coach.app.screens.roast_panes import figures
from coach.logbook.text.picture import Picture
from coach.roast.units import clock
from coach.session.offers import Offer
from coach.session.settings import Settings

SNAPSHOTS = Path(__file__).parent / "snapshots"
VIEWS: dict[str, tuple[Callable[[], Any], Callable[[], Any], list[str]]] = {
    "brief": (still.waiting, tuple, []),
    "brief-end": (still.waiting, tuple, ["pagedown", "pagedown", "pagedown"]),
    "waiting": (still.waiting, tuple, ["enter"]),
    "no-reading-yet": (still.before_first_reading, tuple, ["enter"]),
    "calm": (still.calm, tuple, ["enter"]),
    "soon": (still.near_plan, still.reading_due, ["enter"]),
    "asked": (still.near_plan, still.early, ["enter"]),
    "overdue": (still.overdue, tuple, ["enter"]),
    "danger": (still.near_plan, still.too_hot, ["enter"]),
    "typing": (still.near_plan, tuple, ["enter", "1", "6", "8"]),
    "taps": (still.tapped_crack, tuple, ["enter"]),
    "now": (still.crack, still.drop_now, ["enter"]),
    "cooling": (still.cooling, tuple, ["enter"]),
    "temperature": (still.near_plan, still.reading_due, ["enter", "u"]),
    "glance": (still.near_plan, tuple, ["enter", "v"]),
    "glance-now": (still.crack, still.drop_now, ["enter", "v"]),
    "help": (still.near_plan, tuple, ["enter", "question_mark"]),
}
AT = {
    (80, 24): tuple(VIEWS),
    (120, 36): ("calm", "asked", "now", "danger", "cooling", "waiting", "no-reading-yet"),
    (200, 60): ("soon",),
    (40, 12): ("soon", "now", "glance-now"),
}
CASES = [(name, size) for size, names in AT.items() for name in names]


async def settled(app: Any, pilot: Any) -> str:
    """The screen once it changes no more."""
    text = ""
    while text != (now := text_of(app)):
        text = now
        await pilot.pause(0.02)
    return text


async def shown(folder: Path, name: str, size: tuple[int, int], **options: Any) -> str:
    situation, cues, keys = VIEWS[name]
    app = app_of(folder, situation(), cues(), **options)
    async with app.run_test(size=size) as pilot:
        await pilot.press(*keys)
        return await painted(pilot, app)


def compared(text: str, name: str) -> None:
    stored = SNAPSHOTS / f"{name}.txt"
    if os.environ.get("COACH_SNAPSHOTS") == "write":
        stored.write_text(text, encoding="utf-8")
    assert text == stored.read_text(encoding="utf-8")


@pytest.mark.parametrize(("name", "size"), CASES, ids=lambda x: x if isinstance(x, str) else f"{x[0]}x{x[1]}")
def test_view(tmp_path: Path, name: str, size: tuple[int, int]) -> None:
    text = asyncio.run(shown(tmp_path, name, size))
    compared(text, f"{name}-{size[0]}x{size[1]}")
    assert len(text.splitlines()) <= size[1]


@pytest.mark.parametrize("name", ["soon", "glance", "help", "brief"])
def test_plain_ascii_terminal(tmp_path: Path, name: str) -> None:
    text = asyncio.run(shown(tmp_path, name, (80, 24), settings=Settings(signs="ascii")))
    assert text.isascii()
    compared(text, f"{name}-ascii-80x24")


@pytest.mark.parametrize("theme", list(LOOKS))
def test_a_theme_changes_no_word(tmp_path: Path, theme: Any) -> None:
    text = asyncio.run(shown(tmp_path, "asked", (120, 36), settings=Settings(theme=theme)))
    stored = (SNAPSHOTS / "asked-120x36.txt").read_text(encoding="utf-8")
    assert text.splitlines()[:9] == stored.splitlines()[:9], "figures and band"
    assert [x[82:] for x in text.splitlines()] == [x[82:] for x in stored.splitlines()], "the lists beside the pictures"


def test_urgencies_differ_as_plain_text(tmp_path: Path) -> None:
    """No state is told by colour alone: as text without any style all of these differ."""
    looks = [asyncio.run(shown(tmp_path / n, n, (80, 24))) for n in ("calm", "soon", "overdue", "danger")]
    assert ["· NEXT" in looks[0], "SOON" in looks[1], "NOW" in looks[2], "DANGER" in looks[3]] == [True] * 4
    assert "╭" in looks[0], "outlined"
    assert "║║" in looks[3], "in a double frame"


@pytest.mark.parametrize("name", ["calm", "asked", "overdue", "danger", "taps", "now"])
def test_the_picture_keeps_ten_rows_whatever_the_cues(tmp_path: Path, name: str) -> None:
    situation, cues, keys = VIEWS[name]
    app = app_of(tmp_path, situation(), cues())

    async def rows() -> int:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press(*keys)
            await painted(pilot, app)
            return int(app.screen.query_one("#strip").size.height)

    assert asyncio.run(rows()) >= 11, "ten rows and the time axis"


def test_resizing_lays_out_anew(tmp_path: Path) -> None:
    app = app_of(tmp_path, still.near_plan(), still.early())

    async def drive() -> tuple[str, str]:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter")
            await pilot.resize_terminal(120, 36)
            wide = await painted(pilot, app)
            await pilot.press("question_mark")  # also under a page aside
            await pilot.resize_terminal(80, 24)
            await pilot.press("escape")
            return wide, await painted(pilot, app)

    wide, small = asyncio.run(drive())
    assert "Entries" in wide
    assert "Entries" not in small
    assert wide == (SNAPSHOTS / "asked-120x36.txt").read_text(encoding="utf-8")
    assert small == (SNAPSHOTS / "asked-80x24.txt").read_text(encoding="utf-8")


def test_last_lines_of_the_brief_are_reached_and_the_hint_says_so(tmp_path: Path) -> None:
    first = asyncio.run(shown(tmp_path / "a", "brief", (80, 24)))
    last = asyncio.run(shown(tmp_path / "b", "brief-end", (80, 24)))
    assert "MORE BELOW" in first
    assert "Invented demonstration data" not in first
    assert "Invented demonstration data" in last
    assert "MORE BELOW" not in last


@pytest.mark.parametrize("off", [4.6, -12.6, 25.0])
def test_where_the_roast_lies_and_goes_is_read_whole_however_far_off_it_is(off: float) -> None:
    s = still.near_plan()
    s = replace(s, forecast=replace(s.forecast, deviation=off))
    text = figures(s, 30.0, 80, Sketch(LOOKS["dark"])).plain
    assert "outside" in text
    assert "…" not in text


def test_before_the_first_reading_no_temperature_is_shown(tmp_path: Path) -> None:
    text = asyncio.run(shown(tmp_path, "no-reading-yet", (80, 24), settings=Settings(signs="ascii")))
    figures = "\n".join(text.splitlines()[1:4])
    assert "140" not in figures
    assert "no reading" in figures
    assert "outside" not in text
    assert "inside band" not in text


def test_a_missed_move_says_when_it_was_due(tmp_path: Path) -> None:
    s = still.overdue()
    text = asyncio.run(shown(tmp_path, "overdue", (120, 36)))
    assert s.next_move is not None
    assert "overdue" in text
    assert f"was due at {clock(s.next_move.due)}, 0:12 ago" in text


@pytest.mark.parametrize("size", [(40, 12), (40, 30), (60, 16), (80, 24), (200, 60)], ids=str)
@pytest.mark.parametrize("turned", [0, 3])
def test_the_caution_stands_on_the_first_screen_at_any_size(tmp_path: Path, size: tuple[int, int], turned: int) -> None:
    """Also where an unfinished roast is offered above the page, and where the page is turned."""
    app = app_of(tmp_path, still.waiting(), ())
    app.opening.choosing.offers = (Offer(tmp_path / "left.jsonl", 125.0, 9, True, False),)

    async def look() -> str:
        async with app.run_test(size=size) as pilot:
            await pilot.press(*["pagedown"] * turned)
            await pilot.pause()
            app.show()
            await pilot.pause()
            return " ".join(text_of(app).split())

    text = asyncio.run(look())
    assert text.startswith("CAUTION: fire, gas, carbon monoxide")
    assert "burns. The maker's manual" in text
    assert "Never leave a running roaster." in text
    assert "Enter goes on" in text
    if not turned:
        assert "unfinished roast: 9 entries" in text


def test_half_a_degree_can_be_seen() -> None:
    """In ten rows of ±10 °C, half a degree lies one row of dots off."""
    a, b = Picture(70, 10, (0.0, 600.0), (-10.0, 10.0)).rows(np.array([1.0, 1.5]))
    assert abs(a - b) >= 0.9


@pytest.mark.parametrize(("width", "beside"), [(80, False), (120, True), (200, True)])
def test_what_a_roast_is_handed_on_with_stands_beside_the_recipe_where_there_is_room(
    tmp_path: Path, width: int, beside: bool
) -> None:
    app = app_of(tmp_path, still.waiting(), ())
    app.opening.handed_on = ["YOUR FIRST THREE ACTIONS", *(f"  {n}. do this" for n in range(1, 30))]

    async def look() -> str:
        async with app.run_test(size=(width, 50)) as pilot:
            return await painted(pilot, app)

    lines = asyncio.run(look()).splitlines()
    first = next(x for x in lines if "YOUR FIRST" in x)
    assert (first.index("YOUR FIRST") >= width // 2 - 3) == beside
    assert any("[ ] 1 " in x and "do this" in x for x in lines) == beside, "the checklist beside it"
