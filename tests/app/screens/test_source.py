"""What a source can do beside giving entries: the keys for it, with a stand-in and with the simulated roaster."""

from __future__ import annotations

import asyncio
import json
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from helpers import EXAMPLE, Hand, Hurried, live
from still import painted

from coach.app.live import LiveRoast
from coach.app.screens.app import RoastApp
from coach.app.screens.playback import Playback, replayed
from coach.app.screens.source import Source
from coach.roast.entries import Entry, Reading
from coach.session.coach import Coach
from coach.session.journal import read_journal
from coach.session.profile_files import load_profile
from coach.session.settings import Action
from coach.simulator.machine import load_machine
from coach.simulator.rehearsal.clock import RehearsalClock
from coach.simulator.rehearsal.rehearsal import Rehearsal

PART = 300.0
"""How much of the example is replayed, s of the journal: the way is the same to its end."""


class Everything(Source):
    """A source that can do what it is asked."""

    def __init__(self) -> None:
        self.heard: list[Entry] = []
        self.waiting: list[Entry] = []
        self.begun = False

    def begin(self) -> None:
        self.begun = True

    def hear(self, entry: Entry, coach: Coach) -> None:
        self.heard.append(entry)

    def advance(self, now: float, coach: Coach) -> list[Entry]:
        out, self.waiting = self.waiting, []
        return out

    def line(self, coach: Coach) -> str:
        return "DIALS \x1b[31m"

    def do(self, action: Action, coach: Coach) -> str:
        if action == "jump":
            self.waiting.append(Reading(at=400.0, temperature=190.0))
        return f"{action}: done \x1b[31m"


def test_the_keys_of_a_source(tmp_path: Path) -> None:
    hand, source = Hand(), Everything()
    app = RoastApp(live(tmp_path, hand), source=source, tick=1000)

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            assert not source.begun
            await pilot.press("enter", "c")
            assert source.begun
            assert [e.kind for e in source.heard] == ["mark"]  # type: ignore[attr-defined]
            for key, action in (("t", "look"), ("p", "pause"), ("i", "take_over"), ("j", "jump")):
                await pilot.press(key)
                assert app.message.startswith(f"{action}: done")
                assert "\x1b" not in app.message
            hand.now = 401.0
            app.pulse()
            assert [r.shown for r in app.roast.live.coach.roast.readings] == [190.0]
            await pilot.pause()
            shown = str(app.screen.query_one("#dial").render())  # type: ignore[no-untyped-call]
            assert "DIALS" in shown
            assert "\x1b" not in shown

    asyncio.run(drive())


def test_without_a_source_the_keys_say_so(tmp_path: Path) -> None:
    app = RoastApp(live(tmp_path, Hand()), tick=1000)

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter", "t")
            assert app.message == "look: not in this roast."

    asyncio.run(drive())


def test_the_simulated_roaster_can_do_all_of_it() -> None:
    profile = load_profile("larch-hill")
    source: Source = Rehearsal(load_machine("brambleforge-1"), profile=profile, clock=RehearsalClock(lambda: 0.0))
    assert all(hasattr(source, member) for member in vars(Source) if not member.startswith("_"))


