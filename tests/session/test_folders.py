"""Where a person's files lie on each system, and that the folder of an earlier version stays in use.

The places are those that Apple's File System Programming Guide ("Application Support", "Caches") and Microsoft's
known folders (FOLDERID_LocalAppData) name; for Linux the XDG Base Directory Specification.
"""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs
import platformdirs.macos
import platformdirs.unix
import platformdirs.windows
import pytest

from coach.app.cli import main
from coach.roast.remarks import collected
from coach.session.folders import cache_folder, home, logbook_folder


@pytest.fixture
def person(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("COACH_HOME", "COACH_CACHE", "XDG_DATA_HOME", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "AppData" / "Local"))
    return tmp_path


def on(system: str, monkeypatch: pytest.MonkeyPatch) -> None:
    known = {
        "linux": platformdirs.unix.Unix,
        "macos": platformdirs.macos.MacOS,
        "windows": platformdirs.windows.Windows,
    }
    monkeypatch.setattr(platformdirs, "PlatformDirs", known[system])
    if system == "windows":  # its own call can't be asked here; the variable says the same
        monkeypatch.setattr(platformdirs.windows, "get_win_folder", lambda name: os.environ["LOCALAPPDATA"])


@pytest.mark.parametrize(
    ("system", "data", "cache"),
    [
        ("linux", ".local/share/coach", ".cache/coach"),
        ("macos", "Library/Application Support/coach", "Library/Caches/coach"),
        ("windows", "AppData/Local/coach", "AppData/Local/coach/Cache"),
    ],
)
def test_each_system_has_its_own_place(
    system: str, data: str, cache: str, person: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    on(system, monkeypatch)
    assert home() == person / data
    assert cache_folder() == person / cache
    monkeypatch.setenv("COACH_HOME", str(person / "mine"))
    monkeypatch.setenv("COACH_CACHE", str(person / "fast"))
    assert (home(), cache_folder()) == (person / "mine", person / "fast")


def test_an_earlier_versions_folder_stays_in_use_and_is_not_touched(
    person: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    on("macos", monkeypatch)
    earlier = person / ".local" / "share" / "coach"
    (earlier / "roasts").mkdir(parents=True)
    (earlier / "roasts" / "old.jsonl").write_text("kept\n")
    (person / "Library" / "Application Support" / "coach" / "Cache").mkdir(parents=True)  # a cache is no file of theirs
    with collected() as remarks:
        assert home() == earlier
        assert logbook_folder() == earlier / "roasts"
    assert remarks == []
    assert (earlier / "roasts" / "old.jsonl").read_text() == "kept\n"


def test_where_both_hold_files_the_present_one_is_used_and_the_other_named(
    person: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    on("windows", monkeypatch)
    earlier, present = person / ".local" / "share" / "coach", person / "AppData" / "Local" / "coach"
    for folder in (earlier, present):
        folder.mkdir(parents=True)
        (folder / "settings.toml").write_text("")
    with collected() as remarks:
        assert home() == present
        home()
    assert len(remarks) == 1
    assert str(earlier) in remarks[0]
    assert str(present) in remarks[0]


def test_on_linux_the_two_are_one_folder(person: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    on("linux", monkeypatch)
    monkeypatch.setenv("XDG_DATA_HOME", str(person / "data"))
    (person / "data" / "coach" / "roasts").mkdir(parents=True)
    with collected() as remarks:
        assert home() == person / "data" / "coach"
    assert remarks == []


@pytest.mark.parametrize("argv", [["drills", "~=gas"], ["review", "~nobody-of-that-name"], ["brief", "~nobody/x.toml"]])
def test_the_home_of_nobody_is_a_name_like_any_other(argv: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(argv) == 2
    assert capsys.readouterr().err.startswith("coach: ")
