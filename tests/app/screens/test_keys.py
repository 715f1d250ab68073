"""Keys, pastes and the page before the roast, driven on the real screen with a clock in the test's hand."""

from __future__ import annotations

import asyncio
import os
import threading
import time
from collections.abc import Awaitable, Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from helpers import ROOT, Hand, live
from still import text_of
from textual.events import Paste

from coach.advice.advice_values import Advice
from coach.app.live import LEFT_ALONE, LiveRoast
from coach.app.screens.app import RoastApp
from coach.app.screens.desk import Desk
from coach.app.screens.roast_view import RoastView
from coach.app.screens.sounding import AUDIBLE, BETWEEN
from coach.roast.entries import Mark, Pop, Reading
from coach.roast.roast import effective, fold
from coach.session.journal import read_journal
from coach.session.offers import Offer
from coach.session.profile_files import load_profile
from coach.session.roast_clock import right_now

Drive = Callable[[Any], Awaitable[None]]


class Bench:
    """The screen on an own roast: ``hand`` is its clock, also for keys that bounce."""

    def __init__(self, folder: Path, **options: Any) -> None:
        self.hand = Hand()
        self.app = RoastApp(live(folder, self.hand), tick=1000, **options)
        self.app.turns.monotonic = self.hand
        self.coach = self.app.roast.live.coach

    def run(self, drive: Drive, *, charged: bool = True, size: tuple[int, int] = (80, 24)) -> None:
        async def whole() -> None:
            async with self.app.run_test(size=size) as pilot:
                await pilot.press("enter")
                if charged:
                    self.hand.now = 10.0
                    await pilot.press("c")
                await drive(pilot)

        asyncio.run(whole())

    def at(self, now: float) -> None:
        self.hand.now = now


def test_a_mark_gets_its_time_afterwards(tmp_path: Path) -> None:
    b = Bench(tmp_path)

    async def drive(pilot: Any) -> None:
        b.at(280.0)
        await pilot.press("y", "at", "minus", "1", "2", "enter")
        assert b.coach.roast.marks["yellow"] == pytest.approx(258.0)
        b.at(300.0)
        await pilot.press("at", "4", "colon", "0", "5", "enter")
        assert b.coach.roast.marks["yellow"] == pytest.approx(245.0)
        await pilot.press("at", "9", "colon", "0", "0", "enter")
        assert "has not come yet" in b.app.message

    b.run(drive)


def test_a_mark_far_from_the_plan_is_taken_and_asked_about(tmp_path: Path) -> None:
    b = Bench(tmp_path)

    async def drive(pilot: Any) -> None:
        b.at(20.0)
        await pilot.press("f")
        assert "The plan has it at 8:07" in b.app.message
        assert "first crack" in b.coach.roast.marks
        await pilot.press("backspace", "backspace")
        assert "withdrawn: first crack at 0:10" in b.app.message
        b.at(480.0)
        await pilot.press("f")
        assert "The plan" not in b.app.message
        await pilot.press("at", "minus", "4", "enter")
        assert b.app.message.endswith("first crack now at 7:46")

    b.run(drive)


def test_a_refused_mark_can_be_given_its_time_and_gives_way_to_a_reading(tmp_path: Path) -> None:
    b = Bench(tmp_path)

    async def drive(pilot: Any) -> None:
        b.at(500.0)
        await pilot.press("f")
        b.at(510.0)
        await pilot.press("y")
        assert "y@4:10" in b.app.message
        await pilot.press("at", "4", "colon", "0", "0", "enter")
        assert b.coach.roast.marks["yellow"] == pytest.approx(240.0)
        await pilot.press("backspace", "backspace")
        b.at(520.0)
        await pilot.press("y")
        await pilot.press(*"198", "enter")
        assert [r.shown for r in b.coach.roast.readings] == [198]

    b.run(drive)


