"""The command line on terminals that have few signs."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from helpers import EXAMPLE


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437"])
def test_nothing_breaks_where_a_sign_is_missing(tmp_path: Path, encoding: str) -> None:
    environment = {**os.environ, "COACH_HOME": str(tmp_path), "COACH_CACHE": str(tmp_path / "cache"),
                   "PYTHONIOENCODING": encoding}  # fmt: skip
    words = [sys.executable, "-m", "coach", "report", str(EXAMPLE), "--text"]
    done = subprocess.run(words, env=environment, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
    said = done.stdout.decode(encoding)
    assert "first crack" in said
    assert "| " in said, "plots in plain signs"
    assert ("°" in said) == (encoding != "ascii")
    wrong = subprocess.run([*words[:4], "no such – roast"], env=environment, capture_output=True, check=False)
    assert wrong.returncode == 2
    assert b"Traceback" not in wrong.stderr
