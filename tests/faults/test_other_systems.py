"""Windows and macOS, by simulation: without the POSIX modules, with Windows' locks, console and file rules.

What stands in their place follows the published documents: Microsoft's ``_locking`` (C runtime library), "Naming Files,
Paths, and Namespaces", PEP 528 (the console's encoding), clock_gettime(3) of macOS.
"""

from __future__ import annotations

import errno
import fcntl
import io
import json
import os
import re
import sqlite3
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from helpers import EXAMPLE

from coach.app.cli import main
from coach.app.screens.signs import terminal_encoding
from coach.app.screens.terminal import check_terminal, on_a_terminal
from coach.logbook.index.summary import local
from coach.roast.entries import Header, Reading
from coach.roast.errors import CoachError
from coach.session import journal
from coach.session.folders import file_stem, open_cache
from coach.session.journal import JournalWriter, in_use, line_of, read_journal
from coach.session.profile_files import save_text
from coach.session.roast_clock import uptime

HEADER = Header(id="r1", profile="Any (invented)", unit="C", pressure_unit="kPa", started="2026-11-02T08:00:00+00:00")


def without_posix(home: Path, *words: str, encoding: str = "cp1252") -> subprocess.CompletedProcess[bytes]:
    environment = {**os.environ, "COACH_HOME": str(home), "COACH_CACHE": str(home / "cache"),
                   "PYTHONIOENCODING": encoding}  # fmt: skip
    done = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("other_system.py")), *words],
        env=environment, capture_output=True, stdin=subprocess.DEVNULL, timeout=100,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr.decode(encoding)
    return done


def test_every_module_is_imported_without_posix(tmp_path: Path) -> None:
    assert int(without_posix(tmp_path).stdout) > 200


def test_a_live_roast_on_the_screen_without_posix(tmp_path: Path) -> None:
    keys = "enter,wait:400,c,wait:200,1,9,5,enter,wait:300,ctrl+q"
    without_posix(tmp_path, "--press", keys, "follow", "larch-hill", encoding="utf-8")
    (written,) = (tmp_path / "roasts").glob("*.jsonl")
    assert [n.entry.kind for n in read_journal(written).entries] == ["mark", "reading"]


@pytest.mark.long
def test_a_rehearsal_and_a_replay_without_posix(tmp_path: Path) -> None:
    said = without_posix(tmp_path, "rehearse", "larch-hill", "--speed", "20").stdout.decode("cp1252")
    assert "first crack" in said
    answers = without_posix(tmp_path, "replay", str(EXAMPLE), "--json").stdout.decode("cp1252").splitlines()
    assert json.loads(answers[-1])["phase"] == "cooling"


