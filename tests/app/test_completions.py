"""What a shell completes: commands, options, and the names of profiles, roasts and drills.

bash runs the script here; zsh 5.9 and fish 3.6 were tried by hand, PowerShell was not.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Final

import pytest

from coach.app.cli import main

COMPLETE: Final = r"""
source "$1"; shift
for line in "$@"; do
  IFS=' ' read -r -a COMP_WORDS <<< "$line"
  [[ $line == *" " ]] && COMP_WORDS+=("")
  COMP_CWORD=$((${#COMP_WORDS[@]} - 1)) COMPREPLY=()
  $(complete -p coach | sed 's/.*-F \([^ ]*\).*/\1/')
  echo "${COMPREPLY[@]}"
done
"""
"""Calls the function that bash calls when Tab is pressed at the end of each line, and prints what it offers."""


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash")
def test_bash_completes_commands_options_and_names(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home, program = tmp_path / "home", tmp_path / "coach"
    (home / "roasts").mkdir(parents=True)
    (home / "profiles").mkdir()
    for name in ("profiles/own-lot.toml", "profiles/own$(touch gone).toml", "roasts/20261102-080000-ab12cd.jsonl"):
        (home / name).touch()
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m coach "$@"\n')
    program.chmod(0o755)
    assert main(["completions", "bash"]) == 0
    script = tmp_path / "script"
    script.write_text(capsys.readouterr().out)
    lines = [
        "coach reh",
        "coach acc",
        "coach brief ow",
        "coach rehearse --drill smo",
        "coach review 2026",
        "coach log --js",
    ]
    done = subprocess.run(
        ["bash", "--norc", "-c", COMPLETE, "-", str(script), *lines],
        env={**os.environ, "PATH": f"{tmp_path}:{os.environ['PATH']}", "COACH_HOME": str(home)},
        cwd=tmp_path, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert done.stderr == ""
    offered = dict(zip(lines, done.stdout.splitlines(), strict=True))
    assert offered == {
        "coach reh": "rehearse",
        "coach acc": "accuracy",
        "coach brief ow": "own-lot",
        "coach rehearse --drill smo": "smoulder-alarm",
        "coach review 2026": "20261102-080000-ab12cd",
        "coach log --js": "--json",
    }
    assert not (tmp_path / "gone").exists(), "a file's name is never run"


@pytest.mark.parametrize("shell", ["zsh", "fish", "powershell"])
def test_other_shells_have_a_script_too(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completions", shell]) == 0
    said = capsys.readouterr().out
    assert "rehearse" in said
    assert "coach completions --names profile" in said


def test_a_shell_that_is_not_known_is_refused_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completions", "zhs"]) == 2
    assert "zsh" in capsys.readouterr().err
    assert main(["completions"]) == 2
    assert "SHELL is missing" in capsys.readouterr().err
