"""The screen, driven by keys: a whole roast, mistakes, and the journal it leaves."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest
from helpers import Hand, example, live

from coach.app.screens.app import RoastApp
from coach.roast.entries import Mark, Move, Reading
from coach.session.journal import read_journal


def keys_of(text: str) -> list[str]:
    names = {" ": "space", ".": "full_stop", "-": "minus", "@": "at", ":": "colon", "/": "slash"}
    return [names.get(c, c) for c in text]


async def roast(
    app: RoastApp, hand: Hand, size: tuple[int, int], picture: Path | None = None, by_keys: bool = True
) -> str:
    async def type_line(pilot: Any, text: str) -> None:
        if by_keys:
            await pilot.press(*keys_of(text), "enter")
        else:
            app.roast.paste(f"{text}\n")

    seen = ""
    async with app.run_test(size=size) as pilot:
        await pilot.press("enter")
        for n in example().entries:
            e = n.entry
            hand.now = e.came
            app.pulse()
            if isinstance(e, Reading):
                await type_line(pilot, f"{e.temperature:.0f}")
            elif isinstance(e, Move):
                await type_line(pilot, f"{e.control[0]} {e.value:g}")
            elif isinstance(e, Mark):
                await pilot.press({"first crack": "f"}.get(e.event, e.event[0]))
            if 380 < e.came < 400 or not seen:
                await pilot.pause()
                if e.came > 300:
                    seen = "\n".join(strip.text for strip in app.screen._compositor.render_strips())
                    if picture is not None:
                        picture.write_text(app.export_screenshot(title="coach"))
    return seen


@pytest.mark.parametrize("size", [(80, 24), *(pytest.param(s, marks=pytest.mark.long) for s in ((120, 40), (40, 12)))])
def test_whole_roast_by_keys(tmp_path: Path, size: tuple[int, int]) -> None:
    hand = Hand()
    app = RoastApp(live(tmp_path, hand), tick=1000)
    seen = asyncio.run(roast(app, hand, size, by_keys=size == (80, 24)))
    assert "crack" in seen
    journal = read_journal(next(tmp_path.glob("*.jsonl")))
    said = [n.entry for n in journal.entries]
    meant = [n.entry for n in example().entries]
    assert [getattr(e, "event", "") for e in said] == [getattr(e, "event", "") for e in meant]
    assert [getattr(e, "temperature", 0) for e in said] == [getattr(e, "temperature", 0) for e in meant]
    assert app.roast.live.coach.roast.phase == "cooling"


def test_mistakes_are_answered_and_nothing_is_lost(tmp_path: Path) -> None:
    hand = Hand()
    app = RoastApp(live(tmp_path, hand), tick=1000)

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter", "y")
            assert "can't come before charge" in app.message
            hand.now = 10.0
            await pilot.press("c")
            hand.now = 130.0
            await pilot.press(*keys_of("95"), "enter", *keys_of("1a2"), "enter")
            assert "not understood" in app.message
            assert app.roast.line.field.shown == "1a2"
            await pilot.press(*keys_of("918"), "enter")
            assert "not used" in app.message
            await pilot.press("backspace", "backspace")
            await pilot.press(*keys_of("g 99"), "enter")
            assert "far above" in app.message

    asyncio.run(drive())
    kinds = [n.entry.kind for n in read_journal(app.roast.live.path).entries]  # type: ignore[attr-defined]
    assert kinds == ["mark", "reading", "reading", "correction"]


def test_what_sounded_within_a_pulse_of_two_seconds_is_played(tmp_path: Path) -> None:
    hand = Hand()
    app = RoastApp(live(tmp_path, hand), tick=1000)
    played: list[str] = []
    said: list[str] = []

    class Ear:
        trouble = output = ""

        def play(self, what: str) -> None:
            played.append(what)

        def close(self) -> None:
            pass

    class Mouth:
        trouble = ""

        def say(self, text: str, after: float = 0.0) -> None:
            said.append(text)

        def close(self) -> None:
            pass

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            app.sound.speaker = Ear()  # type: ignore[assignment]
            app.sound.voice = Mouth()  # type: ignore[assignment]
            await pilot.press("enter")
            hand.now = 10.0
            await pilot.press("c")
            for hand.now in (*range(13, 99, 4), 99.0, 101.0):  # a reading is due 90 s after charge: between the two
                app.pulse()

    asyncio.run(drive())
    # the gas that the plan sets at charge was not logged: that falls due with the charge itself
    assert played == ["move due", "reading due"]
    assert said[0].endswith("move due"), "where words are wanted, the action and the cue"
    assert len(said) == len(played)
