"""A page on a screen of its own: it fits, scrolls by keys to its end, is laid out anew for another size, and leaves."""

from __future__ import annotations

import asyncio
import os
import sys
from pathlib import Path

import pexpect
import pyte
import pytest
from helpers import EXAMPLE
from still import text_of

from coach.app.screens.ink import inked
from coach.app.screens.palette import LOOKS, Sketch, ThemeName
from coach.app.screens.reader import Reader
from coach.app.screens.widgets import PageView


def numbered(wide: int, plain: bool) -> list[str]:
    return [f"line {i} of {wide}" for i in range(100)]


def test_keys_scroll_to_the_end_and_back() -> None:
    async def go() -> None:
        app = Reader("coach review", numbered)
        async with app.run_test(size=(80, 24)) as pilot:
            while "more below" not in text_of(app):
                await pilot.pause(0.005)
            assert "line 0 of 77" in text_of(app)
            await pilot.press("pagedown")
            await pilot.pause()
            assert "line 0 of" not in text_of(app)
            await pilot.press("end")
            await pilot.pause()
            assert "line 99 of 77" in text_of(app)
            assert "the end" in text_of(app)
            await pilot.press("home", "down")
            await pilot.pause()
            assert "line 0 of" not in text_of(app)
            assert "line 1 of" in text_of(app)
            await pilot.resize_terminal(120, 40)
            await pilot.pause()
            await pilot.pause()
            assert "line 5 of 117" in text_of(app)
            await pilot.press("q")
            await pilot.pause()
            assert not app.is_running

    asyncio.run(go())


def test_a_short_page_has_nothing_below() -> None:
    async def go() -> None:
        app = Reader("coach brief", lambda wide, plain: ["one", "two"])
        async with app.run_test(size=(40, 12)) as pilot:
            await pilot.pause()
            assert not app.query_one("#page", PageView).more
            await pilot.press("escape")

    asyncio.run(go())


COMMANDS = (
    pytest.param(["review", str(EXAMPLE), "--screen"], marks=pytest.mark.long),
    ["brief", "larch-hill", "--screen"],
    ["trend", "larch-hill", "--only", "crack", "--screen"],
    ["log", "--screen"],
)


@pytest.mark.parametrize("words", COMMANDS, ids=lambda w: " ".join(x for x in w[:1]))
def test_the_real_program_at_80_by_24_without_colours(tmp_path: Path, words: list[str]) -> None:
    """In a terminal: the page stands there, End shows its end, no colour is sent where NO_COLOR is set, q leaves."""
    folder = tmp_path / "home" / "roasts"
    folder.mkdir(parents=True)
    for i in range(3):
        text = EXAMPLE.read_text().replace("T08:", f"T1{i}:").replace('"id": "', f'"id": "{i}')
        (folder / f"invented-{i}.jsonl").write_text(text)
    environment = {**os.environ, "COACH_HOME": str(tmp_path / "home"), "COACH_CACHE": str(tmp_path / "cache"),
                   "NO_COLOR": "1", "TERM": "xterm-256color", "PYTHONUTF8": "1"}  # fmt: skip
    child = pexpect.spawn(sys.executable, ["-m", "coach", *words], env=environment, dimensions=(24, 80), timeout=60)
    screen = pyte.Screen(80, 24)
    stream = pyte.ByteStream(screen)
    sent = b""

    def until(word: str) -> None:
        nonlocal sent
        for _ in range(600):
            try:
                got = child.read_nonblocking(65536, timeout=0.1)
            except pexpect.TIMEOUT:
                got = b""
            except pexpect.EOF:
                break
            sent += got
            stream.feed(got)
            if any(word in line for line in screen.display):
                return
        pytest.fail(f"'{word}' never came:\n" + "\n".join(screen.display))

    until("q leave")
    if len(words) > 2:  # a page, not a list
        until("more below")
        child.send("\x1b[F")  # End
        until("the end")
    child.send("q")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 0
    colours = [s for s in sent.split(b"\x1b[")[1:] if s.partition(b"m")[0].replace(b";", b"").isdigit()]
    codes = {int(c) for s in colours for c in s.partition(b"m")[0].split(b";") if c}
    assert not codes & {*range(30, 38), 38, *range(40, 48), 48, *range(90, 98), *range(100, 108)}


PAGE = """First crack 8:12 (+0:05), drop 9:35 (on plan)
OFF PLAN (°C), between the edges       event   plan  today
   +6.6 │⠄⠄⠄oo⠄⠄o                      yellow  4:04   4:30 !
o readings, X today; an o in words
yellow   ····[·|·]·X··   +0:26
1:00 before drop: 9:36 (9:21 to 9:51), came 9:55: −0:19, OUTSIDE
  o      the move was made"""


@pytest.mark.parametrize("name", ["dark", "light", "contrast"])  # the terminal's own yellow is both of two inks
def test_a_page_shows_headings_readings_lines_and_faults_in_inks_of_their_own(name: ThemeName) -> None:
    how = Sketch(LOOKS[name])
    page = inked(PAGE, how)
    ink: dict[str, list[str]] = {style: [] for style in how.inks().values()}
    for span in page.spans:
        ink[str(span.style)].append(PAGE[span.start : span.end])
    inks = how.inks()
    assert ink[inks["heading"]] == ["OFF PLAN (°C), between the edges"]
    assert ink[inks["today"]] == ["oo", "o", "o", "X"]
    assert ink[inks["doubt"]] == ["4:30 !", "OUTSIDE"]
    assert "event   plan  today" in ink[inks["label"]]
    assert "⠄⠄⠄" in ink[inks["plan"]]
    assert page.plain == PAGE


def test_a_page_takes_the_colours_of_another_theme() -> None:
    async def go() -> None:
        app = Reader("coach review", lambda wide, plain: ["HEADING", "words"])
        async with app.run_test(size=(40, 12)) as pilot:
            await pilot.pause()
            shown = app.query_one("#page", PageView).body
            before = shown.shown
            app.look_like("light")
            await pilot.pause()
            assert before is not None
            assert shown.shown is not None
            assert shown.shown.spans[0].style == Sketch(LOOKS["light"]).inks()["heading"] != before.spans[0].style

    asyncio.run(go())
