"""What the real program says where it can't print or may not look: one line and an exit status, no traceback."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

EXAMPLE = Path(__file__).parents[2] / "examples" / "invented-roast.jsonl"
COMMANDS = (["log"], ["cues"], ["--help"], ["review", str(EXAMPLE)], ["schema", "journal"])


def run(argv: list[str], home: Path, **how: object) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "COACH_HOME": str(home), "COACH_CACHE": str(home / "cache")}
    return subprocess.run(  # type: ignore[call-overload,no-any-return]
        [sys.executable, "-m", "coach", *argv], env=env, text=True, stdin=subprocess.DEVNULL, timeout=60, **how
    )


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize("argv", COMMANDS)
def test_output_to_a_full_disk(tmp_path: Path, argv: list[str]) -> None:
    with open("/dev/full", "w") as full:
        done = run(argv, tmp_path, stdout=full, stderr=subprocess.PIPE)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert done.stderr.startswith("coach: what was to be written or printed can't be (No space left on device)")


@pytest.mark.parametrize("argv", [c if c[0] != "review" else pytest.param(c, marks=pytest.mark.long) for c in COMMANDS])
def test_a_closed_standard_output(tmp_path: Path, argv: list[str]) -> None:
    line = " ".join(["exec", sys.executable, "-m", "coach", *argv, ">&-"])
    env = {**os.environ, "COACH_HOME": str(tmp_path), "COACH_CACHE": str(tmp_path / "cache")}
    done = subprocess.run(["sh", "-c", line], env=env, text=True, capture_output=True, timeout=60)
    assert done.returncode == 2
    assert done.stderr.startswith("coach: what was to be written or printed can't be")
    assert "Traceback" not in done.stderr


def test_a_logbook_that_one_may_not_enter_is_no_empty_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As root every folder may be entered: the system's refusal is made here."""
    from coach.app.cli import main
    from coach.session import folders

    real = os.scandir

    def refused(folder: str | os.PathLike[str]) -> Any:
        if Path(folder) == tmp_path / "roasts":
            raise PermissionError(13, "Permission denied", str(folder))
        return real(folder)

    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    (tmp_path / "roasts").mkdir()
    monkeypatch.setattr(folders.os, "scandir", refused)
    for argv in (["log"], ["accuracy", "larch-hill"]):
        assert main(argv) == 2, argv


def test_long_names_large_limits_and_odd_times(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from coach.app.cli import main

    late = tmp_path / "late.jsonl"
    lines = EXAMPLE.read_text().splitlines()
    late.write_text("\n".join([*lines, '{"kind": "move", "at": 1000000.0, "control": "gas", "value": 1.0}']) + "\n")
    assert main(["log", "--limit", "9" * 30]) in (0, 2)
    for argv in (["review", "x" * 300], ["brief", "y" * 300], ["adopt", "z" * 300, "--name", "a"]):
        assert main(argv) == 2, argv
        assert "Traceback" not in capsys.readouterr().err
    began = time.monotonic()
    assert main(["replay", str(late), "--profile", "larch-hill", "--json"]) in (0, 2)
    assert time.monotonic() - began < 20.0


@pytest.mark.parametrize("after", [0.02, 0.06, 0.12])
def test_ctrl_c_in_the_first_moments_says_nothing(tmp_path: Path, after: float) -> None:
    env = {**os.environ, "COACH_HOME": str(tmp_path)}
    child = subprocess.Popen([sys.executable, "-m", "coach", "log"], env=env, stderr=subprocess.PIPE, text=True)
    time.sleep(after)
    child.send_signal(signal.SIGINT)
    _, said = child.communicate(timeout=20)
    first = re.escape(f"{os.sep}coach{os.sep}__main__.py") + '", line [3-6],'
    reached = re.sub(first, "", said)
    assert f"{os.sep}coach{os.sep}" not in reached, "until the program heeds it, Python may say so"
