"""The glance view: what it says, and that it is big enough.

Character height: NUREG-0700 rev. 2, 1.3.1-4, h = 6.283 D MA / 21600; 20 minutes of arc preferred, 16 the least
(ISO 9241-3).  A row of a terminal in 12-point type is taken as 1.2 em = 14.4 pt = 5.08 mm.
"""

from __future__ import annotations

import asyncio
from dataclasses import replace
from pathlib import Path

import pytest
import still

from coach.screens.blocks import GLYPHS, HEIGHT, big, fitting, rows, width
from coach.screens.glance import Glance, glance, glance_text
from coach.settings import Settings

ROW_MM = 14.4 * 25.4 / 72


def height_needed(metres: float, minutes: float) -> float:
    return 6.283 * metres * 1000 * minutes / 21600


def test_formula_of_character_height() -> None:
    # the table of NUREG-0700's formula: at 1 m, 20' is 5.8 mm; at 2 m, 22' is 12.8 mm
    assert height_needed(1, 20) == pytest.approx(5.8, abs=0.05)
    assert height_needed(2, 22) == pytest.approx(12.8, abs=0.05)


@pytest.mark.parametrize("size", [(80, 21), (120, 37)])
def test_everything_is_legible_from_three_metres(size: tuple[int, int]) -> None:
    least = height_needed(3, 20)
    assert least <= HEIGHT / 2 * ROW_MM, "the smallest letters"
    for g in (
        Glance("!", "212°", "DROP", "open the door"),
        Glance("▲", "12:34", "EARLY", "less heat now"),
        Glance("▸", "0:05", "DEVELOPMENT", "gas to 1.25"),
    ):
        text = glance_text(g, *size).plain
        assert fitting(f"{g.sign} {g.number}", size[0], 7) >= 2
        assert not set(text) - set(" █▀▄\n"), "all of it in block characters"


def test_number_alone_fills_a_small_terminal() -> None:
    text = glance_text(Glance("▸", "12:34", "BROWNING", "gas to 1.2"), 40, 9).plain
    assert "BROWNING" in text
    assert "GAS TO 1.2" in text
    assert "█" in text
    assert all(len(line) <= 40 for line in text.splitlines())


def test_block_letters_have_the_size_they_say() -> None:
    for sign, glyph in GLYPHS.items():
        assert len(glyph) == HEIGHT
        assert len({len(row) for row in glyph}) == 1, sign
    for scale in (1, 2, 3):
        lines = big("8:0", scale)
        assert len(lines) == rows(scale)
        assert {len(line) for line in lines} == {width("8:0", scale)}
    assert len({tuple(g) for g in GLYPHS.values()}) == len(GLYPHS), "no two signs look alike"


def test_what_it_says() -> None:
    now = glance(still.crack(), still.drop_now())
    assert (now.sign, now.number, now.word, now.action) == ("!", "200°", "DROP", "open the door")
    early = glance(still.mid_roast(), still.with_cues())
    assert (early.sign, early.word) == ("▲", "EARLY")
    assert early.action == "gas to 1.4", "the move that is advised"
    calm = glance(still.mid_roast(), ())
    assert (calm.sign, calm.number, calm.word, calm.action) == ("=", "0:23", "BROWNING", "gas to 1.2")
    assert glance(still.cooling(), ()).word == "DROPPED"
    waiting = glance(still.waiting(), ())
    assert (waiting.number, waiting.word) == ("205°", "WAIT")


def test_off_plan_shows_in_the_sign() -> None:
    s = still.mid_roast()
    for off, sign in ((9.0, "▲"), (-9.0, "▼"), (0.5, "=")):
        assert glance(replace(s, forecast=replace(s.forecast, deviation=off)), ()).sign == sign


def test_one_key_there_and_back_and_readings_go_on(tmp_path: Path) -> None:
    app = still.app_of(tmp_path, still.mid_roast(), settings=Settings(glance=True))

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter")
            assert app.view == "glance", "as the settings have it"
            await pilot.press("1", "6")
            assert app.buffer == "16"
            await pilot.press("escape", "v")
            assert app.view == "roast"
            app.monotonic = lambda: float("inf")  # pressed again later: not a key that bounces
            await pilot.press("v")
            assert app.view == "glance"

    asyncio.run(drive())
