"""What a person is told about a damaged journal, word for word, and what of it is still read.

A refusal names file, line and field, says what is wrong and what to do.  These words are all that somebody has whose
journal doesn't open, so they are held here as they are shown.
"""

from __future__ import annotations

import io
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from coach.roast.entries import KINDS, Header, Mark, Note, Reading
from coach.roast.errors import FileError
from coach.roast.roast import Numbered
from coach.session import journal
from coach.session.journal import (
    MAX_BYTES,
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

HEADER = Header(id="x", started="2026-11-02T08:00:00+00:00", coffee="Grüner Hügel", machine="brambleforge-1")
HEAD = line_of(HEADER)
CHARGE = line_of(Mark(at=10.0, event="charge"))
LINE = line_of(Reading(at=20.0, temperature=150.0))


def told(act: Callable[[], object]) -> FileError:
    with pytest.raises(FileError) as refused:
        act()
    return refused.value


# -- lines -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("x" * (MAX_LINE + 1), "a line of over 100 kB is no entry. Remove it."),
        ("{", "not JSON. Each line is one JSON object."),
        ("[" * 90_000, "not JSON. Each line is one JSON object."),
        ('{"kind": "pop", "at": 1', "not JSON. Each line is one JSON object."),
        (
            '{"at": NaN}',
            "NaN and infinity are not numbers of a roast (NaN). Each line is one JSON object.",
        ),
        (
            '{"at": -Infinity}',
            "NaN and infinity are not numbers of a roast (-Infinity). Each line is one JSON object.",
        ),
        ("[1]", 'not a JSON object. Write {"kind": ...}.'),
        ("null", 'not a JSON object. Write {"kind": ...}.'),
    ],
)
def test_a_line_that_is_no_object(text: str, said: str) -> None:
    error = told(lambda: parse_entry(text, "a.jsonl", 7))
    assert str(error) == f"a.jsonl, line 7: {said}"
    header = told(lambda: parse_header(text, "a.jsonl"))
    assert str(header) == f"a.jsonl, line 1: {said}"


def test_a_line_of_a_kind_that_is_not_known() -> None:
    known = ", ".join(f"'{kind}'" for kind in KINDS)
    for text, said in (
        ('{"kind": "tune", "at": 1.0}', f"must be one of {known}, not 'tune'"),
        ('{"at": 1.0}', "is missing"),
        ('{"kind": 3}', f"must be one of {known}, not '3'"),
    ):
        error = told(lambda text=text: parse_entry(text, "a.jsonl", 7))  # type: ignore[misc]
        assert str(error) == f"a.jsonl, line 7: 'kind' {said}. Correct the line."


def test_a_line_that_says_too_little_or_nonsense() -> None:
    error = told(lambda: parse_entry('{"kind": "reading", "at": 1.0}', "a.jsonl", 7))
    assert str(error).startswith("a.jsonl, line 7: temperature")
    assert str(error).endswith(". Correct the line.")
    entry = parse_entry('{"kind": "reading", "at": 1.0, "temperature": 99.5}', "a.jsonl", 7)
    assert (entry.at, entry.temperature) == (1.0, 99.5)  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"kind": "pop", "at": 1.0}', "kind: must be 'roast'"),
        ('{"kind": "roast", "version": 2}', "version: must be 1"),
        ('{"kind": "roast"}', "id: is missing"),
        ('{"id": "x", "started": "noon"}', "started: 'noon' is no time: write it like 2026-11-27T08:00:00+00:00"),
    ],
)
def test_a_first_line_that_is_no_header(text: str, said: str) -> None:
    error = told(lambda: parse_header(text, "a.jsonl"))
    assert str(error) == f"a.jsonl, line 1: not a roast's header ({said}). Correct the line."


def test_a_header_that_says_nonsense() -> None:
    error = told(lambda: parse_header(HEAD.replace('"unit": "C"', '"unit": "K"'), "a.jsonl"))
    assert str(error) == "a.jsonl, line 1: not a roast's header (unit: must be 'C' or 'F'). Correct the line."


