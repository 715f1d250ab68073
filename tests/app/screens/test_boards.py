"""Logbook, trend, drills and progress as lists: what stands in them, and that each line opens."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from helpers import EXAMPLE
from still import painted

from coach.app.arguments import parser
from coach.app.screens.board import Board, show_board
from coach.app.screens.boards import DrillList, LogList, ProgressList, TrendList
from coach.app.screens.home import HomeApp, told_error
from coach.app.screens.lists import Listing, Row, Task
from coach.app.screens.roast_rows import roast_tasks
from coach.app.screens.score_board import ScoreList
from coach.logbook.index.index import load_summary
from coach.logbook.index.overview import ProfileLine
from coach.logbook.index.summary import Summary
from coach.logbook.trend.trend import trend
from coach.roast.roast import effective, fold
from coach.roast.units import clock
from coach.session.journal import read_journal
from coach.session.profile_files import load_profile
from coach.session.settings import Settings
from coach.simulator.rehearsal.history import Record
from coach.simulator.rehearsal.inject import Truth
from coach.simulator.rehearsal.judged import Judged
from coach.simulator.rehearsal.model import drill_names, load_drill
from coach.simulator.rehearsal.score import Part, Score
from coach.verification.cue_outcomes import OutcomeLine

NOW = datetime(2026, 11, 30, 9, 0)
SIZES = [(80, 24), (120, 36), (200, 60)]


def roasts(count: int = 9) -> list[Summary]:
    """The invented roast on some days, with a score that differs."""
    one = replace(load_summary(EXAMPLE, EXAMPLE.name), run="live")
    crack = one.crack_time or 487.0
    days = [datetime(2026, 11, 5, 8) - timedelta(days=n) for n in range(count)]
    return [
        replace(one, file=f"r{n}.jsonl", moment=day.isoformat(), cup_score=84.0 + n % 2,
                crack_time=crack + (40.0 if n == 0 else n % 3))
        for n, day in enumerate(days)
    ]  # fmt: skip


def log_list() -> LogList:
    return LogList(roasts(), ["9 roasts"], NOW)


def trend_list() -> TrendList:
    found = trend(load_profile("larch-hill"), list(reversed(roasts())))
    return TrendList(found, ("trend", "larch-hill"))


def drill_list() -> DrillList:
    return DrillList([(n, load_drill(n)) for n in drill_names()], "larch-hill")


def progress_list() -> ProgressList:
    records = [
        Record(started="2026-11-03T08:15:30+00:00", profile="larch-hill", points=p, call_off=c, drill=d)
        for p, c, d in ((62.0, 14.0, ""), (81.0, 1.0, "cold-drum"))
    ]
    return ProgressList([("ada", records)])


def outcome() -> Judged:
    """The invented roast as a rehearsal: a drill, two cues, one of them false."""
    journal, profile = read_journal(EXAMPLE), load_profile("larch-hill")
    entries = effective(journal.entries)
    roast = fold(journal.header, entries)
    at = roast.charge_at or 0.0
    truth = Truth(
        charge=at, yellow=at + 240.0, first_crack=at + 485.0, drop=at + 575.0, times=np.array([0.0]),
        probe=np.array([20.0]), mass_loss=0.12,
    )  # fmt: skip
    parts = (
        Part("first crack", 0.95, 15.0, "6 s before the plan's time"),
        Part("call of crack", 0.4, 15.0, "14 s late"),
    )
    cues = (
        OutcomeLine("move due", "prompt", "low", 330.0, "gas 1.2", 1, False, "useful", "made at 5:51", "acted", 21.0),
        OutcomeLine("too hot", "alarm", "low", 400.0, "too hot", 1, False, "false", "2.1 °C below the plan at 7:10"),
    )
    return Judged(
        profile, roast, entries, truth, "wet-lot", load_drill("wet-lot"), Score(67.5, parts), cues, ("stage",)
    )


def score_list() -> ScoreList:
    return ScoreList(outcome(), EXAMPLE, ("rehearse", "larch-hill"), ("rehearse", "larch-hill", "--seed", "2"))


BOARDS = [log_list, trend_list, drill_list, progress_list, score_list]


def rows(board: Listing, wide: int = 76) -> list[Row]:
    return [x for x in board.items(wide) if isinstance(x, Row)]


@pytest.mark.parametrize("make", BOARDS)
def test_each_line_opens_with_a_command_that_is_understood(make: Any) -> None:
    board = make()
    found = rows(board)
    assert len(found) >= 2
    assert len({r.ident for r in found}) == len(found)
    for r in found:
        assert r.tasks[0].key == "enter"
        keys = [a.key for a in r.tasks]
        assert len(set(keys)) == len(keys)
        for task in (*r.tasks, *board.always):
            argv = list((task.with_answer(task.example) if task.ask else task).argv)
            if not argv:  # home
                continue
            _, unknown = parser().parse_known_args(argv)
            assert not unknown


@pytest.mark.parametrize("make", BOARDS)
def test_lines_fit_and_plain_signs_are_kept(make: Any) -> None:
    board = Board(make(), Settings(signs="ascii"))

    async def look() -> str:
        async with board.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            return "\n".join(s.text for s in board.screen._compositor.render_strips())

    text = asyncio.run(look())
    assert text.isascii()
    assert len(rows(board.listing, 40)) == len(rows(board.listing, 200)), "the same lines at any width"


def pressed(listing: Listing, keys: Iterable[str], at: str = "") -> tuple[str, ...]:
    board = Board(listing, at=at)

    async def go() -> None:
        async with board.run_test(size=(80, 24)) as pilot:
            for key in keys:
                await pilot.press(key)
            await pilot.pause()

    asyncio.run(go())
    return board.chosen.argv if board.chosen is not None else ()


def test_a_roast_is_reviewed_marked_and_adopted_by_a_key() -> None:
    assert pressed(log_list(), ["enter"]) == ("review", "r0", "--screen")
    assert pressed(log_list(), ["down", "y"]) == ("result", "r1", "accepted", "yes")
    assert pressed(log_list(), ["a", *"Nov", "enter"]) == ("adopt", "r0", "--name", "Nov")
    assert pressed(log_list(), ["escape", "?", "escape", "q"]) == ()


def test_a_score_says_first_what_cost_most_and_is_fair_to_the_coach_and_the_person() -> None:
    board = score_list()
    assert "68 of 100 points" in board.heading()
    by = {r.ident: r for r in rows(board)}
    assert [i for i in by if i.startswith("part")] == ["part call of crack", "part first crack"]
    assert "20 of 50" in by["part call of crack"].text
    assert "true onset   8:05" in by["part call of crack"].detail(60, False)
    assert "useful, made at 5:51, acted after 21 s" in by["cue 0"].text
    assert "FALSE, 2.1 °C below the plan" in by["cue 1"].text
    assert "   5:35  gas 1.2" in by["cue 0"].detail(60, False), "what was done around it"
    assert "13.5 % water" in " ".join(by["drill"].detail(200, False))


def test_a_score_leads_to_another_rehearsal_or_home_by_one_key(monkeypatch: pytest.MonkeyPatch) -> None:
    assert pressed(score_list(), ["r"]) == ("rehearse", "larch-hill")
    board, ran = Board(score_list()), list[Any]()
    monkeypatch.setattr(
        "coach.app.screens.board.on_screen", lambda app: setattr(app, "chosen", board.listing.always[1]) or 0
    )
    assert show_board(lambda at: board, lambda argv: ran.append(argv) or 0) == 0
    assert ran == [()], "home, and the score does not come back"


def test_space_shows_more_of_a_line_where_there_is_no_room_beside() -> None:
    board = Board(score_list())

    async def look() -> list[str]:
        async with board.run_test(size=(80, 24)) as pilot:
            out = []
            for key in ("space", "down", "escape"):
                await pilot.press(key)
                await board.workers.wait_for_complete()
                out.append(await painted(pilot, board))
            return out

    opened, below, closed = asyncio.run(look())
    assert "true onset" in opened
    assert "14 s late" in opened
    assert "First crack, as it truly came" in below
    assert "First crack, as it truly came" not in closed


def test_the_logbook_has_a_heading_for_each_month_and_keeps_its_line() -> None:
    items = list(log_list().items(76))
    heads = [x for x in items if isinstance(x, str)]
    assert [h.partition("   ")[0] for h in heads] == ["NOVEMBER 2026", "OCTOBER 2026"]
    first = items[1].text  # type: ignore[union-attr]
    assert "crack" not in first, "it stands above, once"
    assert first[: heads[0].index("crack") + 3].endswith(clock(log_list().roasts[0].crack_time or 0.0))
    assert "Larch Hill everyday (invented)" in first, "the name has the room"
    assert pressed(log_list(), ["enter"], at="roast r7.jsonl") == ("review", "r7", "--screen")


def test_a_roast_left_unfinished_is_closed_from_the_logbook() -> None:
    board = LogList([replace(roasts(1)[0], drop_time=None, ended="unfinished")], now=NOW)
    (row,) = rows(board)
    assert row.text.endswith("unfinished")
    assert [t.argv[0] for t in row.tasks] == ["log", "close"]


def test_a_quantity_opens_its_chart_and_a_flagged_roast_its_review() -> None:
    found = trend(load_profile("larch-hill"), list(reversed(roasts(30))))
    board = TrendList(found, ("trend", "larch-hill", "--since", "2026"))
    by = {r.ident: r for r in rows(board)}
    assert by["chart crack time"].tasks[0].argv == (
        "trend", "larch-hill", "--since", "2026", "--only", "crack time", "--screen",
    )  # fmt: skip
    flagged = next(r for r in rows(board) if r.ident.startswith("signal crack time"))
    assert flagged.tasks[0].argv[0] == "review"
    told = by["chart crack time"].detail(60, False)
    assert any("⠒" in x or "⠤" in x or "⠉" in x or "⣀" in x for x in told), "a chart in dots"


def test_progress_says_what_leads_on_and_how_first_crack_is_called() -> None:
    first, *_ = progress_list().items(76)
    assert first == "ADA   stage: rehearse; 2 more of 75 points, no hint, unlock 'guided'", "whole beside the details"
    newest = rows(progress_list())[0]
    assert "81 points" in newest.text
    assert "call on time" in newest.text
    assert newest.tasks[0].argv == ("review", "20261103-081530", "--screen")
    assert "call 14 s late" in rows(progress_list())[1].text
    assert "larch-hill" in rows(progress_list())[1].detail(40, False)


def test_how_right_forecasts_were_is_told_with_how_little_that_means() -> None:
    line = ProfileLine("x", "X", True, 9, "2026-11-02", 6.2, 9)
    assert told_error(line) == (
        "First crack came 6 s from where it was forecast 90 s ahead, on average of 9 roasts. Too few to judge by."
    )
    assert "Too few" not in told_error(replace(line, judged=30))
    assert "after some roasts" in told_error(replace(line, error=None, judged=0))


def test_the_way_back_to_the_list_is_printed_where_the_sound_device_cannot_silence_it(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    chosen = iter([Task("s", "sounds", ("sounds",)), None])
    monkeypatch.setattr("coach.app.screens.board.on_screen", lambda app: 0)
    monkeypatch.setattr("builtins.input", lambda: "")  # a prompt given to it goes to C's stderr
    assert show_board(lambda at: SimpleNamespace(chosen=next(chosen), at=at), lambda argv: 0) == 0  # type: ignore[arg-type,return-value]
    assert "Enter: back to the list" in capsys.readouterr().out


@pytest.mark.parametrize("size", SIZES)
def test_home_tells_of_what_is_selected_beside_it_where_there_is_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int]
) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    (tmp_path / "roasts").mkdir()
    lines = EXAMPLE.read_text(encoding="utf-8").splitlines(keepends=True)
    header = {**json.loads(lines[0]), "run": "live"}
    (tmp_path / "roasts" / "one.jsonl").write_text(json.dumps(header) + "\n" + "".join(lines[1:]), encoding="utf-8")
    app = HomeApp(now=NOW, at="roast one.jsonl")

    async def look() -> str:
        async with app.run_test(size=size) as pilot:
            while not app.listing.ready():
                await pilot.pause(0.005)
            await app.workers.wait_for_complete()
            await pilot.pause()
            return "\n".join(s.text for s in app.screen._compositor.render_strips())

    text = asyncio.run(look())
    assert ("turning point" in text) == (size[0] >= 110)
    assert "1 roast, the last" in text


def test_without_colours_the_selected_line_is_still_told_from_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    board = Board(log_list(), at="roast r2.jsonl")

    async def look() -> list[str]:
        async with board.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            strips = board.screen._compositor.render_strips()
            return [s.text for s in strips if any(x.style is not None and x.style.underline for x in s)]

    (line,) = asyncio.run(look())
    assert "03 Nov" in line  # underlined: the screen library turns reverse into colours


@pytest.mark.parametrize("width", [80, 120, 200])
def test_a_verdict_is_not_cut_off(width: int) -> None:
    board = Board(LogList([replace(r, accepted=True) for r in roasts()], now=NOW))

    async def look() -> list[str]:
        async with board.run_test(size=(width, 36)) as pilot:
            await pilot.pause()
            return [s.text for s in board.screen._compositor.render_strips()]

    assert sum("accepted" in line for line in asyncio.run(look())) == 9


def test_options_after_a_typed_name_are_options() -> None:
    task = next(t for t in roast_tasks("r1") if t.word == "adopt")
    answered = task.with_answer("Our Tuesday --safety 230 --limit gas=0.4-2.4")
    assert answered.argv == ("adopt", "r1", "--name", "Our Tuesday", "--safety", "230", "--limit", "gas=0.4-2.4")
    assert task.with_answer("Our Tuesday").argv == ("adopt", "r1", "--name", "Our Tuesday")
