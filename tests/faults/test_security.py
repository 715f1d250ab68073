"""What a roast leaves on disk is the person's alone, and nothing listens or talks to any network."""

from __future__ import annotations

import os
import shutil
import socket
import stat
import subprocess
import sys
from pathlib import Path
from typing import Never

import pytest
from helpers import EXAMPLE, ROOT, Hand, live

from coach.app.cli import main
from coach.roast.entries import Mark, Reading

PROFILE = str(ROOT / "profiles" / "larch-hill.toml")


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))
    return tmp_path / "home"


def test_files_are_the_persons_alone(home: Path, tmp_path: Path) -> None:
    """Whatever the usual mode of new files is: journals, cues, profiles, pages, sheets and the index are 0600."""
    before = os.umask(0o000)
    try:
        roast = live(home / "roasts", Hand())
        roast.enter(Mark(at=10.0, event="charge"))
        roast.enter(Reading(at=60.0, temperature=120.0))
        roast.close()
        shutil.rmtree(home / "roasts")
        roast = live(home / "roasts", Hand())
        roast.enter(Mark(at=10.0, event="charge"))
        roast.close()
        shutil.copy(EXAMPLE, home / "roasts" / "example.jsonl")
        (home / "roasts" / "example.jsonl").chmod(0o600)
        made = {
            "page": ["review", str(EXAMPLE), "--profile", PROFILE, "--html", str(tmp_path / "page.html")],
            "sheet": ["export", str(EXAMPLE), "--output", str(tmp_path / "sheet.csv")],
            "profile": ["adopt", str(EXAMPLE), "--name", "mine", "--output", str(home / "profiles" / "mine.toml")],
            "index": ["log"],
        }
        for name, argv in made.items():
            assert main(argv) == 0, name
    finally:
        os.umask(before)
    files = [p for p in tmp_path.rglob("*") if p.is_file()]
    assert {p.suffix for p in files} >= {".jsonl", ".json", ".html", ".csv", ".toml", ".sqlite3"}
    assert {str(p.relative_to(tmp_path)): oct(mode(p)) for p in files if mode(p) & 0o077} == {}
    assert mode(home / "roasts") == 0o700
    assert mode(tmp_path / "cache") == 0o700


def test_no_socket_is_opened(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object, **__: object) -> Never:
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket, "socket", refused)
    monkeypatch.setattr(socket, "create_connection", refused)
    assert main(["replay", str(EXAMPLE), "--profile", PROFILE]) == 0
    assert main(["brief", PROFILE]) == 0
    assert main(["log", str(EXAMPLE)]) == 0


def test_the_program_asks_the_system_for_no_network(home: Path, tmp_path: Path) -> None:
    """The system calls themselves, where they can be traced; and that each entry waits for the disk."""
    if shutil.which("strace") is None:
        pytest.skip("strace is not installed")
    program = (
        "import sys; sys.path[:0] = [sys.argv[1], sys.argv[2]]\n"
        "from pathlib import Path\nfrom helpers import Hand, live\nfrom coach.roast.entries import Mark, Reading\n"
        "roast = live(Path(sys.argv[3]), Hand())\nroast.enter(Mark(at=1.0, event='charge'))\n"
        "for n in range(5):\n    roast.enter(Reading(at=9.0 + n, temperature=150.0 + n))\n    roast.scribe.wait(5)\n"
        "roast.close()\n"
    )
    trace = tmp_path / "trace"
    command = ["strace", "-f", "-e", "trace=%network,write,fsync,fdatasync", "-o", str(trace), sys.executable, "-c"]
    arguments = [program, str(ROOT), str(ROOT / "tests"), str(home / "roasts")]
    done = subprocess.run([*command, program, *arguments[1:]], capture_output=True, text=True, check=False)
    if "PTRACE" in done.stderr.upper():
        pytest.skip("tracing is not allowed here")
    assert done.returncode == 0, done.stderr[-500:]
    calls = trace.read_text().splitlines()
    assert not [c for c in calls if "AF_INET" in c], "no internet socket"
    steps = [c.split(None, 1)[1].split("(")[0] for c in calls if '"{\\"' in c or "sync(" in c]
    writes = [i for i, s in enumerate(steps) if s == "write"]
    assert len(writes) >= 7, "the header and six entries; then the cues"
    assert all(steps[i + 1] in ("fsync", "fdatasync") for i in writes), "each is synced before the next is written"
