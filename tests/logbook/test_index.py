"""The logbook: index, filters, results added later, the commands."""

from __future__ import annotations

import json
import os
import sqlite3
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from helpers import EXAMPLE

from coach.app.cli import main
from coach.logbook.index.find import find_roast, of_profile, selected
from coach.logbook.index.index import Index, index_file, load_summary
from coach.logbook.index.listing import beginnings, listing
from coach.logbook.index.results import add_results, moisture_remark, parse_results, remark
from coach.logbook.index.summary import Summary, local, temperature_at, turning_point, weight_loss
from coach.logbook.review.review import review
from coach.logbook.review.review_page import review_page
from coach.logbook.review.review_text import page
from coach.roast.errors import CoachError, FileError
from coach.roast.reading_checks import plausible
from coach.roast.roast import Probe, effective, fold
from coach.session.folders import cache_folder
from coach.session.journal import read_journal
from coach.session.profile_files import load_profile

LARCH = "Larch Hill everyday (invented)"
NOW = datetime(2026, 11, 3, 8, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))


def roast(folder: Path, name: str, **header: object) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    first, rest = EXAMPLE.read_text().split("\n", 1)
    path = folder / f"{name}.jsonl"
    path.write_text(json.dumps({**json.loads(first), "id": name, **header}) + "\n" + rest)
    return path


def test_summary_of_the_example() -> None:
    s = load_summary(EXAMPLE, "invented-roast.jsonl")
    assert (s.ended, s.crack_time, s.drop_time, s.development) == ("dropped", 487.0, 575.0, 88.0)
    assert s.charge_temperature == 222.0
    assert s.yellow_temperature == pytest.approx(146.6, abs=1.0)
    assert s.turning_temperature is not None
    assert 80 < s.turning_temperature < 86
    assert s.ratio == pytest.approx(88 / 575)
    assert (s.loss, s.problem) == (None, "")


def test_index_follows_the_folder(tmp_path: Path) -> None:
    folder = tmp_path / "book"
    a, b = roast(folder, "a", person="Ada"), roast(folder / "deep", "b", person="Ben")
    (folder / "c.jsonl").write_text("{}\n")
    with Index.of(folder) as index:
        assert index.refresh() == 3
        assert index.refresh() == 0
        assert {r.file: r.ended for r in index.rows(files=True)} == {
            "a.jsonl": "dropped", "c.jsonl": "unreadable", "deep/b.jsonl": "dropped",
        }  # fmt: skip
        assert next(index.rows("file = 'c.jsonl'", files=True)).problem.startswith(
            "line 1: not a roast's header (id: is missing)"
        )
    b.unlink()
    with a.open("a") as file:
        file.write('{"at": 700, "kind": "result", "weight_out": 0.68}\n')
    with Index.of(folder) as index:
        assert index.refresh() == 1
        rows = {r.file: r for r in index.rows()}
        assert set(rows) == {"a.jsonl"}
        assert rows["a.jsonl"].loss == pytest.approx(15.0)
    assert not [p for p in folder.rglob("*") if p.suffix not in ("", ".jsonl")], "nothing but journals in the folder"


def test_a_damaged_or_older_index_is_built_anew(tmp_path: Path) -> None:
    folder = tmp_path / "book"
    roast(folder, "a")
    file = index_file(folder)
    file.parent.mkdir(parents=True)
    file.write_bytes(b"not a database" * 100)
    with Index.of(folder) as index:
        assert index.refresh() == 1
    with sqlite3.connect(file) as db:
        db.execute("PRAGMA user_version=99")
    db.close()
    with Index.of(folder) as index:
        assert index.refresh() == 1
    assert file.parent == cache_folder()


def test_without_a_cache_folder_the_index_is_in_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "file" / "below"))
    roast(tmp_path / "book", "a")
    with Index.of(tmp_path / "book") as index:
        assert index.refresh() == 1
        assert index.count() == 1


def test_an_index_held_by_another_process_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "book"
    roast(folder, "a")
    with Index.of(folder) as index:
        index.refresh()
    roast(folder, "b")
    connect = sqlite3.connect
    monkeypatch.setattr(sqlite3, "connect", lambda file, timeout=0.0: connect(file, timeout=0.05))
    holder = connect(index_file(folder))
    holder.execute("BEGIN EXCLUSIVE")
    with Index.of(folder) as index:
        index.refresh()
        assert index.count() == 2
    holder.close()