@pytest.mark.parametrize(
    "words",
    [
        ["--help"],
        ["cues"],
        ["drills"],
        ["settings"],
        ["brief", "larch-hill"],
        ["charge", "larch-hill"],
        ["plan", "larch-hillx2"],
        ["compare", "larch-hill", "moss-lane"],
        pytest.param(["review", str(EXAMPLE)], marks=pytest.mark.long),
        ["log"],
        ["no such – command"],
    ],
    ids=lambda words: words[0],
)
def test_what_is_printed_finds_a_likeness_for_each_sign_that_a_console_has_not(
    words: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    said = []
    for encoding in ("cp1252", "utf-8"):
        out, err = (io.TextIOWrapper(io.BytesIO(), encoding=encoding) for _ in range(2))
        monkeypatch.setattr(sys, "stdout", out)
        monkeypatch.setattr(sys, "stderr", err)
        assert main(words) == (2 if words[0].startswith("no such") else 0), err.buffer.getvalue()
        err.flush()
        said.append((out.buffer.getvalue() + err.buffer.getvalue()).decode(encoding))
    assert said[0]
    assert said[0].count("?") == said[1].count("?"), "each sign has a likeness"


def test_json_loses_no_sign_where_the_console_has_it_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    found = []
    for encoding in ("utf-8", "cp1252"):
        out = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
        monkeypatch.setattr(sys, "stdout", out)
        assert main(["brief", "larch-hill", "--json"]) == 0
        out.flush()
        found.append(json.loads(out.buffer.getvalue().decode(encoding)))
    assert found[0] == found[1]


def test_windows_locks_keep_a_second_coach_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """``_locking`` locks bytes from the file's position on, also beyond its end, and answers EACCES where another has
    them; the place in the file must be as before."""
    places = set()

    def locking(descriptor: int, how: int, size: int) -> None:
        places.add((os.lseek(descriptor, 0, os.SEEK_CUR), how, size))
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise PermissionError(errno.EACCES, "Permission denied") from None

    monkeypatch.setattr(journal, "fcntl", None)
    monkeypatch.setattr(journal, "msvcrt", SimpleNamespace(locking=locking, LK_NBLCK=2))
    path = tmp_path / "r.jsonl"
    writer = JournalWriter(path)
    writer.create(HEADER)
    assert in_use(path)
    with pytest.raises(BlockingIOError):
        JournalWriter(path).reopen()
    writer.append(line_of(Reading(at=10.0, temperature=150.0)))
    writer.close()
    assert not in_use(path)
    assert len(places) == 1, "one byte, always the same"
    assert next(iter(places))[0] > journal.MAX_BYTES, "which no journal reaches, so that all may read it"
    assert len(read_journal(path).entries) == 1


@pytest.mark.parametrize("refusal", [None, errno.ENOTTY])
def test_macos_is_asked_for_a_full_sync(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, refusal: int | None) -> None:
    """Its fsync(2) leaves what was written in the drive's own memory; a file system without a full sync is synced."""
    asked, synced = [], []

    def control(descriptor: int, command: int) -> None:
        asked.append(command)
        if refusal is not None:
            raise OSError(refusal, "refused")

    mac = SimpleNamespace(
        F_FULLFSYNC=51, fcntl=control, flock=fcntl.flock, LOCK_EX=fcntl.LOCK_EX, LOCK_NB=fcntl.LOCK_NB
    )
    monkeypatch.setattr(journal, "fcntl", mac)
    writer = JournalWriter(tmp_path / "r.jsonl")
    writer.create(HEADER)
    monkeypatch.setattr(os, "fsync", synced.append)
    writer.append(line_of(Reading(at=10.0, temperature=150.0)))
    writer.close()
    assert asked == [51, 51]
    assert len(synced) == (0 if refusal is None else 1)


def test_a_full_sync_that_fails_is_no_success(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def control(descriptor: int, command: int) -> None:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(journal, "fcntl", SimpleNamespace(F_FULLFSYNC=51, fcntl=control))
    with (tmp_path / "r").open("w") as file, pytest.raises(OSError, match="Input/output"):
        journal.sync_file(file.fileno())


def test_a_file_that_is_open_elsewhere_is_replaced_when_it_is_free(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, refusals = os.replace, [PermissionError(13, "Access is denied")] * 2

    def replace(new: Any, path: Any) -> None:
        if refusals:
            raise refusals.pop()
        real(new, path)

    monkeypatch.setattr(os, "replace", replace)
    monkeypatch.setattr(time, "sleep", lambda s: None)
    path = tmp_path / "p.toml"
    path.write_text("old")
    save_text(path, "new", overwrite=True)
    assert path.read_text() == "new"
    refusals += [PermissionError(13, "Access is denied")] * 100
    with pytest.raises(CoachError, match="Access is denied"):
        save_text(path, "newer", overwrite=True)
    assert [p.read_text() for p in tmp_path.iterdir()] == ["new"]


def test_a_console_of_windows_shows_the_screen_with_all_signs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows sets no TERM, and its locale's encoding is not that of its console."""
    for stream in ("stdin", "stdout"):
        monkeypatch.setattr(sys, stream, SimpleNamespace(isatty=lambda: True))
    with pytest.raises(CoachError, match="Leave 2> out"):
        check_terminal("follow")
    monkeypatch.delenv("TERM", raising=False)
    assert not on_a_terminal()
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr("locale.getencoding", lambda: "cp1252")
    assert on_a_terminal()
    check_terminal("follow")
    assert terminal_encoding() == "utf-8"
    monkeypatch.setenv("TERM", "dumb")
    assert not on_a_terminal()


def test_the_clock_goes_on_while_a_computer_sleeps(monkeypatch: pytest.MonkeyPatch) -> None:
    """macOS has no CLOCK_BOOTTIME; its CLOCK_MONOTONIC goes on in sleep, Python's monotonic clock there does not."""
    monkeypatch.setattr(time, "CLOCK_MONOTONIC", 6, raising=False)
    monkeypatch.delattr(time, "CLOCK_BOOTTIME", raising=False)
    monkeypatch.setattr(time, "clock_gettime", {6: 5000.0}.__getitem__, raising=False)
    monkeypatch.setattr(time, "monotonic", lambda: 1000.0)
    assert uptime() == 5000.0
    monkeypatch.delattr(time, "CLOCK_MONOTONIC")
    assert uptime() == 1000.0


@pytest.mark.parametrize(("stem", "name"), [("con", "con_"), ("COM1", "com1_"), ("console", "console"), ("", "none")])
def test_no_file_is_called_like_a_device_of_windows(stem: str, name: str) -> None:
    assert file_stem(stem, "none") == name


def test_the_tree_can_be_checked_out_on_every_system() -> None:
    """No links, and no two names or names with signs that Windows or macOS can't tell apart or have."""
    root = Path(__file__).parents[2]
    found = subprocess.run(["git", "ls-files", "-s", "-z"], cwd=root, capture_output=True, text=True)
    if found.returncode:
        pytest.skip("no clone of a repository")
    rows = [line.split("\t") for line in found.stdout.split("\0") if line]
    assert [name for mode, name in rows if mode.startswith("120000")] == []
    names = [name for _, name in rows]
    assert len({name.casefold() for name in names}) == len(names)
    assert [n for n in names if re.search(r'[<>:"\\|?*]|[ .]$', n)] == []
    assert [n for n in names if file_stem(Path(n).stem, "") == f"{Path(n).stem.lower()}_"] == []


def test_a_date_that_windows_has_no_local_time_for_is_told_as_it_stands() -> None:
    class Moment(datetime):
        def astimezone(self, tz: object = None) -> Moment:
            raise OSError(22, "Invalid argument")

    assert local(Moment(1901, 2, 3, 4, 5, 6, tzinfo=UTC)) == "1901-02-03T04:05:06"


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="open files can't be listed here")
def test_a_damaged_cache_is_begun_anew_where_open_files_cannot_be_removed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = Path.unlink

    def unlink(path: Path, missing_ok: bool = False) -> None:
        if str(path) in (os.path.realpath(f) for f in Path("/proc/self/fd").iterdir()):
            raise PermissionError(13, "The process cannot access the file", str(path))
        real(path, missing_ok)

    monkeypatch.setattr(Path, "unlink", unlink)
    file = tmp_path / "c.sqlite3"
    file.write_bytes(b"no database" * 100)

    def prepare(db: sqlite3.Connection) -> None:
        db.execute("CREATE TABLE t (x)")

    open_cache(file, prepare).close()
    assert file.read_bytes().startswith(b"SQLite format 3")