def test_a_line_is_plain_text_without_what_is_not_set() -> None:
    """So that a person can read it, and every word of any language stands as it was typed."""
    assert line_of(Note(at=5.0, text="café 豆")) == '{"at": 5.0, "kind": "note", "text": "café 豆"}\n'
    assert '"person"' in HEAD
    assert "batch_kg" not in HEAD
    assert "null" not in HEAD
    assert parse_header(HEAD, "x") == HEADER
    with pytest.raises(ValueError, match=r"Out of range|not JSON compliant"):
        line_of(Reading.model_construct(at=1.0, temperature=float("nan")))


# -- whole files -------------------------------------------------------------------------------------------------------


def test_too_many_lines_and_none() -> None:
    many = told(lambda: list(read_lines(iter([HEAD, *["\n"] * MAX_LINES]), "a.jsonl")))
    assert str(many) == "a.jsonl, line 20001: more than 20000 lines. That is no journal of one roast."
    none = told(lambda: list(read_lines(iter([]), "a.jsonl")))
    assert str(none) == "a.jsonl: empty. A journal starts with a header line."


def test_what_is_read_names_its_line_and_its_file(tmp_path: Path) -> None:
    """The header is line 1; a fault in line 4 is told of line 4, though line 3 is empty."""
    path = tmp_path / "r.jsonl"
    path.write_text(HEAD + CHARGE + "\n" + LINE)
    read = read_journal(path)
    assert (read.path, read.header, read.torn) == (path, HEADER, False)
    assert read.entries == (Numbered(2, Mark(at=10.0, event="charge")), Numbered(4, Reading(at=20.0, temperature=150)))
    path.write_text(HEAD + CHARGE + "\n" + "{}\n" + LINE)
    error = told(lambda: read_journal(path))
    assert str(error).startswith(f"{path}, line 4: ")
    path.write_text("{}\n" + LINE)
    assert str(told(lambda: read_journal(path))).startswith(f"{path}, line 1: ")


def test_a_bad_line_in_the_middle_is_told_and_only_the_last_one_may_be_torn(tmp_path: Path) -> None:
    path = tmp_path / "r.jsonl"
    for broken in (LINE[:15] + "\n" + LINE, LINE[:15] + "\n"):
        path.write_text(HEAD + CHARGE + broken)
        assert str(told(lambda: read_journal(path))).startswith(f"{path}, line 3: ")
    path.write_text(HEAD + CHARGE + LINE[:15])
    assert read_journal(path).torn


def test_entries_that_are_no_roast_are_told_by_name_of_the_file(tmp_path: Path) -> None:
    path = tmp_path / "r.jsonl"
    path.write_text(HEAD + CHARGE + CHARGE.replace("10.0", "20.0"))
    error = told(lambda: read_journal(path))
    assert str(error).startswith(f"{path}: charge is already marked")
    assert str(error) != f"{path}: charge is already marked", "and what to do"
    assert "None" not in str(error)


@pytest.mark.parametrize(
    ("text", "lines", "torn"),
    [
        ("", [], False),
        ("  ", [], False),
        (HEAD, 1, False),
        (HEAD + "\n", 2, False),
        (HEAD + LINE + "\t", 2, False),
        (HEAD + LINE + "[", 2, True),
        (HEAD + LINE + "[" * 90_000, 2, True),
        (HEAD + LINE + LINE.rstrip(), 3, False),
        ("[", 1, False),
        (HEAD.rstrip(), 1, False),
    ],
)
def test_which_lines_are_whole(text: str, lines: list[str] | int, torn: bool) -> None:
    found, was_torn = whole_lines(text)
    assert was_torn is torn
    assert found == text.split("\n")[: lines if isinstance(lines, int) else 0]


# -- files that are none -----------------------------------------------------------------------------------------------