def test_a_mark_with_a_time_is_one_line_and_moves_that_mark_alone(tmp_path: Path) -> None:
    b = Bench(tmp_path)

    async def drive(pilot: Any) -> None:
        b.at(490.0)
        await pilot.press(*"ff@7:52")
        assert b.app.roast.line.text == "f@7:52", "the line says what Enter will move"
        assert b.coach.roast.marks["first crack"] == pytest.approx(480.0)
        await pilot.press("enter")
        assert b.app.message.endswith("first crack now at 7:52")
        b.at(520.0)
        await pilot.press(*"203", "enter")
        b.at(530.0)
        await pilot.press("f")
        assert b.app.message == "first crack is marked already, at 7:52. Or give its time: f@4:10"
        await pilot.press(*"@7:50", "enter")
        assert b.app.message.endswith("first crack now at 7:50")
        assert b.coach.roast.marks["first crack"] == pytest.approx(470.0)
        assert [r.t for r in b.coach.roast.readings] == [pytest.approx(510.0)], "the entry made last stays where it was"

    b.run(drive)


def test_held_and_bouncing_keys(tmp_path: Path) -> None:
    b = Bench(tmp_path)

    async def drive(pilot: Any) -> None:
        for n in range(30):  # a held space bar: one pop
            b.at(400.0 + n * 0.033)
            await pilot.press("space")
        assert len(b.coach.roast.pops) == 1
        for n in range(5):  # tapped: five
            b.at(410.0 + n * 0.4)
            await pilot.press("space")
        assert len(b.coach.roast.pops) == 6
        b.at(420.0)
        await pilot.press("f")
        b.at(420.1)
        await pilot.press("f")
        assert b.app.message.startswith("logged")
        await pilot.press(*["1"] * 3)
        for _ in range(300):
            b.app.roast.line.press("1", "1", 420.1, 420.1)
        assert len(b.app.roast.line.text) == 200
        await pilot.press("escape", *["enter"] * 5)
        assert b.app.message == ""

    b.run(drive)


def test_of_a_paste_of_many_lines_forty_are_taken_and_the_rest_is_said(tmp_path: Path) -> None:
    b = Bench(tmp_path)
    lines = [f"/note {n}" for n in range(64)]

    async def drive(pilot: Any) -> None:
        b.at(200.0)
        b.app.roast.paste("\n".join(lines) + "\n14")
        assert [text for _, text in b.coach.roast.notes] == [f"note {n}" for n in range(40)]
        assert b.app.message.endswith("(24 more lines of the paste are not taken)")
        assert b.app.roast.line.text == "", "what follows lines that were left out is left out, too"
        b.app.roast.paste("133@3:00\n/" + "x" * 300 + "\n134\n")
        assert "more than 200 characters is not taken" in b.app.message
        assert "1 line logged, line 2 of the paste not, 1 more not: " in b.app.message
        b.app.roast.paste("/" + "x" * 300)
        assert len(b.app.roast.line.text) == 200
        assert "the rest of the paste is cut off" in b.app.message

    b.run(drive)


def test_pasted_lines_are_entered_one_by_one(tmp_path: Path) -> None:
    b = Bench(tmp_path)

    async def drive(pilot: Any) -> None:
        b.at(200.0)
        b.app.post_message(Paste("110@1:40\r\n118@2:00\n\n126@2:30\n13"))
        await pilot.press("7")
        assert [r.shown for r in b.coach.roast.readings] == [110, 118, 126]
        assert b.app.roast.line.text == "137", "what is typed after a paste comes after it"
        await pilot.press("escape")
        b.app.roast.paste("130@3:00\nno such thing\n133@3:05\n")
        assert [r.shown for r in b.coach.roast.readings][-1] == 130
        assert "not understood" in b.app.message
        assert "1 more not: " in b.app.message

    b.run(drive)