def test_a_replay_enters_what_the_journal_holds_and_corrections_find_their_lines(tmp_path: Path) -> None:
    lines = EXAMPLE.read_text().splitlines()
    wrong = '{"kind":"reading","at":130.0,"temperature":9.0}'
    mend = '{"kind":"correction","at":140.0,"of":%d,"replace":null}'
    early = [i for i, line in enumerate(lines) if '"at":12' in line or '"at": 12' in line][-1]
    lines.insert(early + 1, "")  # a blank line: the journal's line numbers are not those of the entries
    lines.insert(early + 2, wrong)
    lines.insert(early + 3, mend % (early + 3))
    path = tmp_path / "roast.jsonl"
    part = [x for x in lines if json.loads(x or "{}").get("at", 0.0) < PART]  # with the blank line
    path.write_text("\n".join(part) + "\n")
    journal = read_journal(path)
    now = [0.0]
    watch = RehearsalClock(lambda: now[0], 20.0)
    roast, source = replayed(journal, Coach(load_profile("larch-hill"), journal.header), watch)
    app = RoastApp(roast, source=source, tick=1000)

    async def drive() -> Any:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter")
            for now[0] in range(0, 18, 2):
                app.pulse()
            assert isinstance(source, Playback)
            end = time.monotonic() + 240.0
            while not source.over and time.monotonic() < end:
                await asyncio.sleep(0.001)
            assert source.over
            await pilot.press(*"150", "enter")
            assert "This is a replay" in app.message
            return app.roast.live.coach.roast

    replay = asyncio.run(drive())
    assert replay.phase == "drying"
    readings = [n for n in read_journal(EXAMPLE).entries if isinstance(n.entry, Reading) and 60 <= n.entry.at < PART]
    assert len(replay.readings) == len(readings) > 3
    assert list(tmp_path.iterdir()) == [path]


def rehearsed(folder: Path, steps: list[float], keys: bool = False) -> list[dict[str, Any]]:
    """What stands in the journal of a rehearsal on which a simulated person works, its clock moved in these steps (s).
    With ``keys`` a reading is typed after each."""
    now = [0.0]
    profile = load_profile("larch-hill")
    clock = RehearsalClock(lambda: now[0])
    source = Rehearsal(load_machine("brambleforge-1"), profile=profile, seed=4, auto=True, clock=clock)
    roast = LiveRoast.open(profile, folder, clock, started=datetime(2026, 11, 2, 8, tzinfo=UTC), run="rehearsal")
    app = RoastApp(roast, source=source, tick=1000)

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter")
            coach, app.turns.monotonic = app.roast.live.coach, Hurried(0.013)
            for step in steps:
                now[0] += step
                app.pulse()
                if keys:
                    app.roast.paste("150\n")
                    assert "logged" in app.message or "not used" in app.message
                end = time.monotonic() + 240.0
                while (coach.at < now[0] or coach.behind) and time.monotonic() < end:
                    await asyncio.sleep(0.001)
            assert coach.at == now[0]
            assert not coach.behind

    asyncio.run(drive())
    return [n.entry.model_dump() for n in read_journal(roast.path).entries]


@pytest.mark.long
def test_a_clock_of_a_rehearsal_that_jumps_is_followed(tmp_path: Path) -> None:
    steadily = rehearsed(tmp_path / "steadily", [10.0] * 70)
    at_once = rehearsed(tmp_path / "at once", [60.0, 640.0])
    assert len(steadily) > 30
    assert at_once == steadily, "nothing is lost, nothing comes twice or out of order"


def test_what_is_typed_after_a_jump_of_the_clock_is_kept(tmp_path: Path) -> None:
    without = rehearsed(tmp_path / "without", [60.0, 240.0])
    typed = rehearsed(tmp_path / "typed", [60.0, 240.0], keys=True)
    own = [e for e in typed if e["kind"] == "reading" and e["temperature"] == 150.0 and e["at"] in (60.0, 300.0)]
    assert len(own) == 2
    assert len(without) > 5
    assert sorted((e["at"], e["kind"]) for e in typed if e not in own) == sorted((e["at"], e["kind"]) for e in without)


def test_the_page_before_a_rehearsal_says_that_it_is_one(tmp_path: Path) -> None:
    started = datetime(2026, 11, 2, 8, tzinfo=UTC)
    roast = LiveRoast.open(load_profile("larch-hill"), tmp_path, Hand(), started=started, run="rehearsal")

    async def drive() -> str:
        app = RoastApp(roast, tick=1000)
        async with app.run_test(size=(80, 24)) as pilot:
            return await painted(pilot, app)

    page = asyncio.run(drive())
    assert "Enter begins the rehearsal: no drum is heated" in page
    assert "Enter rehearse" in page
