"""The scribe by itself, on a disk that the test holds: what it says, what it tries again, what ends up where."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from coach.session import journal_writer as module
from coach.session.journal import JournalWriter, in_use
from coach.session.journal_writer import Scribe

MOVED = "The journal was moved or removed: "


class Disk(JournalWriter):
    """A journal's writer that fails or is held up when the test says so."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self.fails: OSError | None = None
        self.part = 0
        """How much of a failing write gets there."""
        self.go = threading.Event()
        self.go.set()
        self.tried = 0
        self.began = threading.Event()

    def append(self, text: str) -> None:
        self.tried += 1
        self.began.set()
        assert self.go.wait(10.0)
        fails = self.fails
        if fails is not None:
            if self.part:
                super().append(text[: self.part])
            raise fails
        super().append(text)


@pytest.fixture(autouse=True)
def _soon(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "RETRY", 0.05)


@pytest.fixture
def disk(tmp_path: Path) -> Disk:
    out = Disk(tmp_path / "roasts" / "r.jsonl")
    out.path.parent.mkdir()
    out.start(out.path, "head\n")
    return out


def until(condition: Callable[[], bool]) -> None:
    end = time.monotonic() + 8.0
    while not condition():
        assert time.monotonic() < end, "did not come about"
        time.sleep(0.005)


def test_what_is_put_is_written_in_its_order_and_then_nothing_is_pending(disk: Disk) -> None:
    scribe = Scribe(disk, ["head\n"])
    assert (scribe.pending, scribe.trouble, scribe.path) == (0, "", disk.path)
    scribe.put("a\n")
    scribe.put("b\n", "c\n")
    assert scribe.wait(5.0)
    assert (scribe.pending, scribe.trouble) == (0, "")
    assert disk.path.read_text() == "head\na\nb\nc\n"
    scribe.put("d\n")
    assert scribe.close()
    assert disk.path.read_text() == "head\na\nb\nc\nd\n"
    assert not in_use(disk.path), "and the file is let go"


def test_put_holds_up_nobody_and_what_waits_is_counted_and_said(disk: Disk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "SLOW", 0.2)
    scribe = Scribe(disk, ["head\n"])
    disk.go.clear()
    disk.began.clear()
    before = time.monotonic()
    scribe.put("a\n")
    assert time.monotonic() - before < 0.1
    assert scribe.trouble == "", "not slow yet"
    assert disk.began.wait(5.0)
    assert not scribe.wait(0.01)
    assert scribe.pending == 1
    until(lambda: scribe.trouble != "")
    assert scribe.trouble == "NOT YET ON DISK: 1 line waits for a slow disk"
    scribe.put("b\n")
    assert scribe.trouble == "NOT YET ON DISK: 2 lines wait for a slow disk", "since the first of them"
    disk.go.set()
    assert scribe.wait(5.0)
    assert scribe.trouble == ""
    scribe.put("c\n")
    assert scribe.trouble == "", "the time of what is saved doesn't count"
    assert scribe.close()
    assert disk.path.read_text() == "head\na\nb\nc\n"


@pytest.mark.parametrize("part", [0, 1, 2, 3, 5])
def test_a_write_that_fails_is_said_tried_again_and_stands_there_once(disk: Disk, part: int) -> None:
    """Whatever of it got there, a whole line or half of one."""
    scribe = Scribe(disk, ["head\n"])
    disk.fails, disk.part = OSError(28, "No space left on device"), part
    scribe.put("a\n")
    assert scribe.wait(5.0) is False
    assert scribe.trouble == "NOT ON DISK (No space left on device): 1 line kept in memory, tried again"
    scribe.put("b\n", "ü\n")
    assert scribe.trouble == "NOT ON DISK (No space left on device): 3 lines kept in memory, tried again"
    tried = disk.tried
    until(lambda: disk.tried > tried + 1)
    assert scribe.pending == 3
    disk.fails = None
    until(lambda: scribe.pending == 0)
    assert scribe.trouble == ""
    scribe.put("c\n")
    assert scribe.wait(5.0)
    assert disk.path.read_text() == "head\na\nb\nü\nc\n"
    assert in_use(disk.path)
    assert scribe.close()


