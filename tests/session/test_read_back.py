"""A roast read back, and one woken from sleep, is folded in parts: it comes to the same, and the screen goes on."""

from __future__ import annotations

import asyncio
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers import Hand, Hurried, example, live
from hypothesis import given, settings
from hypothesis import strategies as st
from test_parts import DRAWN, HEADER, PROFILE, entries_of, stands
from textual.events import Key

from coach.app.live import LiveRoast
from coach.app.screens.app import RoastApp
from coach.app.screens.desk import Desk
from coach.roast.entries import Mark, Note, Reading
from coach.roast.errors import EntryError
from coach.roast.roast import Numbered
from coach.session.coach import Coach
from coach.session.journal import line_of, read_journal
from coach.session.roast_clock import AT_A_TIME


def numbered(entries: list[Any]) -> list[Numbered]:
    return [Numbered(i + 2, e) for i, e in enumerate(entries)]


def followed(entries: list[Any]) -> Coach:
    """A coach that was there all the time."""
    coach = Coach(PROFILE, HEADER)
    for n in numbered(entries):
        while coach.at + 1.0 <= n.entry.came:
            coach.advance(coach.at + 1.0)
        coach.advance(n.entry.came)
        coach.receive(n.entry, n.line)
    return coach


@settings(max_examples=4, deadline=None, phases=DRAWN)
@given(st.integers(0, 10_000))
@pytest.mark.long
def test_read_back_in_parts_is_what_was_followed(seed: int) -> None:
    rng, entries = np.random.default_rng(seed), entries_of(seed)
    there, at_once, parts = followed(entries), Coach(PROFILE, HEADER), Coach(PROFILE, HEADER)
    at_once.read_back(numbered(entries))
    while at_once.behind:
        at_once.catch_up(1000)
    parts.read_back(numbered(entries))
    assert parts.behind
    assert parts.reading_back
    assert parts.roast.readings == there.roast.readings, "the roast is there at once"
    while parts.behind:
        assert not parts.cues
        assert parts.catch_up(int(rng.integers(1, 15))) == (), "what was heard before is not heard again"
    assert not parts.reading_back
    assert stands(parts) == stands(there) == stands(at_once)
    assert [replace(c, sounds=False) for c in parts.cues] == [replace(c, sounds=False) for c in there.cues]
    assert parts.heard == at_once.heard
    assert parts.record.episodes == at_once.record.episodes


@settings(max_examples=3, deadline=None, phases=DRAWN)
@given(st.integers(0, 10_000))
def test_entries_and_time_come_in_while_it_is_read_back(seed: int) -> None:
    rng, entries = np.random.default_rng(seed), entries_of(seed)
    more: list[Any] = [Note(at=entries[-1].came + 2.0, text="back"), Reading(at=entries[-1].came + 4.0, temperature=99)]
    there, parts = followed([*entries, *more]), Coach(PROFILE, HEADER)
    parts.read_back(numbered(entries))
    for entry in more:
        parts.catch_up(int(rng.integers(1, 30)))
        parts.advance(entry.at, most=0)
        parts.take(parts.prepare(entry), most=int(rng.integers(0, 2)))
    assert parts.situation.roast is parts.roast, "what is shown is what was entered"
    while parts.behind:
        assert parts.catch_up(int(rng.integers(1, 30))) == ()
    assert stands(parts) == stands(there)


def test_what_stands_unanswered_is_heard_once_when_all_is_read_back() -> None:
    there = followed([n.entry for n in example().entries if n.entry.came < 300.0])
    coach = Coach(PROFILE, HEADER)
    coach.read_back(there.entries)
    while coach.behind:
        assert coach.catch_up(20) == ()
    unanswered = {c.name for c in coach.cues if c.state == "unacknowledged" and c.family != "diagnostic"}
    assert unanswered, "the example has a cue standing there"
    assert coach.heard.owed == unanswered
    heard = [c.name for n in range(1, 16) for c in coach.advance(coach.at + n)]
    assert unanswered <= set(heard)
    assert coach.heard.owed == frozenset()
    assert all(heard.count(name) == 1 for name in unanswered)


def test_a_roast_with_a_reading_a_second_shows_its_forecast_before_its_cues() -> None:
    entries: list[Any] = [Mark(at=0.0, event="charge")]
    entries += [Reading(at=t + 0.4, temperature=float(round(PROFILE.curve.value(t + 0.4)))) for t in range(1, 221)]
    coach = Coach(PROFILE, HEADER)
    coach.read_back(numbered(entries))
    early = coach.situation.forecast.first_crack
    assert early is not None, "at once"
    assert coach.reading_back
    while coach.behind:
        coach.catch_up(10)
    after = coach.situation.forecast.first_crack
    assert after is not None
    assert early.time.median == pytest.approx(after.time.median, abs=0.01)