def test_a_paste_of_ten_thousand_signs(tmp_path: Path) -> None:
    b = Bench(tmp_path)

    async def drive(pilot: Any) -> None:
        for junk in ("x" * 10_000, "\x1b[31m\x00\u202e" * 2500, "9\n" * 5000, "\n" * 10_000):
            b.app.post_message(Paste(junk))
            await pilot.pause()
            assert len(b.app.roast.line.text) <= 200
            assert "\x1b" not in b.app.roast.line.text + b.app.message
            await pilot.press("escape")
        await pilot.press(*"150", "enter")
        assert b.coach.roast.readings[-1].shown == 150

    b.run(drive)


def test_cues_are_muted_and_taps_undone(tmp_path: Path) -> None:
    b = Bench(tmp_path)

    async def drive(pilot: Any) -> None:
        b.at(11.0)
        b.app.pulse()
        b.at(12.0)
        b.app.pulse()
        assert b.coach.cues
        first = b.coach.cues[0].name
        await pilot.press("m")
        assert b.app.roast.live.scribe.wait(5.0)
        b.app.pulse()
        assert b.app.message.endswith(f"mute for this roast: {first}")
        await pilot.press("x")
        assert "No crack was called" in b.app.message

    b.run(drive)


def test_what_if_shows_a_setting_and_leaves_without_a_trace(tmp_path: Path) -> None:
    b = Bench(tmp_path)
    profile = b.coach.profile

    async def drive(pilot: Any) -> None:
        for t in range(60, 361, 30):
            b.at(10.0 + t)
            b.coach.advance(b.hand.now)
            b.app.roast.live.enter(Reading(at=b.hand.now, temperature=float(round(profile.curve.value(t)))))
        before, entries = b.coach.situation.forecast, b.coach.entries
        await pilot.press(*"w1", "full_stop", "0")
        await pilot.pause()
        message = str(b.app.screen.query_one("#message").render())
        assert message.startswith("WHAT IF gas 1: crack ")
        assert "now" in message
        assert b.app.screen.query_one(RoastView).shot.other is not None
        await pilot.press("escape")
        await pilot.pause()
        assert "WHAT IF" not in str(b.app.screen.query_one("#message").render())
        assert b.app.screen.query_one(RoastView).shot.other is None
        assert b.coach.situation.forecast is before
        await pilot.press(*"wa", "space", "2", "enter")
        assert b.coach.entries is entries, "a question logs nothing"
        assert b.app.roast.line.text == ""
        await pilot.pause()
        assert "WHAT IF air 2" in str(b.app.screen.query_one("#message").render())
        await pilot.press("equals_sign")
        (move,) = b.coach.roast.moves
        assert (move.control, move.shown) == ("air", 2.0)

    b.run(drive)


def test_one_key_logs_the_move_that_is_due_or_else_the_advised_one(tmp_path: Path) -> None:
    b = Bench(tmp_path)

    async def drive(pilot: Any) -> None:
        b.at(15.0)
        b.app.pulse()
        await pilot.press("o")
        assert [(m.control, m.shown) for m in b.coach.roast.moves] == [("gas", 1.6), ("air", 2.0)]
        b.at(40.0)
        b.app.pulse()
        await pilot.press("o")
        assert "No move is due now" in b.app.message
        advice = Advice("gas 1.6 to 1.4", "gas", 1.4, shown=14 * 0.1, kind="move")  # 1.4000000000000001
        b.coach.situation = replace(b.coach.situation, advice=advice)
        b.at(60.0)
        await pilot.press("o")
        assert b.coach.roast.moves[-1].shown == 1.4
        assert b.app.message.endswith("gas to 1.4, as advised")

    b.run(drive)


def test_help_returns_and_never_eats_a_mark(tmp_path: Path) -> None:
    b = Bench(tmp_path)

    async def drive(pilot: Any) -> None:
        await pilot.press("question_mark")
        assert b.app.top.view == "page"
        await pilot.press("pagedown", "escape")
        assert b.app.top.view == "roast"
        b.at(300.0)
        await pilot.press("question_mark")
        b.at(301.0)
        await pilot.press("y")
        assert b.app.top.view == "roast"
        assert "yellow" in b.coach.roast.marks

    b.run(drive)


