"""The journal under a disk that is slow, full, gone or shared: nothing is lost, nothing stands there twice."""

from __future__ import annotations

import os
import shutil
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from helpers import Hand, live

from coach.app.live import LEFT_ALONE, LiveRoast, Onlooker
from coach.roast.entries import Mark, Reading
from coach.roast.errors import EntryError, FileError
from coach.session import journal_writer
from coach.session.journal import JournalWriter, in_use, read_journal
from coach.session.journal_writer import Scribe


@pytest.fixture(autouse=True)
def _looks_often(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(journal_writer, "RETRY", 0.1)


def until(condition: Callable[[], bool], seconds: float = 8.0) -> None:
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "did not come about"
        time.sleep(0.01)


def values(path: Path) -> list[float]:
    return [n.entry.temperature for n in read_journal(path).entries if isinstance(n.entry, Reading)]


def type_readings(roast: LiveRoast, first: int, count: int) -> None:
    for n in range(first, first + count):
        roast.enter(Reading(at=60.0 + 10 * n, temperature=100.0 + n))


def begun(folder: Path) -> LiveRoast:
    roast = live(folder, Hand())
    roast.enter(Mark(at=10.0, event="charge"))
    return roast


def test_an_entry_is_on_disk_when_nothing_is_pending(tmp_path: Path) -> None:
    roast = begun(tmp_path)
    type_readings(roast, 0, 3)
    until(lambda: roast.pending == 0)
    assert values(roast.path) == [100, 101, 102]
    assert roast.trouble == ""
    roast.close()


def test_a_disk_that_takes_a_second_holds_up_nobody(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    roast = begun(tmp_path)
    until(lambda: roast.pending == 0)
    fsync = os.fsync

    def slow(descriptor: int) -> None:
        if threading.current_thread().name == "journal":
            time.sleep(1.2)
        fsync(descriptor)

    monkeypatch.setattr(os, "fsync", slow)
    worst, began = 0.0, time.monotonic()
    for n in range(4):
        before, folding = time.monotonic(), len(roast.coach.entries)
        roast.scribe.put("")  # as if another entry were being written
        roast.scribe.wait(0.05)
        worst = max(worst, time.monotonic() - before)
        type_readings(roast, n, 1)
        assert len(roast.coach.entries) == folding + 1, "the roast goes on"
        assert roast.pending, "and the entry is not shown as saved"
    assert worst < 0.6, "far less than the disk takes; bench_screen.py has the figure"
    until(lambda: "slow disk" in roast.trouble or time.monotonic() - began > 3.0)
    assert "slow disk" in roast.trouble
    until(lambda: roast.pending == 0)
    assert roast.trouble == ""
    assert values(roast.path) == [100, 101, 102, 103]
    roast.close()


def test_where_lines_wait_for_the_disk_already_the_next_one_is_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    roast = begun(tmp_path)
    until(lambda: roast.pending == 0)
    waited: list[int] = []
    monkeypatch.setattr(roast.scribe, "wait", lambda seconds: waited.append(roast.pending))
    hold = threading.Event()
    monkeypatch.setattr(JournalWriter, "append", lambda self, text: hold.wait(10.0))
    type_readings(roast, 0, 4)
    assert waited == [1]
    hold.set()
    until(lambda: roast.pending == 0)
    type_readings(roast, 4, 1)
    assert waited == [1, 1], "once it keeps up, it is waited for again"
    roast.close()


def test_a_full_disk_is_said_and_made_up_for_without_a_further_entry(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    roast = begun(tmp_path)
    until(lambda: roast.pending == 0)
    full = [True]
    append = JournalWriter.append

    def failing(self: JournalWriter, text: str) -> None:
        if full[0]:
            append(self, text[: len(text) // 2])  # some of it got there
            raise OSError(28, "No space left on device")
        append(self, text)

    monkeypatch.setattr(JournalWriter, "append", failing)
    type_readings(roast, 0, 3)
    until(lambda: "NOT ON DISK (No space left on device): 3 lines" in roast.trouble)
    full[0] = False
    until(lambda: roast.pending == 0)
    assert roast.trouble == ""
    assert values(roast.path) == [100, 101, 102]
    roast.close()


def test_a_folder_that_is_removed_in_mid_roast(tmp_path: Path) -> None:
    folder = tmp_path / "roasts"
    roast = begun(folder)
    type_readings(roast, 0, 2)
    until(lambda: roast.pending == 0)
    shutil.rmtree(folder)
    type_readings(roast, 2, 1)
    until(lambda: roast.pending == 0)
    assert values(roast.path) == [100, 101, 102]
    assert "written again" in roast.trouble
    roast.close()


def test_a_removed_folder_is_noticed_without_an_entry(tmp_path: Path) -> None:
    folder = tmp_path / "roasts"
    roast = begun(folder)
    type_readings(roast, 0, 2)
    until(lambda: roast.pending == 0)
    shutil.rmtree(folder)
    until(lambda: roast.path.exists())
    roast.close()
    assert values(roast.path) == [100, 101]


def test_a_file_that_another_program_put_there_is_left_alone(tmp_path: Path) -> None:
    roast = begun(tmp_path)
    first = roast.path
    type_readings(roast, 0, 2)
    until(lambda: roast.pending == 0)
    other = tmp_path / "other"
    other.write_text("a synced folder's own idea\n")
    os.replace(other, first)
    type_readings(roast, 2, 1)
    until(lambda: roast.path != first and roast.pending == 0)
    assert "another file took its place" in roast.trouble
    roast.close()
    assert first.read_text() == "a synced folder's own idea\n"
    assert values(roast.path) == [100, 101, 102]


@pytest.mark.parametrize("typed", [True, False])
@pytest.mark.parametrize("how", ["cut", "emptied", "longer", "other signs of the same length", "nothing but zeros"])
def test_a_journal_changed_where_it_lies_is_kept_and_the_roast_written_whole(
    tmp_path: Path, how: str, typed: bool
) -> None:
    roast = begun(tmp_path)
    first = roast.path
    type_readings(roast, 0, 2)
    until(lambda: roast.pending == 0)
    data = first.read_bytes()
    left = {
        "cut": data[:-30],
        "emptied": b"",
        "longer": data + b'{"kind": "note", "at": 90, "text": "not ours"}\n',
        "other signs of the same length": data.replace(b"101.0", b"191.0"),
        "nothing but zeros": bytes(len(data)),
    }[how]
    assert left != data
    with first.open("r+b") as file:  # the same file, no other in its place
        file.truncate(0)
        file.write(left)
    if typed:
        type_readings(roast, 2, 1)
    until(lambda: roast.path != first and roast.pending == 0 and roast.trouble != "")
    assert first.read_bytes() == left, "what another program left is left"
    assert roast.trouble == (
        "The journal was changed by another program: "
        f"{first.name} stays as it was left, the whole roast goes on as {roast.path.name}"
    )
    roast.close()
    assert values(roast.path) == ([100, 101, 102] if typed else [100, 101])


def test_a_journal_whose_time_alone_was_changed_is_written_on(tmp_path: Path) -> None:
    roast = begun(tmp_path)
    first = roast.path
    type_readings(roast, 0, 2)
    until(lambda: roast.pending == 0)
    os.utime(first, (1.0, 1.0))
    type_readings(roast, 2, 1)
    roast.close()
    assert (roast.path, values(first)) == (first, [100, 101, 102])


def test_a_journal_cut_short_by_another_program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    roast = begun(tmp_path)
    type_readings(roast, 0, 2)
    until(lambda: roast.pending == 0)
    failed = [True]
    append = JournalWriter.append

    def once(self: JournalWriter, text: str) -> None:
        if failed[0]:
            failed[0] = False
            os.truncate(self.path, 20)
            raise OSError(5, "Input/output error")
        append(self, text)

    monkeypatch.setattr(JournalWriter, "append", once)
    type_readings(roast, 2, 1)
    until(lambda: roast.pending == 0)
    roast.close()
    assert values(roast.path) == [100, 101, 102]


def test_closing_writes_what_is_left_and_says_if_it_could_not(tmp_path: Path) -> None:
    missing = JournalWriter(tmp_path / "file" / "x.jsonl")
    (tmp_path / "file").write_text("not a folder")
    scribe = Scribe(missing, ["one\n"], fault=OSError(20, "Not a directory"))
    assert "NOT ON DISK" in scribe.trouble
    assert not scribe.close()
    assert scribe.pending == 1


def test_one_coach_writes_a_roast_and_others_look_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    roast = begun(tmp_path)
    until(lambda: roast.pending == 0)
    assert in_use(roast.path)
    with pytest.raises(FileError, match="open in another coach"):
        LiveRoast.resume(roast.path, roast.coach.profile)
    second = Onlooker(roast.path, roast.coach.profile)
    type_readings(roast, 0, 2)
    until(lambda: roast.pending == 0)
    second.poll()
    assert [r.shown for r in second.coach.roast.readings] == [100, 101]
    with pytest.raises(EntryError, match="only looks on"):
        second.enter(Reading(at=200.0, temperature=120.0))
    roast.close()
    assert not in_use(roast.path)
    monkeypatch.setattr(second, "now", lambda: 60.0)
    second.poll()
    assert (second.trouble, second.word) == ("", LEFT_ALONE), "one text, no other beside it"
    with pytest.raises(EntryError, match=LEFT_ALONE):
        second.enter(Reading(at=200.0, temperature=120.0))
    again = LiveRoast.resume(roast.path, roast.coach.profile)
    type_readings(again, 2, 1)
    again.close()
    second.poll()
    assert [r.shown for r in second.coach.roast.readings] == [100, 101, 102]


def test_two_roasts_on_one_logbook(tmp_path: Path) -> None:
    a, b = begun(tmp_path), begun(tmp_path)
    for n in range(5):
        type_readings(a, n, 1)
        type_readings(b, n + 50, 1)
    a.close()
    b.close()
    assert a.path != b.path
    assert values(a.path) == [100, 101, 102, 103, 104]
    assert values(b.path) == [150, 151, 152, 153, 154]


def test_of_the_copies_a_synced_folder_makes_the_fullest_is_offered(tmp_path: Path) -> None:
    from datetime import UTC, datetime

    from helpers import ROOT

    from coach.session.offers import described
    from coach.session.profile_files import load_profile
    from coach.session.unfinished import unfinished

    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    roast = LiveRoast.open(profile, tmp_path, lambda: 0.0, started=datetime.now(UTC), run="live")
    roast.enter(Mark(at=0.0, event="charge"))
    until(lambda: roast.pending == 0)
    shutil.copy(roast.path, tmp_path / f"{roast.path.stem} (conflict).jsonl")
    roast.enter(Reading(at=0.0, temperature=180.0))
    roast.close()
    (tmp_path / "zz.jsonl").write_bytes(b"\x00\xff no journal")
    (tmp_path / "zzz.jsonl").mkdir()
    (offer,) = unfinished(tmp_path)
    assert (offer.path, offer.entries, offer.files) == (roast.path, 2, 2)
    assert "the fullest of 2 files of it, the others stay as they are" in described(offer)