def test_each_file_that_can_not_be_read_is_told_why(tmp_path: Path) -> None:
    folder, big, odd, pipe, none = (tmp_path / n for n in ("folder", "big", "odd", "pipe", "none"))
    folder.mkdir()
    big.write_bytes(b" " * (MAX_BYTES + 1))
    odd.write_bytes(b"ab\xffcd\nline\n")
    os.mkfifo(pipe)
    for path, said in (
        (folder, "is a folder. Name a journal (.jsonl)."),
        (pipe, "is no file but a pipe or a device. Name a journal (.jsonl)."),
        (big, "larger than 8 MB. That is no journal (.jsonl)."),
        (none, "not found. Check the name."),
        (odd, "not a text file in UTF-8. Name a journal (.jsonl)."),
        (tmp_path / ("n" * 300), "can't be read (File name too long). Check the file's rights."),
        (Path("nul\0l"), "no file can have such a name. Check the name."),
    ):
        error = told(lambda path=path: read_text(path))  # type: ignore[misc]
        assert error.message == f"{path}: ".replace("\0", "\ufffd") + said.split(". ")[0] + "."
        assert error.hint == said.split(". ")[1]


def test_a_file_of_just_the_limit_is_read(tmp_path: Path) -> None:
    assert MAX_BYTES == 8 * 1024 * 1024
    (tmp_path / "full").write_bytes(b" " * MAX_BYTES)
    assert len(read_text(tmp_path / "full")) == MAX_BYTES