def test_what_counts_as_a_roast_is_one_for_all(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "home" / "roasts"
    path = roast(folder, "a")
    roast(folder, "b")
    copy = folder / "a.conflict.jsonl"
    copy.write_text(path.read_text())
    for file in (copy, folder / "b.jsonl"):
        add_results(file, {"cup_score": 85.0, "accepted": True}, [], NOW)
    (folder / "z.jsonl").write_text("{}\n")
    with Index.of(folder) as index:
        index.refresh()
        assert {r.file for r in of_profile(index, LARCH)} == {"a.conflict.jsonl", "b.jsonl"}
        assert index.count() == len(list(index.rows())) == 2
        assert (index.not_counted(), len(list(index.rows(files=True)))) == ((["a.jsonl"], ["z.jsonl"]), 4)
    assert main(["log"]) == 0
    out = capsys.readouterr().out
    assert out.splitlines()[-3:-1] == ["2 roasts; " + LEFT, "Not counted: 1 copy of them (a)."]
    assert main(["log", "--json"]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 2
    assert main(["trend", "larch-hill"]) == 0
    assert "2 roasts" in capsys.readouterr().out
    assert main(["merge", "larch-hill", "--show"]) == 0
    assert "from 2 roasts" in capsys.readouterr().out


def test_the_name_that_the_log_shows_is_the_one_that_commands_take(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "home" / "roasts"
    add_results(roast(folder, "20261102-080000-abcdef"), {"accepted": True}, [], NOW)
    (folder / "20261102-080000-abcdef.jsonl").rename(folder / "Monday best.jsonl")
    for year in ("2025", "2026"):
        roast(folder / year, "same", id=year, started="2025-11-02T08:00:00+00:00")
    for name in ("Monday best", "Monday", "20261102-0800", "last"):
        assert main(["log", name]) == 0
        assert capsys.readouterr().out.startswith("Monday best: Larch Hill everyday"), name
    journal = read_journal(find_roast("Monday", folder))
    looked = review(load_profile("larch-hill"), journal.roast, journal.path.name)
    assert " Monday best" in " ".join(page(looked, 80)[:3])
    assert "Roast Monday best: " in review_page(looked)
    assert main(["merge", "larch-hill", "--show"]) == 0
    assert "\n  Monday best\n" in capsys.readouterr().out
    assert main(["log", "same"]) == 2
    assert "2 roasts begin like that: 2025/same, 2026/same." in capsys.readouterr().err
    assert find_roast("2026/same", folder) == folder / "2026" / "same.jsonl"
    (folder / "Monday best (copy).jsonl").write_text((folder / "Monday best.jsonl").read_text() + "\n")
    assert find_roast("Mon", folder) == folder / "Monday best (copy).jsonl", "the fullest counts"


def test_rows_equal_what_the_journals_say(tmp_path: Path) -> None:
    folder = tmp_path / "book"
    path = roast(folder, "a")
    add_results(path, {"weight_out": 0.69, "accepted": False}, [], NOW)
    with Index.of(folder) as index:
        index.refresh()
        assert next(index.rows()) == load_summary(path, "a.jsonl")


@pytest.mark.parametrize(
    ("wanted", "names"),
    [
        ({}, {"a", "b"}),
        ({"person": "ása"}, {"a"}),
        ({"since": "2026-11"}, {"b"}),
        ({"until": "2026-10"}, {"a"}),
        ({"until": "2026-11-02"}, {"a", "b"}),
        ({"ended": "accepted"}, {"b"}),
        ({"rehearsals": True}, {"a", "b", "r"}),
        ({"coffee": "'; DROP TABLE roast; --"}, set()),
        ({"coffee": "%"}, set()),
    ],
)
def test_filters(tmp_path: Path, wanted: dict[str, Any], names: set[str]) -> None:
    folder = tmp_path / "book"
    roast(folder, "a", person="Ása", started="2026-10-31T08:00:00+00:00")
    add_results(roast(folder, "b", person="Ben"), {"accepted": True}, [], NOW)
    roast(folder, "r", run="rehearsal")
    with Index.of(folder) as index:
        index.refresh()
        assert {r.name for r in index.rows(*selected(**wanted))} == names


def test_results_are_added_and_earlier_lines_stay(tmp_path: Path) -> None:
    path = roast(tmp_path, "a")
    before = path.read_bytes()
    given, doubts = parse_results(["out=690g", "score=85,5", "colour=58", "scale=our meter", "notes==1+1", "doubt=air"])
    add_results(path, given, doubts, NOW)
    add_results(path, {"cup_score": 86.0}, [], NOW)
    assert path.read_bytes().startswith(before)
    journal = read_journal(path)
    done = fold(journal.header, effective(journal.entries))
    assert done.result is not None
    assert (done.result.weight_out, done.result.cup_score, done.result.cup_notes) == (0.69, 86.0, "=1+1")
    assert done.notes[-1][1] == "doubt: air"
    assert load_summary(path, "a").loss == pytest.approx(13.75)


def test_result_after_a_torn_line(tmp_path: Path) -> None:
    path = roast(tmp_path, "a")
    whole = path.read_bytes()
    path.write_bytes(whole + b'{"at": 700, "ki')
    add_results(path, {"weight_out": 0.69}, [], NOW)
    assert path.read_bytes().startswith(whole)
    assert not read_journal(path).torn


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["weight=3"], "name=value"),
        (["out"], "no value"),
        (["out="], "no value"),
        (["out=many"], "not a weight"),
        (["score=1e3"], "not a number"),
        (["accepted=perhaps"], "accepted=yes"),
        (["out=1", "out=2"], "twice"),
        (["out=0.9"], "can't come out"),
        (["out=690"], "would be 690 kg. Give it in kg, or with its unit"),
        (["in=-1"], "would be -1 kg"),
        (["in=0"], "would be 0 kg"),
        (["score=101"], "a cup score goes from 0 to 100"),
        (["score=-3"], "a cup score goes from 0 to 100"),
        (["colour=5000", "scale=x"], "no colour"),
        (["score=nan"], "not a number"),
        (["out=0.2"], "more than half"),
        (["colour=58"], "scale"),
        (["score=5000"], "a cup score"),
    ],
)
def test_wrong_results_are_refused_in_words(tmp_path: Path, words: list[str], says: str) -> None:
    path = roast(tmp_path, "a")
    before = path.read_bytes()
    with pytest.raises(CoachError, match=says):
        add_results(path, *parse_results(words), NOW)
    assert path.read_bytes() == before


