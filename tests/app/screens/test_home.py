"""The home screen: what it lists, what its keys do, and that a week's tasks are a few keys away."""

from __future__ import annotations

import asyncio
import gc
import threading
import warnings
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from helpers import EXAMPLE
from textual.widgets import OptionList

import coach.app.screens.home
from coach.app.arguments import COMMANDS, parser
from coach.app.screens.board import Row
from coach.app.screens.home import ALWAYS, HomeApp, sections
from coach.app.screens.program import hand_over
from coach.logbook.index.overview import home_page
from coach.session.folders import note_sounds_heard

NOW = datetime(2026, 11, 3, 9, 0)


@pytest.fixture
def week(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home with one live roast of yesterday."""
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    (tmp_path / "roasts").mkdir()
    lines = EXAMPLE.read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [line for line in lines if '"result"' not in line]
    (tmp_path / "roasts" / "yesterday.jsonl").write_text("".join(kept), encoding="utf-8")
    return tmp_path


def rows() -> list[Row | str]:
    return list(sections(home_page(NOW), NOW))


async def read(app: HomeApp, pilot: Any) -> None:
    """Wait until the list holds what the logbook has."""
    while not app.listing.ready():
        await pilot.pause(0.005)
    await app.workers.wait_for_complete()
    await pilot.pause()


def press(keys: list[str], size: tuple[int, int] = (80, 24), at: str = "") -> HomeApp:
    app = HomeApp(now=NOW, at=at)

    async def go() -> None:
        async with app.run_test(size=size) as pilot:
            await read(app, pilot)
            for key in keys:
                await pilot.press(key)
            await pilot.pause()

    asyncio.run(go())
    return app


def test_what_is_found_while_the_screen_is_left_is_dropped_in_silence(week: Path) -> None:
    """A thread never leaves a coroutine to a loop that may be over: Python would print that nobody awaited it."""
    came: list[str] = []
    app = HomeApp(now=NOW)

    async def go() -> None:
        async with app.run_test() as pilot:
            await asyncio.to_thread(lambda: hand_over(app, lambda: came.append("in time")))
            await pilot.pause()

    asyncio.run(go())
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        late = threading.Thread(target=lambda: hand_over(app, lambda: came.append("too late")))
        late.start()
        late.join(5.0)
        gc.collect()
    assert (came, late.is_alive(), [str(w.message) for w in said]) == (["in time"], False, [])
    house = Path(coach.app.screens.home.__file__).parent
    assert [p.name for p in house.rglob("*.py") if "call_from_thread(" in p.read_text(encoding="utf-8")] == []


def test_the_first_start_leads_through_three_steps(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    found = rows()
    steps = [r for r in found if isinstance(r, Row) and r.ident.startswith("step")]
    assert [r.tasks[0].argv[0] for r in steps] == ["sounds", "rehearse", "import"]
    assert "NEEDS ATTENTION" not in found
    assert "LAST ROASTS" not in found
    app = press(["enter"])
    assert app.chosen is not None
    assert app.chosen.argv == ("sounds",)
    note_sounds_heard()
    assert next(r for r in rows() if isinstance(r, Row) and r.ident == "step 1").text.endswith("done")
    for at in ("", "step 1"):  # what was done leads to what is to be done next
        app = press(["enter"], at=at)
        assert app.chosen is not None
        assert app.chosen.argv[0] == "rehearse"


def test_a_roast_of_a_sheet_does_not_say_that_the_sounds_were_heard(week: Path) -> None:
    step = next(r for r in rows() if isinstance(r, Row) and r.ident == "step 1")
    assert not step.text.endswith("done")


def test_a_roast_without_results_needs_attention(week: Path) -> None:
    found = rows()
    missing = next(r for r in found if isinstance(r, Row) and r.ident.startswith("results "))
    assert missing.tasks[0].argv == ("result", "yesterday")
    app = press(["enter", *"out 690g", "enter"], at="results yesterday.jsonl")
    assert app.chosen is not None
    assert app.chosen.argv == ("result", "yesterday", "out", "690g")
    with (week / "roasts" / "yesterday.jsonl").open("a", encoding="utf-8") as file:
        file.write('{"kind":"result","at":700.0,"weight_in":0.8,"weight_out":0.69}\n')
    assert "NEEDS ATTENTION" not in rows()


@pytest.mark.parametrize("size", [(80, 24), (120, 36), (200, 60)])
def test_a_profile_is_followed_by_one_key(week: Path, size: tuple[int, int]) -> None:
    app = press(["enter"], size, at="profile larch-hill")
    assert app.chosen is not None
    assert app.chosen.argv == ("follow", "larch-hill")
    assert press(["q"], size).chosen is None


WEEK = {
    "roast the profile roasted last": ["enter"],
    "rehearse it": ["r"],
    "brief": ["b"],
    "weigh the last roast": ["down", "down", "down", "enter", *"out 690g", "enter"],
    "review the last roast": ["down", "down", "down", "b"],
    "accept and adopt it": ["down", "down", "down", "a", *"Nov", "enter"],
    "trend": ["t"],
    "how right the forecasts were": ["a"],
    "plan the day": ["p", *"larch-hillx3", "enter"],
    "the logbook": ["l"],
    "a sheet": ["i", *"r.csv", "enter"],
}


def test_a_weeks_tasks_are_few_keys_away(week: Path) -> None:
    """Besides what has to be typed anyhow, no task of a week takes more than five keys from the home screen."""
    note_sounds_heard()
    for n in range(3):
        text = (week / "roasts" / "yesterday.jsonl").read_text()
        (week / "roasts" / f"{n}.jsonl").write_text(text.replace("2026-11-02T", f"2026-09-0{n + 1}T"))
    for task, keys in WEEK.items():
        app = press(keys)
        assert app.chosen is not None, task
        free = [k for k in keys if len(k) > 1] + [k for k in keys[:1] if len(k) == 1]
        assert len(free) <= 5, task


def test_a_question_can_be_left(week: Path) -> None:
    app = press(["i", "x", "escape", "down", "?", "escape", "l"])
    assert app.chosen is not None
    assert app.chosen.argv == ("log", "--screen")


def test_every_command_but_a_few_is_reached_and_is_understood(week: Path) -> None:
    """Each act is a command line that the program takes; what is not there is for files and other programs."""
    acts = [*ALWAYS, *(a for r in rows() if isinstance(r, Row) for a in r.tasks)]
    reached = {a.argv[0] for a in acts}
    assert set(COMMANDS) - reached <= {"schema", "close", "completions"}
    for act in acts:
        argv = list((act.with_answer(act.example) if act.ask else act).argv)
        args, unknown = parser().parse_known_args(argv)
        assert not unknown
        assert args.command == argv[0]


def test_keys_of_a_line_are_told_and_none_is_given_twice(week: Path) -> None:
    for row in rows():
        if isinstance(row, Row):
            keys = [a.key for a in row.tasks]
            assert len(keys) == len(set(keys))
            assert "q" not in keys
            assert "?" not in keys


def test_the_list_keeps_its_place_when_the_logbook_has_been_read(week: Path) -> None:
    app = HomeApp(now=NOW, at="roast yesterday.jsonl")

    async def go() -> None:
        async with app.run_test(size=(120, 36)) as pilot:
            await read(app, pilot)
            found = app.query_one("#list", OptionList)
            assert found.highlighted is not None
            assert found.get_option_at_index(found.highlighted).id == "roast yesterday.jsonl"

    asyncio.run(go())


def test_enter_begins_nothing_while_the_logbook_is_read(week: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(HomeApp, "_look", lambda self: None)
    app = HomeApp(now=NOW)

    async def go(*keys: str) -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press(*keys)
            await pilot.pause()

    asyncio.run(go("enter"))
    assert app.chosen is None
    app = HomeApp(now=NOW)
    asyncio.run(go("down", "enter"))
    assert app.chosen is not None, "what was chosen is done"