def test_words_beyond_ascii_are_measured_as_they_stand_on_disk(disk: Disk) -> None:
    scribe = Scribe(disk, ["head\n"])
    scribe.put("Grüße, 豆\n")
    assert scribe.wait(5.0)
    disk.fails, disk.part = OSError(5, "Input/output error"), 1
    scribe.put("b\n")
    scribe.wait(5.0)
    disk.fails = None
    until(lambda: scribe.pending == 0)
    assert scribe.close()
    assert disk.path.read_text() == "head\nGrüße, 豆\nb\n"


def test_a_journal_that_is_removed_is_written_anew_without_a_further_entry(disk: Disk) -> None:
    scribe = Scribe(disk, ["head\n"])
    scribe.put("a\n")
    assert scribe.wait(5.0)
    disk.path.unlink()
    disk.path.parent.rmdir()
    until(disk.path.exists)
    until(lambda: scribe.trouble != "")
    assert scribe.trouble == MOVED + "written again"
    scribe.put("b\n")
    assert scribe.wait(5.0)
    assert disk.path.read_text() == "head\na\nb\n"
    assert in_use(disk.path)
    assert scribe.close()


def test_what_another_program_put_there_is_left_alone_also_twice(disk: Disk) -> None:
    scribe = Scribe(disk, ["head\n"])
    places = [disk.path]
    for n, word in enumerate(("a\n", "b\n", "c\n"), start=2):
        other = disk.path.parent / "other"
        other.write_text(f"not ours {n}\n")
        os.replace(other, places[-1])
        scribe.put(word)
        until(lambda: scribe.path != places[-1] and scribe.pending == 0)
        places.append(scribe.path)
        assert scribe.trouble == f"{MOVED}another file took its place: it goes on as {scribe.path.name}"
    assert places[1].name == "r-own2.jsonl"
    assert [p.read_text() for p in places[:3]] == ["not ours 2\n", "not ours 3\n", "not ours 4\n"]
    assert places[3].read_text() == "head\na\nb\nc\n"
    assert scribe.close()


def test_after_a_failure_a_journal_that_was_cut_short_or_taken_away_is_written_again_whole(disk: Disk) -> None:
    scribe = Scribe(disk, ["head\n"])
    scribe.put("a\n")
    assert scribe.wait(5.0)
    disk.fails = OSError(5, "Input/output error")
    scribe.put("b\n")
    scribe.wait(5.0)
    os.truncate(disk.path, 6)
    disk.fails = None
    until(lambda: scribe.pending == 0)
    assert scribe.path.read_text() == "head\na\nb\n"
    assert scribe.path.name == "r-own2.jsonl", "what is left of the other is not ours to write over"
    disk.fails = OSError(5, "Input/output error")
    scribe.put("c\n")
    scribe.wait(5.0)
    scribe.path.unlink()
    disk.fails = None
    until(lambda: scribe.pending == 0 and scribe.path.exists())
    assert scribe.path.read_text() == "head\na\nb\nc\n"
    assert scribe.close()


def test_a_roast_that_began_on_a_bad_disk_is_written_when_it_can_be(tmp_path: Path) -> None:
    path = tmp_path / "roasts" / "r.jsonl"
    (tmp_path / "roasts").write_text("in the way")
    scribe = Scribe(JournalWriter(path), ["head\n", "a\n"], fault=OSError(20, "Not a directory"))
    assert scribe.trouble.startswith("NOT ON DISK (")
    assert scribe.trouble.endswith("): 2 lines kept in memory, tried again")
    assert scribe.pending == 2
    scribe.put("b\n")
    assert not scribe.wait(5.0)
    (tmp_path / "roasts").unlink()
    until(lambda: scribe.pending == 0)
    assert path.read_text() == "head\na\nb\n"
    assert scribe.close()