def test_a_running_roast_takes_no_results(tmp_path: Path) -> None:
    path = roast(tmp_path, "a")
    lines = [x for x in path.read_text().splitlines(keepends=True) if '"drop"' not in x]
    path.write_text("".join(lines))
    with pytest.raises(FileError, match="still be running"):
        add_results(path, {"cup_score": 80.0}, [], datetime(2026, 11, 2, 8, 20, tzinfo=UTC))
    add_results(path, {"cup_score": 80.0}, [], NOW)


def test_find_roast(tmp_path: Path) -> None:
    folder = tmp_path / "book"
    roast(folder, "20261102-a")
    roast(folder, "20261102-b", started="2026-11-03T08:00:00+00:00")
    assert find_roast("20261102-a", folder).stem == "20261102-a"
    assert find_roast("last", folder).stem == "20261102-b"
    with pytest.raises(FileError, match="2 roasts begin"):
        find_roast("2026", folder)
    with pytest.raises(FileError, match="no such roast"):
        find_roast("x", folder)
    with pytest.raises(FileError, match="no logbook yet"):
        find_roast("x", tmp_path / "none")


def probe(t: float, celsius: float) -> Probe:
    return Probe(t, celsius, 1, t, celsius)


def test_reading_values() -> None:
    readings = [
        probe(0, 200),
        probe(30, 90),
        probe(60, 80),
        probe(90, 84),
        probe(120, 96),
        probe(150, 11),
        probe(180, 122),
    ]
    good = plausible(tuple(readings))
    assert [r.t for r in good] == [0, 30, 60, 90, 120, 180]
    assert temperature_at(good, 105) == pytest.approx(90.0)
    assert temperature_at(good, 150) == pytest.approx(109.0)
    assert temperature_at(good, 400) is None
    turned = turning_point(good)
    assert turned is not None
    assert 50 < turned[0] < 75
    assert turned[1] < 80
    # the vertex of an exact parabola is found exactly
    exact = [probe(t, 80 + (t - 70) ** 2 / 100) for t in (20, 60, 90, 140)]
    assert turning_point(exact) == pytest.approx((70.0, 80.0))
    sparse = [Probe(60.0 * i, y, i, 60.0 * i, y) for i, y in enumerate((200.0, 101.0, 97.0, 120.0))]
    assert turning_point(sparse) is None, "a minute between readings: it may have been anywhere"