def hold_disk(monkeypatch: pytest.MonkeyPatch) -> threading.Event:
    """From now on nothing is synced until the event is set."""
    gate, fsync = threading.Event(), os.fsync

    def held(descriptor: int) -> None:
        gate.wait(10.0)
        fsync(descriptor)

    monkeypatch.setattr(os, "fsync", held)
    return gate


def test_an_entry_is_confirmed_only_when_it_is_on_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    b = Bench(tmp_path)

    async def drive(pilot: Any) -> None:
        gate = hold_disk(monkeypatch)
        b.at(100.0)
        await pilot.press(*"95", "enter")
        assert b.app.message.startswith("saving 95")
        assert len(b.coach.roast.readings) == 1, "the roast goes on meanwhile"
        b.app.pulse()
        assert b.app.message.startswith("saving 95")
        gate.set()
        assert b.app.roast.live.scribe.wait(5.0)
        b.app.pulse()
        assert b.app.message == "logged 1:30  95"

    b.run(drive)


def test_a_doubtful_entry_is_not_said_to_be_kept_before_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    b = Bench(tmp_path)

    async def drive(pilot: Any) -> None:
        gate = hold_disk(monkeypatch)
        b.at(100.0)
        await pilot.press(*"195", "enter")
        assert b.app.message.startswith("saving 195 looks wrong (expected about ")
        assert b.app.message.endswith("not used. Type it again")
        gate.set()
        assert b.app.roast.live.scribe.wait(5.0)
        b.app.pulse()
        assert b.app.message.startswith("195 looks wrong (expected about ")

    b.run(drive)


def test_results_after_drop(tmp_path: Path) -> None:
    b = Bench(tmp_path)

    async def drive(pilot: Any) -> None:
        b.at(500.0)
        await pilot.press("f")
        b.at(590.0)
        await pilot.press("d")
        b.at(600.0)
        for line in ("in 0.8", "out 0,69", "colour 58", "score 85", "cup sweet and clean"):
            await pilot.press(*["space" if c == " " else "comma" if c == "," else "full_stop" if c == "." else c
                                for c in line], "enter")  # fmt: skip
        result = b.coach.roast.result
        assert (result.weight_in, result.weight_out, result.colour, result.cup_score) == (0.8, 0.69, 58, 85)
        assert result.cup_notes == "sweet and clean"
        await pilot.press(*"out", "space", *"many", "enter")
        assert "out many is not a weight" in b.app.message

    b.run(drive)


def test_sound_check_is_recorded_with_the_roast(tmp_path: Path) -> None:
    hand = Hand()
    app = RoastApp(live(tmp_path, hand), tick=1000)
    app.turns.monotonic = hand
    rung = []
    app.bell = lambda: rung.append(hand.now)  # type: ignore[method-assign]

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("h")
            for n in range(len(AUDIBLE) + 1):
                hand.now = n * BETWEEN + 0.1
                app.pulse()
            assert app.sound.check == "asking"
            await pilot.press("y", "enter")

    asyncio.run(drive())
    assert len(rung) == len(AUDIBLE)
    (entry,) = (n.entry for n in read_journal(app.roast.live.path).entries)
    assert (entry.kind, entry.heard, entry.output) == ("sound check", True, "terminal bell")  # type: ignore[attr-defined]


def unfinished_roast(folder: Path, *entries: Any) -> LiveRoast:
    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    folder.mkdir(exist_ok=True)
    roast = LiveRoast.open(
        profile, folder, lambda: 0.0, started=datetime.now(UTC), run="live", now=right_now()
    )  # fmt: skip
    for entry in entries:
        roast.enter(entry)
    return roast