def test_entries_that_are_no_roast_are_refused() -> None:
    coach = Coach(PROFILE, HEADER)
    with pytest.raises(EntryError):
        coach.read_back(numbered([Mark(at=5.0, event="charge"), Mark(at=9.0, event="charge")]))
    assert coach.entries == ()
    assert not coach.reading_back


def test_time_that_passed_in_sleep_is_folded_in_parts() -> None:
    whole = followed([n.entry for n in example().entries if n.entry.came < 300.0])
    parts = followed([n.entry for n in example().entries if n.entry.came < 300.0])
    assert whole.roast.charge_at is not None
    at = whole.roast.charge_at + 420.0
    whole.advance(at)
    assert parts.advance(at, most=AT_A_TIME) == ()
    assert parts.behind
    assert parts.situation.at == at, "the clock is right at once"
    while parts.behind:
        parts.catch_up(3)
    assert stands(parts) == stands(whole)
    assert parts.advance(at + AT_A_TIME - 1.0, most=AT_A_TIME) is not None
    assert not parts.behind, "a little time passes at once"


def test_the_screen_after_sleep(tmp_path: Path) -> None:
    hand = Hand()
    app = RoastApp(live(tmp_path, hand), tick=1000)

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter")
            coach = app.roast.live.coach
            for n in example().entries[:12]:
                hand.now = n.entry.came
                coach.advance(hand.now)
                app.roast.live.enter(n.entry)
            app.turns.monotonic = Hurried(0.013)  # one second is folded in each part
            hand.now += 300.0
            app.pulse()
            assert coach.behind
            app.post_message(Key("1", "1"))
            app.post_message(Key("5", "5"))
            while app.roast.line.text != "15":
                await asyncio.sleep(0.001)
            assert coach.behind, "keys are taken meanwhile"
            assert coach.situation.at == hand.now
            end = time.monotonic() + 60.0
            while coach.behind and time.monotonic() < end:
                await pilot.pause(0.005)
            assert not coach.behind
            assert coach.cues

    asyncio.run(drive())


def test_the_screen_of_a_roast_gone_on_with_takes_keys_at_once(tmp_path: Path) -> None:
    entries = [n.entry for n in example().entries if n.entry.came < 400.0]
    first = live(tmp_path, Hand())
    first.close()
    header = first.coach.header.model_copy(
        update={"started": (datetime.now(UTC) - timedelta(seconds=410)).isoformat(), "boot": "", "uptime": 0.0}
    )
    first.path.write_text(line_of(header) + "".join(map(line_of, entries)))
    app = RoastApp(desk=Desk(PROFILE, tmp_path), tick=0.1)

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            end = time.monotonic() + 60.0
            while app.opening.choosing.offer is None and time.monotonic() < end:
                await pilot.pause(0.02)
            app.opening.press("enter")  # (the pilot would wait until nothing is to be done any more)
            while app.top.view == "brief" and time.monotonic() < end:
                await asyncio.sleep(0.001)
            coach = app.roast.live.coach
            assert coach.reading_back
            assert coach.behind
            assert not (tmp_path / f"{first.path.stem}.record.json").exists()
            app.roast.paste("171\n")
            assert coach.roast.readings[-1].celsius == 171.0
            assert "not used" in app.message or "logged" in app.message
            assert read_journal(first.path).entries[-1].entry.kind == "reading"
            assert coach.reading_back, "taken before all is read back"
            while coach.behind and time.monotonic() < end:
                await pilot.pause(0.01)
            assert not coach.reading_back
            assert coach.situation.estimate is not None
            assert coach.record.episodes
            path = first.path
        assert path.with_name(f"{path.stem}.record.json").exists()

    asyncio.run(drive())


def test_left_while_it_is_read_back_the_cues_kept_before_stay(tmp_path: Path) -> None:
    first = live(tmp_path, Hand())
    for n in example().entries[:14]:
        first.coach.advance(n.entry.came)
        first.enter(n.entry)
    first.close()
    kept = first.path.with_name(f"{first.path.stem}.record.json")
    before = kept.read_text()
    again = LiveRoast.resume(first.path, first.coach.profile)
    assert again.coach.behind
    again.close()
    assert kept.read_text() == before


def test_left_in_the_middle_of_a_fold(tmp_path: Path) -> None:
    hand = Hand()
    app = RoastApp(live(tmp_path, hand), tick=1000)
    app.turns.monotonic = hand  # it stands: what is begun of a fold is done to its end

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter")
            await pilot.press("c")
            app.roast.paste("100\n")
            hand.now = 200.0
            app.pulse()
            assert app.roast.live.coach.behind
        assert app.roast.live.coach.behind, "what is left undone is no fault"

    asyncio.run(drive())