def test_moments_are_by_this_machines_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "Asia/Tokyo")
    time.tzset()
    try:
        assert local(datetime(2026, 11, 2, 20, tzinfo=UTC)) == "2026-11-03T05:00:00"
    finally:
        monkeypatch.undo()
        time.tzset()


def test_weights_and_moisture_basis() -> None:
    assert weight_loss(0.8, 0.69) == pytest.approx(13.75)
    assert weight_loss(0.8, 0.9) is None
    # wet to dry basis: 11 % -> 0.1236, 12 % -> 0.1364 (X = w / (1 - w))


LEFT = "1 can't be read: coach log --ended unreadable"


def test_log_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["log"]) == 0
    assert "No roasts yet" in capsys.readouterr().out
    folder = tmp_path / "home" / "roasts"
    roast(folder, "a", person="Ada\x1b[31m")
    (folder / "z.jsonl").write_text("{}\n")
    assert main(["log"]) == 0
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert "1 can't be read" in out
    assert main(["log", "--ended", "unreadable"]) == 0
    shown = capsys.readouterr().out
    assert "header" in shown
    assert "coach log --ended unreadable" not in shown
    assert main(["log", "last"]) == 0
    assert "first crack" in capsys.readouterr().out
    assert main(["log", "a", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["crack_time"] == 487.0
    for bad in (
        ["--since", "May"], ["--since", "2026-13"], ["--until", "2026-02-30"], ["--ended", "well"], ["nowhere"],
        ["--logbook", os.devnull], ["--limit", "-1"],
    ):  # fmt: skip
        assert main(["log", *bad]) == 2
        capsys.readouterr()
    assert main(["log", "--coffee", "none such"]) == 0
    assert capsys.readouterr().out.splitlines() == ["No roast is like that.", LEFT]
    assert main(["result", "a", "out=0.69"]) == 0
    assert "13.8 %" in capsys.readouterr().out


@pytest.mark.parametrize("width", [60, 80, 100, 120])
def test_the_list_fits_the_terminal(tmp_path: Path, width: int) -> None:
    row = load_summary(roast(tmp_path, "20261102-080000-abcdef", person="Ada"), "20261102-080000-abcdef.jsonl")
    lines = listing([row, row], width)
    assert all(len(x) <= max(width, 75) for x in lines)
    assert "20261102-080000-abcdef" in lines[1], "the name by which it is opened is always there"
    assert (row.profile in lines[1]) == (width >= 120), "the profile's name is whole where there is room"


@pytest.mark.parametrize("width", [77, 80, 100])
def test_a_narrow_list_still_says_which_profile_what_came_out_and_how_it_tasted(width: int) -> None:
    rows = [
        Summary(
            file=f"202611{day:02d}-080000-abcde{day % 10}.jsonl", moment=f"2026-11-{day:02d}T08:00:00", person="Ada",
            profile=f"{name} (invented)", ended="dropped", yellow_time=240.0, crack_time=480.0, drop_time=600.0,
            drop_temperature=212.0, accepted=True, loss=13.75, cup_score=84.25, unit="F",
        )
        for day, name in ((3, "Larch Hill everyday"), (4, "Moss Lane longer"))
    ]  # fmt: skip
    short = beginnings([r.name for r in rows] + ["20261104-0830-x"])
    assert short["20261103-080000-abcde3"] == "20261103-0800"
    assert short["20261104-080000-abcde4"] == "20261104-0800"
    lines = listing(rows, width, short=short)
    assert max(map(len, lines)) <= width
    assert len(listing(rows, 82, short=short)) == len(rows) + 1, "a line each, not the person under it"
    for told in ("20261103-0800", "Larch Hill", "8:00", "10:00", "414 °F", "13.8 %", "84.25", "accepted"):
        assert told in lines[1]


def test_a_shortened_name_opens_that_roast(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "home" / "roasts"
    names = [
        "20261102-080000-abcdef", "20261102-080000-abcxyz", "20261102-080100-aaaaaa", "r1", "r10",
        "20261102-080000-abcdef (copy)",
    ]  # fmt: skip
    for name in names:
        roast(folder, name)
    short = beginnings(names)
    assert len(set(short.values())) == len(names)
    for name, begun in short.items():
        assert find_roast(begun, folder).stem == name
    assert short["20261102-080000-abcdef"] == "20261102-080000-abcdef"
    assert not any(s.endswith(" ") for s in short.values()), "nobody can type that in a shell"


def test_a_loss_that_roasts_hardly_have_is_remarked_on(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    roast(tmp_path / "home" / "roasts", "a")
    assert main(["result", "a", "out=0.79"]) == 0
    assert "A loss of 1.3 % is less than roasts usually have (8 to 25 %)" in capsys.readouterr().out
    assert main(["result", "a", "out=0.69", "learn=no", "doubt=air"]) == 0
    said = capsys.readouterr().out
    assert "usually" not in said
    assert "left out of what the coach learns" in said
    assert "note later  doubt: air" in said
    assert [remark(x) for x in (None, 8.0, 14.0, 25.0)] == [""] * 4
    assert "more than roasts usually have" in remark(31.0)


@pytest.mark.parametrize(
    ("moisture", "said"),
    [
        (7.9, "7.9 % moisture is drier than green coffee should be traded (8 to 12.5 %, ICO"),
        (8.0, "8 % moisture is under the 10 to 12 % asked of washed arabica (SCA)."),
        (9.9, "9.9 % moisture is under the 10 to 12 % asked of washed arabica (SCA)."),
        (10.0, ""),
        (12.0, ""),
        (12.1, "12.1 % moisture is over the 10 to 12 % asked of washed arabica (SCA)."),
        (12.5, "12.5 % moisture is over the 10 to 12 % asked of washed arabica (SCA)."),
        (12.6, "12.6 % moisture is wetter than green coffee should be traded (8 to 12.5 %, ICO"),
    ],
)
def test_the_windows_of_green_moisture(moisture: float, said: str) -> None:
    """8.0 to 12.5 %, ISO 6673: International Coffee Organization, Resolution 407 (2002) as amended by 420 (2004); 10 to
    12 % for washed arabica: Specialty Coffee Association, defect poster (2018).  Both of the weight as it is."""
    found = moisture_remark(moisture)
    assert found.startswith(said) if said else not found


def test_the_moisture_of_the_green_is_kept_with_the_results(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    roast(tmp_path / "home" / "roasts", "a")
    assert main(["result", "a", "moisture=13,1"]) == 0
    out = capsys.readouterr().out
    assert "moisture of the green 13.1 %" in out
    assert "wetter than green coffee should be traded" in out
    assert main(["result", "a", "moisture=0.11"]) == 2, "a share, not percent"
    assert "moisture=11.2" in capsys.readouterr().err


def test_a_summary_names_the_roast() -> None:
    assert Summary(file="deep/b.jsonl").name == "b"


@pytest.mark.parametrize(
    "words",
    [
        ["in", "0.8", "out", "690g", "colour", "58", "our", "meter", "score", "85", "cup", "plum,", "in", "milk"],
        ["in 0.8", "out 690g", "colour 58 our meter", "score 85", "cup plum, in milk"],
        ["in=0.8", "out=0.69", "colour=58", "scale=our meter", "score=85", "notes=plum, in milk"],
    ],
)
def test_results_are_taken_in_the_words_of_the_screen(words: list[str]) -> None:
    given, doubts = parse_results(words)
    assert not doubts
    assert given == {"weight_in": 0.8, "weight_out": 0.69, "colour": 58.0, "colour_scale": "our meter",
                     "cup_score": 85.0, "cup_notes": "plum, in milk"}  # fmt: skip


def test_a_misspelt_result_is_answered_with_the_nearest() -> None:
    with pytest.raises(CoachError, match=r"Did you mean 'moisture'\?"):
        parse_results(["mosture=11"])


def test_free_text_ends_at_a_name_before_a_value_of_its_kind() -> None:
    for last in (["accepted", "no", "doubt", "was the tray full?"], ["accepted=no", "doubt=was the tray full?"]):
        given, doubts = parse_results(["out", "640g", "cup", "flat,", "out", "of", "balance", "score", "79", *last])
        assert given == {"weight_out": 0.64, "cup_notes": "flat, out of balance", "cup_score": 79.0, "accepted": False}
        assert doubts == ["was the tray full?"]