def follow(folder: Path, drive: Drive, **options: Any) -> RoastApp:
    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    app = RoastApp(desk=Desk(profile, folder, **options), tick=1000)

    async def whole() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            end = time.monotonic() + 60.0
            while app.opening.choosing.offers is None and time.monotonic() < end:  # it begins after the first paint
                await asyncio.sleep(0.01)
            await app.workers.wait_for_complete()
            await pilot.pause()
            await drive(pilot)

    asyncio.run(whole())
    return app


def test_an_unfinished_roast_is_offered_also_before_charge(tmp_path: Path) -> None:
    roast = unfinished_roast(tmp_path, Reading(at=0.0, temperature=180.0))
    roast.close()

    async def drive(pilot: Any) -> None:
        assert pilot.app.opening.choosing.offer is not None
        assert not pilot.app.opening.choosing.offer.charged
        assert "before charge" in str(pilot.app.screen.query_one("#brief-text").render())
        await pilot.press("enter")
        await pilot.app.workers.wait_for_complete()
        await pilot.pause()
        await pilot.press(*"185", "enter")

    app = follow(tmp_path, drive)
    assert app.roast.live.path == roast.path
    assert [n.entry.temperature for n in read_journal(roast.path).entries] == [180.0, 185.0]  # type: ignore[attr-defined]
    assert len(list(tmp_path.glob("*.jsonl"))) == 1


def test_enter_goes_on_with_beans_that_are_in_the_drum(tmp_path: Path) -> None:
    roast = unfinished_roast(tmp_path, Mark(at=0.0, event="charge"))
    roast.close()

    async def drive(pilot: Any) -> None:
        assert "n begins a new one" in str(pilot.app.screen.query_one("#entry").render())
        await pilot.press("enter")
        await pilot.app.workers.wait_for_complete()
        await pilot.pause()

    app = follow(tmp_path, drive)
    assert app.roast.live.path == roast.path


def test_a_reading_typed_on_the_page_before_goes_on_with_the_roast_and_waits_in_its_line(tmp_path: Path) -> None:
    unfinished_roast(tmp_path, Mark(at=0.0, event="charge")).close()

    async def drive(pilot: Any) -> None:
        await pilot.press(*"166")
        await pilot.app.workers.wait_for_complete()
        await pilot.pause()
        assert pilot.app.roast.line.text == "166"

    follow(tmp_path, drive)


@pytest.mark.parametrize(("entry", "keys"), [(Mark(at=0.0, event="charge"), "nN"), (Pop(at=0.0), "Nn")])
def test_a_new_roast_can_be_begun_beside_an_unfinished_one(tmp_path: Path, entry: Any, keys: str) -> None:
    roast = unfinished_roast(tmp_path, entry)
    roast.close()

    async def drive(pilot: Any) -> None:
        for key in keys:
            assert pilot.app.opened is None
            await pilot.press(key)
        await pilot.press("c")

    app = follow(tmp_path, drive)
    assert app.roast.live.path != roast.path
    assert len(list(tmp_path.glob("*.jsonl"))) == 2


def test_a_line_typed_on_after_a_crash_closes_and_begins_nothing(tmp_path: Path) -> None:
    roast = unfinished_roast(tmp_path, Mark(at=0.0, event="charge"))
    roast.close()
    before = roast.path.read_bytes()

    async def drive(pilot: Any) -> None:
        for key in "/xx k":
            await pilot.press("space" if key == " " else key)
        assert pilot.app.opened is None
        assert roast.path.read_bytes() == before
        await pilot.press("escape", "x")
        assert "Shift+X closes" in pilot.app.message

    follow(tmp_path, drive)


