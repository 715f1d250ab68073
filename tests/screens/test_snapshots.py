"""Every view at two sizes, as plain text, against what is stored beside this file.

After an intended change run this file with COACH_SNAPSHOTS=write in the environment, then read the diff.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import still
from still import app_of, text_of

from coach.live import Offer

SNAPSHOTS = Path(__file__).parent / "snapshots"
SMALL = ("mid-roast", "crack", "glance-drop")
VIEWS: dict[str, tuple[Callable[[], Any], Callable[[], Any], list[str]]] = {
    "brief": (still.waiting, tuple, []),
    "brief-end": (still.waiting, tuple, ["pagedown", "pagedown", "pagedown"]),
    "waiting": (still.waiting, tuple, ["enter"]),
    "no-reading-yet": (still.before_first_reading, tuple, ["enter"]),
    "mid-roast": (still.mid_roast, still.with_cues, ["enter"]),
    "typing": (still.mid_roast, still.with_cues, ["enter", "1", "6", "8"]),
    "taps": (still.tapped_crack, tuple, ["enter"]),
    "crack": (still.crack, still.drop_now, ["enter"]),
    "cooling": (still.cooling, tuple, ["enter"]),
    "glance": (still.mid_roast, still.with_cues, ["enter", "v"]),
    "glance-drop": (still.crack, still.drop_now, ["enter", "v"]),
    "help": (still.mid_roast, still.with_cues, ["enter", "question_mark"]),
}


async def shown(folder: Path, name: str, size: tuple[int, int], **options: Any) -> str:
    situation, cues, keys = VIEWS[name]
    app = app_of(folder, situation(), cues(), **options)
    async with app.run_test(size=size) as pilot:
        await pilot.press(*keys)
        await pilot.pause()
        app.refresh_all()
        await pilot.pause()
        return text_of(app)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
@pytest.mark.parametrize("name", list(VIEWS))
def test_view(tmp_path: Path, name: str, size: tuple[int, int]) -> None:
    text = asyncio.run(shown(tmp_path, name, size))
    stored = SNAPSHOTS / f"{name}-{size[0]}x{size[1]}.txt"
    if os.environ.get("COACH_SNAPSHOTS") == "write":
        stored.write_text(text, encoding="utf-8")
    assert text == stored.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= size[1]


@pytest.mark.parametrize("name", SMALL)
def test_small_terminal(tmp_path: Path, name: str) -> None:
    text = asyncio.run(shown(tmp_path, name, (40, 12)))
    stored = SNAPSHOTS / f"{name}-40x12.txt"
    if os.environ.get("COACH_SNAPSHOTS") == "write":
        stored.write_text(text, encoding="utf-8")
    assert text == stored.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["mid-roast", "glance", "help", "brief"])
def test_plain_ascii_terminal(tmp_path: Path, name: str) -> None:
    from coach.settings import Settings

    text = asyncio.run(shown(tmp_path, name, (80, 24), settings=Settings(signs="ascii")))
    stored = SNAPSHOTS / f"{name}-ascii-80x24.txt"
    if os.environ.get("COACH_SNAPSHOTS") == "write":
        stored.write_text(text, encoding="utf-8")
    assert text.isascii()
    assert text == stored.read_text(encoding="utf-8")


def test_states_differ_as_plain_text(tmp_path: Path) -> None:
    """No state is told by colour alone: as text without any style all of these differ."""
    texts = []
    for i, cues in enumerate((still.with_cues(), still.with_cues()[:1], still.with_cues()[1:], still.drop_now(), ())):
        app = app_of(tmp_path / str(i), still.mid_roast(), cues)

        async def look(app: Any = app) -> str:
            async with app.run_test(size=(80, 24)) as pilot:
                await pilot.press("enter")
                await pilot.pause()
                return text_of(app)

        texts.append(asyncio.run(look()))
    assert len(set(texts)) == len(texts)


def test_last_lines_of_the_brief_are_reached_and_the_hint_says_so(tmp_path: Path) -> None:
    first = asyncio.run(shown(tmp_path / "a", "brief", (80, 24)))
    last = asyncio.run(shown(tmp_path / "b", "brief-end", (80, 24)))
    assert "MORE BELOW" in first
    assert "Invented demonstration data" not in first
    assert "Invented demonstration data" in last
    assert "MORE BELOW" not in last


def test_before_the_first_reading_no_temperature_is_shown(tmp_path: Path) -> None:
    text = asyncio.run(shown(tmp_path, "no-reading-yet", (80, 24)))
    assert "140" not in "\n".join(text.splitlines()[:8])
    assert "–" in "\n".join(text.splitlines()[:3])
    assert "(no reading)" in text
    assert "off plan" not in text


@pytest.mark.parametrize("size", [(40, 12), (40, 30), (60, 16), (80, 24), (200, 60)], ids=str)
@pytest.mark.parametrize("turned", [0, 3])
def test_the_caution_stands_on_the_first_screen_at_any_size(tmp_path: Path, size: tuple[int, int], turned: int) -> None:
    """Also where an unfinished roast is offered above the page, and where the page is turned."""
    app = app_of(tmp_path, still.waiting(), ())
    app.offer = Offer(tmp_path / "left.jsonl", 125.0, 9, True, False)

    async def look() -> str:
        async with app.run_test(size=size) as pilot:
            await pilot.press(*["pagedown"] * turned)
            await pilot.pause()
            app.refresh_all()
            await pilot.pause()
            return " ".join(text_of(app).split())

    text = asyncio.run(look())
    assert text.startswith("CAUTION: fire, gas, carbon monoxide")
    assert "burns. The maker's manual" in text
    assert "Never leave a running roaster." in text
    assert "Enter goes on" in text
    if not turned:
        assert "u goes on with the unfinished roast" in text
