"""The writer of a journal: what is kept, cut, locked and synced, each by itself."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from coach.roast.entries import Header, Reading
from coach.roast.errors import FileError
from coach.roast.roast import Numbered
from coach.session.journal import (
    MAX_LINE,
    MAX_LINES,
    JournalWriter,
    in_use,
    line_of,
    make_folder,
    parse_entry,
    parse_header,
    read_journal,
    read_lines,
    read_text,
    sync_folder,
    whole_lines,
)

HEADER = Header(id="x", started="2026-11-02T08:00:00+00:00")
HEAD = line_of(HEADER)
LINE = line_of(Reading(at=20.0, temperature=150.0))
TORN = LINE[: len(LINE) // 2]


def written(folder: Path, text: str) -> Path:
    path = folder / "roast.jsonl"
    path.write_text(text)
    return path


# -- opening again -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tail", "torn", "kept"),
    [("", False, ""), (TORN, True, ""), (LINE.rstrip("\n"), True, LINE), ("\x00\x00", True, ""), ("é"[:1], True, "")],
)
def test_a_torn_end_is_cut_off_and_a_whole_one_gets_its_newline(
    tmp_path: Path, tail: str, torn: bool, kept: str
) -> None:
    path = written(tmp_path, HEAD + LINE + tail)
    writer = JournalWriter(path)
    assert writer.reopen() is torn
    assert path.read_text() == HEAD + LINE + kept
    writer.append(LINE)
    writer.close()
    assert path.read_text() == HEAD + LINE + kept + LINE


def test_a_cut_in_the_middle_of_a_character_is_a_torn_end(tmp_path: Path) -> None:
    path = tmp_path / "roast.jsonl"
    path.write_bytes((HEAD + LINE).encode() + b'{"kind": "note", "text": "caf' + b"\xc3")
    writer = JournalWriter(path)
    assert writer.reopen()
    writer.close()
    assert path.read_text() == HEAD + LINE


def test_a_journal_is_open_in_one_place(tmp_path: Path) -> None:
    path = written(tmp_path, HEAD)
    first, second = JournalWriter(path), JournalWriter(path)
    assert not in_use(path)
    assert not in_use(tmp_path / "none")
    first.reopen()
    assert in_use(path)
    with pytest.raises(BlockingIOError):
        second.reopen()
    with pytest.raises(OSError, match="not open"):
        second.append(LINE)
    before = set(os.listdir("/proc/self/fd"))
    with pytest.raises(BlockingIOError):
        second.reopen()
    assert set(os.listdir("/proc/self/fd")) == before, "nothing is left open by a refusal"
    first.close()
    first.close()
    assert not in_use(path)
    assert second.reopen() is False
    second.close()


def test_a_new_journal_is_the_persons_alone_and_overwrites_nothing(tmp_path: Path) -> None:
    path = tmp_path / "roast.jsonl"
    writer = JournalWriter(path)
    with pytest.raises(OSError, match="not open"):
        writer.stat()
    writer.create(HEADER)
    assert path.read_text() == HEAD
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert os.path.samestat(writer.stat(), path.stat())
    assert in_use(path)
    with pytest.raises(FileExistsError):
        JournalWriter(path).create(HEADER)
    assert path.read_text() == HEAD
    other = tmp_path / "other.jsonl"
    writer.close()
    writer.start(other, HEAD + LINE)
    writer.close()
    assert (writer.path, other.read_text()) == (other, HEAD + LINE)


def test_every_write_is_synced_before_it_returns(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The file after each write, holding what was written; its folder once, after the file."""
    synced: list[str] = []

    def fsync(descriptor: int) -> None:
        where = Path(os.readlink(f"/proc/self/fd/{descriptor}"))
        synced.append("folder" if where.is_dir() else where.read_text())

    monkeypatch.setattr(os, "fsync", fsync)
    writer = JournalWriter(tmp_path / "roast.jsonl")
    writer.create(HEADER)
    writer.append(LINE)
    writer.append(LINE + LINE)
    writer.close()
    assert synced == [HEAD, "folder", HEAD + LINE, HEAD + 3 * LINE]


@pytest.mark.parametrize(("number", "raises"), [(5, True), (28, True), (22, False), (95, False)])
def test_a_folder_that_can_not_be_synced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, raises: bool
) -> None:
    """A disk error or a full disk is told; a system that doesn't sync folders (EINVAL, ENOTSUP) is not at fault."""

    def fsync(descriptor: int) -> None:
        raise OSError(number, "no")

    monkeypatch.setattr(os, "fsync", fsync)
    open_before = len(os.listdir("/proc/self/fd"))
    if raises:
        with pytest.raises(OSError, match="no"):
            sync_folder(tmp_path)
        with pytest.raises(OSError, match="no"):
            make_folder(tmp_path / "a" / "b")
        assert not (tmp_path / "a").exists(), "made again, and synced, at the next try"
    else:
        sync_folder(tmp_path)
        make_folder(tmp_path / "a" / "b")
        assert stat.S_IMODE((tmp_path / "a" / "b").stat().st_mode) == 0o700
    assert len(os.listdir("/proc/self/fd")) == open_before
    sync_folder(tmp_path / "nowhere")