def test_enter_before_the_folder_was_looked_at_goes_on_with_what_runs(tmp_path: Path) -> None:
    roast = unfinished_roast(tmp_path, Mark(at=0.0, event="charge"))
    roast.close()
    looked = threading.Event()

    class Slow(Desk):
        def look(self) -> tuple[Offer, ...]:
            looked.wait(20.0)
            return super().look()

    app = RoastApp(desk=Slow(load_profile("larch-hill"), tmp_path), tick=1000)

    async def whole() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter", "enter", "n", "x", "enter")
            assert app.opened is None
            assert "Looking for a roast that runs" in app.message
            looked.set()
            end = time.monotonic() + 20.0
            while app.opened is None and time.monotonic() < end:
                await asyncio.sleep(0.01)
            await app.workers.wait_for_complete()
            assert app.roast.live.path == roast.path

    asyncio.run(whole())
    assert len(list(tmp_path.glob("*.jsonl"))) == 1


def test_a_line_begun_while_a_roast_is_opened_is_whole(tmp_path: Path) -> None:
    """Cut in two, the rest of "/door" would mark the drop."""
    roast = unfinished_roast(tmp_path, Mark(at=0.0, event="charge"), Reading(at=100.0, temperature=110.0))
    roast.close()

    async def drive(pilot: Any) -> None:
        opens, resume = threading.Event(), pilot.app.opening.desk.resume

        def slowly(*args: Any) -> Any:
            opens.wait(10.0)
            return resume(*args)

        pilot.app.opening.desk.resume = slowly
        await pilot.press("enter", *"/do")
        opens.set()
        await pilot.press(*"or", "enter")
        await pilot.app.workers.wait_for_complete()
        await pilot.pause()
        await pilot.press(*"118", "enter")

    follow(tmp_path, drive)
    later = [n.entry for n in read_journal(roast.path).entries][2:]
    assert [getattr(e, "text", getattr(e, "temperature", e.kind)) for e in later] == ["door", 118.0]


def test_an_abandoned_roast_is_closed_by_a_key(tmp_path: Path) -> None:
    roast = unfinished_roast(tmp_path, Mark(at=0.0, event="charge"), Reading(at=0.0, temperature=150.0))
    roast.close()

    async def drive(pilot: Any) -> None:
        await pilot.press("x")
        assert "Shift+X closes" in pilot.app.message
        await pilot.press("X")
        assert f"coach close {roast.path.stem} --undo" in pilot.app.message
        assert pilot.app.opening.choosing.offer is None
        await pilot.press("enter")

    app = follow(tmp_path, drive)
    assert app.roast.live.path != roast.path
    journal = read_journal(roast.path)
    assert fold(journal.header, effective(journal.entries)).abandoned


def test_nothing_is_written_before_the_brief_is_left(tmp_path: Path) -> None:
    async def drive(pilot: Any) -> None:
        await pilot.press("down", "pagedown")

    follow(tmp_path, drive)
    assert list(tmp_path.iterdir()) == []


def test_a_roast_open_elsewhere_is_only_looked_at(tmp_path: Path) -> None:
    roast = unfinished_roast(tmp_path, Mark(at=0.0, event="charge"))
    try:

        async def drive(pilot: Any) -> None:
            assert pilot.app.opening.choosing.offer.in_use
            await pilot.press("enter")
            await pilot.app.workers.wait_for_complete()
            await pilot.pause()
            await pilot.press(*"150", "enter")
            assert "only looks on" in pilot.app.message
            roast.enter(Reading(at=100.0, temperature=96.0))
            pilot.app.pulse()
            assert [r.shown for r in pilot.app.roast.live.coach.roast.readings] == [96.0]
            pilot.app.roast.live.word = pilot.app.roast.live.read_only = LEFT_ALONE
            pilot.app.pulse()
            assert pilot.app.message == LEFT_ALONE
            await pilot.press(*"150", "enter")
            assert pilot.app.message == LEFT_ALONE, "what is typed is refused for the same reason"

        follow(tmp_path, drive)
    finally:
        roast.close()
    assert [n.entry.kind for n in read_journal(roast.path).entries] == ["mark", "reading"]  # type: ignore[attr-defined]


