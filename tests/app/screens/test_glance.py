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

from coach.app.screens.act import act
from coach.app.screens.blocks import BIG
from coach.app.screens.glance import Glance, glance, glance_text
from coach.app.screens.palette import LOOKS, Sketch
from coach.cues.situation import ActiveCue, NextMove, Situation
from coach.session.settings import Settings

HOW = Sketch(LOOKS["dark"])
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
    assert least <= BIG.height / 2 * ROW_MM, "the smallest letters"
    for g in (
        Glance("danger", "heat off", "", ("236°", "CRACK 7:38"), "▲"),
        Glance("now", "open the door", "0:00", ("212°", "DEV 1:28"), "="),
        Glance("later", "listen for first crack", "12:34", ("182°", "CRACK 7:38"), "▼"),
    ):
        text = glance_text(g, *size, HOW).plain.split("\n")[1:]
        assert not set("".join(text)) - set(" █▀▄═"), "all of it but the key in block characters"
        assert sum(bool(set(line) & set("█▀▄")) for line in text) >= 8, "two lines of letters at least"


def test_a_small_terminal_keeps_the_words() -> None:
    text = glance_text(Glance("soon", "gas 1.2", "12:34", ("182°", "CRACK 7:38"), "="), 40, 9, HOW).plain
    assert "SOON" in text
    assert "█" in text
    assert "182°" in text
    assert all(len(line) == 40 for line in text.splitlines())
    assert len(text.splitlines()) == 9


def test_block_letters_have_the_size_they_say() -> None:
    for sign, glyph in BIG.glyphs.items():
        assert len(glyph) == BIG.height
        assert len({len(row) for row in glyph}) == 1, sign
    for scale in (1, 2, 3):
        lines = BIG.draw("8:0", scale)
        assert len(lines) == BIG.rows(scale)
        assert {len(line) for line in lines} == {BIG.width("8:0", scale)}
    assert len({tuple(g) for g in BIG.glyphs.values()}) == len(BIG.glyphs), "no two signs look alike"


def seen(s: Situation, cues: tuple[ActiveCue, ...] = ()) -> Glance:
    return glance(s, act(s, cues, lambda action: action[0]))


def test_what_it_says() -> None:
    now = seen(still.crack(), still.drop_now())
    assert (now.urgency, now.what, now.facts) == ("now", "open the door", ("200°", "DEV 0:20"))
    early = seen(still.mid_roast(), still.with_cues())
    assert (early.urgency, early.what) == ("now", "gas 1.4"), "the move that is advised, only where to"
    calm_of = replace(still.mid_roast(), advice=None)
    assert calm_of.next_move is not None
    calm = seen(calm_of)
    air = replace(calm_of.next_move.step, control="air", shown=3.5, value=3.5)
    twice = seen(replace(calm_of, due_moves=(calm_of.next_move, NextMove(air, 368.0, 23.0))))
    assert (calm.urgency, calm.left, calm.what, calm.facts) == ("soon", "0:23", "gas 1.2", ("165°", "CRACK 7:54"))
    assert twice.what == "gas 1.2, air to 3.5", "of two moves each its own target"
    assert seen(still.cooling()).facts == ("DROP 9:30",)
    waiting = seen(still.waiting())
    assert (waiting.what, waiting.left, waiting.facts[0]) == ("charge at 222 °C", "0:24", "205°")


def test_off_plan_shows_in_the_sign() -> None:
    s = still.mid_roast()
    for off, sign in ((9.0, "▲"), (-9.0, "▼"), (0.5, "=")):
        assert seen(replace(s, forecast=replace(s.forecast, deviation=off))).sign == sign


def test_one_key_there_and_back_and_readings_go_on(tmp_path: Path) -> None:
    app = still.app_of(tmp_path, still.mid_roast(), settings=Settings(glance=True))

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter")
            assert app.top.view == "glance", "as the settings have it"
            await pilot.press("1", "6")
            assert app.roast.line.text == "16"
            await pilot.press("escape", "v")
            assert app.top.view == "roast"
            app.turns.monotonic = lambda: float("inf")  # pressed again later: not a key that bounces
            await pilot.press("v")
            assert app.top.view == "glance"

    asyncio.run(drive())