@pytest.mark.parametrize(
    ("error", "word"),
    [
        (OSError(28, "No space left on device"), "No space left on device"),
        (OSError("odd"), "odd"),
        (OSError(), "OSError"),
    ],
)
def test_any_trouble_has_a_word(disk: Disk, error: OSError, word: str) -> None:
    scribe = Scribe(disk, ["head\n"])
    disk.fails = error
    scribe.put("a\n")
    until(lambda: f"({word})" in scribe.trouble)
    assert not scribe.close()
    assert scribe.pending == 1


def test_without_a_free_name_it_is_said(disk: Disk, monkeypatch: pytest.MonkeyPatch) -> None:
    names: list[str] = []

    def taken(self: JournalWriter, path: Path, text: str) -> None:
        names.append(path.name)
        raise FileExistsError(17, "File exists")

    scribe = Scribe(disk, ["head\n"])
    monkeypatch.setattr(JournalWriter, "start", taken)
    disk.path.unlink()
    scribe.put("a\n")
    until(lambda: "no free name" in scribe.trouble)
    assert scribe.trouble == "NOT ON DISK (no free name): 1 line kept in memory, tried again"
    assert names[:3] == ["r.jsonl", "r-own2.jsonl", "r-own3.jsonl"]
    assert names[998] == "r-own999.jsonl"
    assert not scribe.close()


def test_closing_waits_no_longer_than_told_and_says_that_not_all_is_there(disk: Disk) -> None:
    scribe = Scribe(disk, ["head\n"])
    disk.go.clear()
    scribe.put("a\n")
    before = time.monotonic()
    assert scribe.close(0.05) is False
    assert time.monotonic() - before < 2.0
    disk.go.set()
    until(lambda: scribe.pending == 0)


def test_waiting_for_nothing_is_no_waiting(disk: Disk) -> None:
    scribe = Scribe(disk, ["head\n"])
    before = time.monotonic()
    assert scribe.wait(5.0)
    assert time.monotonic() - before < 1.0
    assert scribe.close()
    assert scribe.close(), "and closing twice is no harm"


def test_an_entry_is_written_at_once_and_between_entries_the_thread_rests(
    disk: Disk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not only when the place of the journal is looked at again, which here would be in half a minute."""
    monkeypatch.setattr(module, "RETRY", 30.0)
    scribe = Scribe(disk, ["head\n"])
    looked: list[float] = []
    stat = disk.stat

    def look() -> os.stat_result:
        looked.append(time.monotonic())
        return stat()

    monkeypatch.setattr(disk, "stat", look)
    scribe.put("a\n")
    assert scribe.wait(5.0)
    scribe.put("b\n")
    assert scribe.wait(5.0)
    time.sleep(0.1)
    assert len(looked) <= 4, "twice for each entry, and no turning round in between"
    assert all(t.daemon for t in threading.enumerate() if t.name == "journal"), (
        "a disk that hangs doesn't keep the program from ending"
    )
    assert scribe.close()


class Stubborn(Disk):
    """A file that complains when it is closed, as on a disk that went away, after it is closed."""

    def close(self) -> None:
        super().close()
        raise OSError(5, "Input/output error")


@pytest.mark.parametrize("gone", [False, True])
def test_a_file_that_complains_when_it_is_closed_stops_nothing(tmp_path: Path, gone: bool) -> None:
    disk = Stubborn(tmp_path / "r.jsonl")
    disk.start(disk.path, "head\n")
    scribe = Scribe(disk, ["head\n"])
    if gone:
        disk.path.unlink()
    else:
        disk.fails = OSError(5, "Input/output error")
    scribe.put("a\n")
    scribe.wait(5.0)
    disk.fails = None
    until(lambda: scribe.pending == 0 and disk.path.exists())
    assert scribe.close()
    assert disk.path.read_text() == "head\na\n"