def test_a_file_without_the_right_to_read_it_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "r.jsonl"
    path.write_text(HEAD)

    def denied(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", denied)
    error = told(lambda: read_text(path))
    assert str(error) == f"{path}: can't be read (Permission denied). Check the file's rights."


def test_a_character_that_is_torn_elsewhere_than_at_the_end_is_no_text(tmp_path: Path) -> None:
    path = tmp_path / "r.jsonl"
    whole = "é".encode()
    path.write_bytes(whole[:1] + b"\nline\n")
    assert "not a text file" in str(told(lambda: read_text(path)))
    path.write_bytes(whole[:1])  # the only line
    assert "not a text file" in str(told(lambda: read_text(path)))
    path.write_bytes(b"line\n" + whole + whole[:1])
    assert read_text(path) == "line\n\ufffd"
    path.write_bytes(b"line\n" + whole[:1] + b"more")
    assert read_text(path) == "line\n\ufffd"


# -- writing -----------------------------------------------------------------------------------------------------------


def test_a_whole_last_line_without_its_newline_is_kept_on_disk_and_synced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Reopening puts the newline there, cuts what is torn, and has both on disk before anything is appended."""
    synced: list[bytes] = []
    monkeypatch.setattr(os, "fsync", lambda d: synced.append(Path(os.readlink(f"/proc/self/fd/{d}")).read_bytes()))
    path = tmp_path / "r.jsonl"
    for tail, kept in ((LINE.rstrip(), LINE), ('{"kind": "no', "")):
        synced.clear()
        path.write_text(HEAD + tail)
        writer = JournalWriter(path)
        assert writer.reopen()
        assert synced == [(HEAD + kept).encode()]
        writer.close()
    synced.clear()
    path.write_text(HEAD)
    writer = JournalWriter(path)
    assert writer.reopen() is False
    assert synced == [], "nothing to mend, nothing to sync"
    writer.close()


def test_a_journal_can_be_read_by_others_while_it_is_written_and_not_written(tmp_path: Path) -> None:
    path = tmp_path / "r.jsonl"
    writer = JournalWriter(path)
    writer.create(HEADER)
    assert read_journal(path).header == HEADER
    open_before = len(os.listdir("/proc/self/fd"))
    for _ in range(3):
        assert in_use(path)
    assert len(os.listdir("/proc/self/fd")) == open_before, "looking leaves nothing open"
    descriptor = os.open(path, os.O_WRONLY)
    with pytest.raises(BlockingIOError):
        journal.lock(descriptor)
    os.close(descriptor)
    writer.close()
    assert not in_use(path)
    with pytest.raises(OSError, match=r"^journal is not open$"):
        writer.append(LINE)
    with pytest.raises(OSError, match=r"^journal is not open$"):
        writer.stat()
    assert path.read_text() == HEAD


def test_a_file_system_without_locks_is_written_all_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none(descriptor: int, how: int) -> None:
        raise OSError(37, "No locks available")

    monkeypatch.setattr("fcntl.flock", none)
    path = tmp_path / "r.jsonl"
    writer = JournalWriter(path)
    writer.create(HEADER)
    writer.append(LINE)
    writer.close()
    assert path.read_text() == HEAD + LINE
    monkeypatch.setattr(journal, "fcntl", None)  # a system without it at all
    again = JournalWriter(path)
    assert again.reopen() is False
    assert not in_use(path)
    again.close()


def test_what_was_there_before_a_program_went_on_is_never_written_over(tmp_path: Path) -> None:
    """Two writers in turn, each appending: also what another program put at the end meanwhile stays."""
    path = tmp_path / "r.jsonl"
    writer = JournalWriter(path)
    writer.create(HEADER)
    with path.open("a") as other:
        other.write(CHARGE)
    writer.append(LINE)
    writer.close()
    again = JournalWriter(path)
    again.reopen()
    with path.open("a") as other:
        other.write(LINE)
    again.append(LINE)
    again.close()
    assert path.read_text() == HEAD + CHARGE + LINE + LINE + LINE


def test_lines_end_in_one_newline_and_words_in_utf_8_whatever_the_system(tmp_path: Path) -> None:
    path = tmp_path / "r.jsonl"
    writer = JournalWriter(path)
    writer.create(HEADER)
    writer.append(line_of(Note(at=1.0, text="Grüße\nund mehr")))
    writer.close()
    again = JournalWriter(path)
    again.reopen()
    again.append(line_of(Note(at=2.0, text="豆")))
    again.close()
    data = path.read_bytes()
    assert (data.count(b"\n"), data.count(b"\r")) == (3, 0)
    assert "Grüße".encode() in data
    assert "豆".encode() in data


def test_closing_lets_go_of_the_file_even_if_the_system_complains(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Stubborn(io.FileIO):
        def close(self) -> None:
            was_open = not self.closed
            super().close()
            if was_open:
                raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "fdopen", lambda d, *_, **how: io.TextIOWrapper(Stubborn(d, "a"), write_through=True))
    writer = JournalWriter(tmp_path / "r.jsonl")
    writer.create(HEADER)
    with pytest.raises(OSError, match="Input/output error"):
        writer.close()
    writer.close()  # nothing is open any more
    with pytest.raises(OSError, match="not open"):
        writer.append(LINE)


def test_folders_are_made_from_the_top_each_for_the_person_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[str] = []
    monkeypatch.setattr(os, "fsync", lambda d: synced.append(os.readlink(f"/proc/self/fd/{d}")))
    make_folder(tmp_path / "a" / "b" / "c")
    assert synced == [str(tmp_path), str(tmp_path / "a"), str(tmp_path / "a" / "b")]
    for folder in ("a", "a/b", "a/b/c"):
        assert (tmp_path / folder).stat().st_mode & 0o777 == 0o700
    synced.clear()
    make_folder(tmp_path / "a" / "b")
    assert synced == [], "what is there is left alone"
    sync_folder(tmp_path / "a")
    assert synced == [str(tmp_path / "a")]


def test_two_coaches_that_make_the_same_folder_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The other one makes it between looking and making."""
    exists = Path.exists
    (tmp_path / "a").mkdir()
    monkeypatch.setattr(Path, "exists", lambda self: self.name != "a" and exists(self))
    make_folder(tmp_path / "a")


@pytest.mark.parametrize("how", ["create", "reopen"])
def test_words_are_written_in_utf_8_where_the_locale_knows_none(tmp_path: Path, how: str) -> None:
    path = tmp_path / "r.jsonl"
    program = (
        "import sys; from pathlib import Path; from coach.session.journal import JournalWriter\n"
        "w = JournalWriter(Path(sys.argv[1]))\n"
        "w.start(w.path, 'head\\n') if sys.argv[2] == 'create' else w.reopen()\n"
        "w.append('Gr\\u00fc\\u00dfe\\n'); w.close()\n"
    )
    if how == "reopen":
        path.write_text("head\n")
    plain = {**os.environ, "LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0",
             "PYTHONPATH": str(Path(journal.__file__).parents[1])}  # fmt: skip
    subprocess.run([sys.executable, "-c", program, str(path), how], check=True, env=plain)
    assert path.read_bytes() == "head\nGrüße\n".encode()