# -- reading -----------------------------------------------------------------------------------------------------------


def test_the_lines_of_a_journal() -> None:
    assert whole_lines(HEAD + LINE) == ([HEAD.rstrip(), LINE.rstrip()], False)
    assert whole_lines(HEAD + TORN) == ([HEAD.rstrip()], True)
    assert whole_lines(HEAD + LINE.rstrip()) == ([HEAD.rstrip(), LINE.rstrip()], False)
    assert whole_lines(HEAD[:9]) == ([HEAD[:9]], False), "a torn header stays, to be told"
    assert whole_lines(HEAD + "  ") == ([HEAD.rstrip()], False)


def test_lines_are_numbered_as_they_stand_and_empty_ones_left_out() -> None:
    found = list(read_lines(iter([HEAD, "", LINE, "  ", LINE]), "x"))
    assert [n.line for n in found if isinstance(n, Numbered)] == [3, 5]


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("x" * (MAX_LINE + 1), 7, "over 100 kB"),
        ("{", 7, "not JSON"),
        ("[1]", 7, "not a JSON object"),
        ('{"kind": "reading", "at": NaN, "temperature": 1.0}', 7, "NaN and infinity"),
        ('{"kind": "tune"}', 7, "not 'tune'"),
        ('{"kind": "reading", "at": 1.0}', 7, "temperature"),
    ],
)
def test_a_bad_line_is_refused_with_its_number(text: str, line: int, says: str) -> None:
    with pytest.raises(FileError, match=says) as refused:
        parse_entry(text, "a.jsonl", line)
    assert str(refused.value).startswith(f"a.jsonl, line {line}: ")


def test_a_line_of_just_the_limit_is_read() -> None:
    note = '{"kind": "pop", "at": 1.0, "more": "' + "x" * (MAX_LINE - 39)
    text = note + '"}'
    text += " " * (MAX_LINE - len(text))
    assert len(text) == MAX_LINE
    assert parse_entry(text, "x", 2).at == 1.0


@pytest.mark.parametrize(
    ("change", "says"),
    [('"kind": "roast"', "not a roast's header"), ('"version": 1', "version: must be 1"), ('"unit": "C"', "unit")],
)
def test_a_bad_header_is_refused_in_line_one(change: str, says: str) -> None:
    other = {'"kind": "roast"': '"kind": "x"', '"version": 1': '"version": 2', '"unit": "C"': '"unit": "K"'}[change]
    assert parse_header(HEAD, "x") == HEADER
    with pytest.raises(FileError, match=says) as refused:
        parse_header(HEAD.replace(change, other), "x")
    assert str(refused.value).startswith("x, line 1: ")


def test_a_journal_of_too_many_lines_is_no_journal_of_one_roast() -> None:
    lines = [HEAD, *["\n"] * (MAX_LINES - 1)]
    assert len(list(read_lines(iter(lines), "x"))) == 1
    with pytest.raises(FileError, match="more than 20000 lines"):
        list(read_lines(iter([*lines, "\n"]), "x"))
    with pytest.raises(FileError, match="empty"):
        list(read_lines(iter([]), "x"))


def test_what_is_no_text_file(tmp_path: Path) -> None:
    big, odd, pipe = tmp_path / "big", tmp_path / "odd", tmp_path / "pipe"
    big.write_bytes(b" " * (8 * 1024 * 1024 + 1))
    odd.write_bytes(b"ab\xffcd\nline\n")
    os.mkfifo(pipe)
    for path, says in ((big, "larger than 8 MB"), (odd, "not a text file"), (pipe, "a pipe"), (tmp_path, "a folder")):
        with pytest.raises(FileError, match=says):
            read_text(path)
    with pytest.raises(FileError, match="not found"):
        read_text(tmp_path / "none")


def test_entries_that_can_not_be_a_roast_are_refused_when_checked(tmp_path: Path) -> None:
    drop = '{"kind": "mark", "at": 5.0, "event": "drop"}\n'
    path = written(tmp_path, HEAD + drop)
    with pytest.raises(FileError, match="drop can't come before charge"):
        read_journal(path)
    assert len(read_journal(path, check=False).entries) == 1
    assert read_journal(written(tmp_path, HEAD + LINE + TORN)).torn
