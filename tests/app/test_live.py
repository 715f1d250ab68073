"""The journal of a live roast when the disk fails, and what the screen then says."""

from __future__ import annotations

import asyncio
import json
import os
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from helpers import ROOT, Hand, example, live

from coach.app.live import LiveRoast
from coach.app.screens.app import RoastApp
from coach.app.screens.palette import LOOKS, Sketch
from coach.app.screens.roast_panes import figures, phase_words
from coach.roast.entries import Entry, Mark, Note, Reading
from coach.roast.roast import Numbered
from coach.session.coach import Coach
from coach.session.journal import read_journal
from coach.session.journal_writer import Scribe
from coach.session.profile_files import load_profile
from coach.session.unfinished import unfinished


def failing(call: Callable[[int], None], times: int) -> Callable[[int], None]:
    left = [times]

    def instead(descriptor: int) -> None:
        if left[0]:
            left[0] -= 1
            raise OSError(5, "Input/output error")
        call(descriptor)

    return instead


@pytest.mark.parametrize("failures", [1, 2])
def test_a_failed_write_leaves_no_line_twice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failures: int) -> None:
    roast = live(tmp_path, Hand())
    monkeypatch.setattr(os, "fsync", failing(os.fsync, failures))
    roast.enter(Mark(at=10.0, event="charge"))
    assert "NOT ON DISK" in roast.trouble
    roast.enter(Reading(at=60.0, temperature=110.0))
    roast.enter(Reading(at=90.0, temperature=95.0))
    assert roast.trouble == ""
    roast.close()
    assert [n.entry.at for n in read_journal(roast.path).entries] == [10.0, 60.0, 90.0]


def test_closing_tries_once_more(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    roast = live(tmp_path, Hand())
    monkeypatch.setattr(os, "fsync", failing(os.fsync, 1))
    roast.enter(Mark(at=10.0, event="charge"))
    roast.close()
    assert len(read_journal(roast.path).entries) == 1


def test_resume_goes_on_by_the_wall_clock(tmp_path: Path) -> None:
    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    started = datetime.now(UTC) - timedelta(seconds=200)
    roast = LiveRoast.open(profile, tmp_path, lambda: 0.0, started=started, run="live")
    roast.enter(Mark(at=10.0, event="charge"))
    roast.close()
    with roast.path.open("a") as file:
        file.write('{"at": 90.0, "kin')
    (offer,) = unfinished(tmp_path)
    path = offer.path
    assert path == roast.path
    again = LiveRoast.resume(path, profile)
    assert again.now() == pytest.approx(200, abs=20)
    again.enter(Reading(at=again.now(), temperature=150.0))
    again.close()
    assert [getattr(n.entry, "kind", "") for n in read_journal(path).entries] == ["mark", "reading"]


def test_the_clock_runs_while_a_roast_is_read_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    started = datetime.now(UTC) - timedelta(seconds=200)
    roast = LiveRoast.open(profile, tmp_path, lambda: 0.0, started=started, run="live")
    roast.enter(Mark(at=10.0, event="charge"))
    roast.close()
    receive = Coach.receive

    def slow(coach: Coach, entry: Entry, line: int | None = None) -> Numbered:
        time.sleep(1.5)
        return receive(coach, entry, line)

    monkeypatch.setattr(Coach, "receive", slow)
    again = LiveRoast.resume(roast.path, profile)
    passed = (datetime.now(UTC) - started).total_seconds()
    assert again.now() == pytest.approx(passed, abs=0.7)
    again.close()


def test_a_start_without_zone_is_not_offered(tmp_path: Path) -> None:
    roast = live(tmp_path, Hand())
    roast.enter(Mark(at=0.0, event="charge"))
    roast.close()
    first, rest = roast.path.read_text().split("\n", 1)
    roast.path.write_text(json.dumps({**json.loads(first), "started": "2026-11-25T12:00:00"}) + "\n" + rest)
    assert unfinished(tmp_path) == ()


def test_development_stands_still_after_drop(tmp_path: Path) -> None:
    hand = Hand()
    roast = live(tmp_path, hand)
    for n in example().entries:
        hand.now = n.entry.came
        roast.coach.advance(hand.now)
        roast.enter(n.entry)
    how = Sketch(LOOKS["dark"])
    before = figures(roast.coach.situation, None, 80, how).plain
    hand.now += 180
    roast.coach.advance(hand.now)
    assert "COOLING 3:0" in phase_words(roast.coach.situation), "the time goes on without an entry"
    hand.now += 60
    roast.enter(Note(at=hand.now, text="cooled"))
    assert "DEVELOPED" in before
    assert figures(roast.coach.situation, None, 80, how).plain == before
    assert "COOLING 4:0" in phase_words(roast.coach.situation)
    roast.close()


def test_held_backspace_withdraws_one_entry_at_most_and_errors_show_beside_disk_trouble(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hand = Hand()
    app = RoastApp(live(tmp_path, hand), tick=1000)

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter")
            hand.now = 10.0
            await pilot.press("c")
            hand.now = 60.0
            await pilot.press(*"110", "enter", *"12", *["backspace"] * 6)
            assert len(app.roast.live.coach.roast.readings) == 1
            await pilot.press("escape", *["backspace"] * 6)
            assert not app.roast.live.coach.roast.readings
            assert "charge" in app.roast.live.coach.roast.marks
            monkeypatch.setattr(Scribe, "trouble", "NOT ON DISK")
            await pilot.press(*"1a2", "enter")
            await pilot.pause()
            assert "not understood" in str(app.screen.query_one("#message").render())  # type: ignore[no-untyped-call]
            assert "NOT ON DISK" in str(app.screen.query_one("#trouble").render())  # type: ignore[no-untyped-call]

    asyncio.run(drive())