def test_what_is_learnt_late_hides_no_confirmation(tmp_path: Path) -> None:
    (tmp_path / "20261102-080000-a.jsonl").write_text((ROOT / "examples" / "invented-roast.jsonl").read_text())
    typed = threading.Event()

    class Slow(Desk):
        def learn(self) -> str:
            typed.wait(20.0)
            super().learn()
            return "trouble"

    app = RoastApp(desk=Slow(load_profile("larch-hill"), tmp_path), tick=1000)

    async def whole() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            end = time.monotonic() + 20.0
            while app.opening.choosing.offers is None and time.monotonic() < end:
                await asyncio.sleep(0.01)
            await pilot.press("enter", "c")
            app.roast.live.clock = lambda: 130.0
            await pilot.press(*"96", "enter")
            said = app.message
            assert said.startswith("logged")
            typed.set()
            await app.workers.wait_for_complete()
            await pilot.pause()
            assert app.message == said
            knowledge = app.opening.desk.learnt.knowledge
            assert knowledge.count == 1
            assert app.roast.live.coach.knowledge is not knowledge, "no forecast is changed under the person's hands"

    asyncio.run(whole())


def test_what_the_keys_before_a_roast_do_is_said_whole_in_forty_columns(tmp_path: Path) -> None:
    roast = unfinished_roast(tmp_path, Mark(at=1.0, event="charge"))
    roast.close()

    async def drive(pilot: Any) -> None:
        assert "n begins a new one  MORE BELOW" in str(pilot.app.screen.query_one("#entry").render())
        await pilot.resize_terminal(40, 12)
        await pilot.pause()
        pilot.app.show()
        said = str(pilot.app.screen.query_one("#entry").render())
        assert "Enter goes on  n new roast  ↓ more" in said
        assert len(said) <= 40

    follow(tmp_path, drive)


def test_readings_typed_in_another_unit(tmp_path: Path) -> None:
    """The header's unit decides: 203 °F is 95 °C, and the journal holds what was typed."""

    async def drive(pilot: Any) -> None:
        assert "432 °F" in str(pilot.app.screen.query_one("#brief-text").render())  # charge at 222 °C
        await pilot.press("enter", "c")
        pilot.app.roast.live.clock = lambda: 120.0
        await pilot.press(*"203", "enter")
        coach = pilot.app.roast.live.coach
        assert coach.roast.readings[0].celsius == pytest.approx(95.0)
        assert not coach.situation.estimate.doubtful
        await pilot.pause()
        assert "OFF PLAN °F" in str(pilot.app.screen.query_one("#figures").render())

    app = follow(tmp_path, drive, unit="F")
    journal = read_journal(app.roast.live.path)
    assert journal.header.unit == "F"
    assert journal.entries[-1].entry.temperature == 203  # type: ignore[attr-defined]


def test_what_earlier_roasts_teach_reaches_the_coach_before_charge(tmp_path: Path) -> None:
    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    text = (ROOT / "examples" / "invented-roast.jsonl").read_text()
    (tmp_path / "20261102-080000-a.jsonl").write_text(text)

    async def drive(pilot: Any) -> None:
        page = str(pilot.app.screen.query_one("#brief-text").render())
        assert "LAST THREE ROASTS" in page, "what the logbook hands on"
        assert "CAUTION" in str(pilot.app.screen.query_one("#caution").render())
        await pilot.press("enter")
        assert pilot.app.roast.live.coach.knowledge.count == 1

    follow(tmp_path, drive)
    assert profile.name in text


def test_what_backspace_withdraws_is_named_whole_on_the_smallest_screen(tmp_path: Path) -> None:
    b = Bench(tmp_path)

    async def drive(pilot: Any) -> None:
        b.at(170.0)
        await pilot.press("slash", *"note", "enter", "backspace")
        assert "⌫ withdraws: note 'note' at 2:40" in " ".join(text_of(b.app).split())

    b.run(drive, size=(40, 12))
