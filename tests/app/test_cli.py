"""The command line: what it lists, what it suggests, what it remembers, and terminals that have few signs."""

from __future__ import annotations

import argparse
import io
import json
import os
import re
import shlex
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest
from helpers import EXAMPLE

from coach.app.arguments import COMMANDS, GROUPS, parser
from coach.app.cli import main
from coach.app.printing import at_words, hanging, print_page
from coach.session.profile_files import find_profile


@pytest.mark.parametrize("encoding", [pytest.param(e, marks=pytest.mark.long) for e in ("ascii", "latin-1", "cp437")])
def test_nothing_breaks_where_a_sign_is_missing(tmp_path: Path, encoding: str) -> None:
    environment = {**os.environ, "COACH_HOME": str(tmp_path), "COACH_CACHE": str(tmp_path / "cache"),
                   "PYTHONIOENCODING": encoding}  # fmt: skip
    words = [sys.executable, "-m", "coach", "review", str(EXAMPLE)]
    done = subprocess.run(words, env=environment, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
    said = done.stdout.decode(encoding)
    assert "first crack" in said
    assert "| " in said, "plots in plain signs"
    assert ("°" in said) == (encoding != "ascii")
    wrong = subprocess.run([*words[:4], "no such – roast"], env=environment, capture_output=True, check=False)
    assert wrong.returncode == 2
    assert b"Traceback" not in wrong.stderr


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def test_the_help_lists_every_command_once_by_group(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    said = capsys.readouterr().out
    listed = re.findall(r"^  (\w+) +\S", said.partition("\nroast\n")[2], re.MULTILINE)
    assert sorted(listed) == sorted(COMMANDS)
    assert [g for g in said.splitlines() if g in GROUPS] == list(GROUPS)
    assert all(len(line) <= 100 for line in said.splitlines())
    assert main(["--help"]) == 0
    assert capsys.readouterr().out == said


def test_the_version_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"coach {version('coach')}\n"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["log", "--limit", "many"], "coach log: --limit 'many' is no whole number. coach log --help shows"),
        (["import", "x", "--batch", "heavy"], "coach import: --batch 'heavy' is no number. "),
    ],
)  # fmt: skip
def test_what_is_no_number_is_told_so(capsys: pytest.CaptureFixture[str], words: list[str], said: str) -> None:
    assert main(words) == 2
    assert capsys.readouterr().err.startswith(said)


@pytest.mark.parametrize(
    ("words", "near"),
    [
        (["reherse"], "rehearse"),
        (["brief", "larch-hil"], "larch-hill"),
        (["rehearse", "larch-hill", "--drill", "wetlot"], "wet-lot"),
        (["log", "--limt", "3"], "--limit"),
        (["accuracy", "larch-hill", "--of", "cue"], "cues"),
        (["review", "lst"], "last"),
    ],
)
def test_what_is_misspelt_is_answered_with_the_nearest(
    home: Path, capsys: pytest.CaptureFixture[str], words: list[str], near: str
) -> None:
    (home / "roasts").mkdir(parents=True)
    try:
        code: object = main(words)
    except SystemExit as left:
        code = left.code
    assert code == 2
    said = capsys.readouterr().err
    assert f"Did you mean '{near}'?" in said
    assert len(said.splitlines()) == 1


def test_the_profile_is_the_last_one_used(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare"]) == 2
    assert "none was used yet" in capsys.readouterr().err
    assert main(["compare", "moss-lane", "--json"]) == 0
    first = json.loads(capsys.readouterr().out)
    assert main(["compare", "--json"]) == 0
    told = capsys.readouterr()
    assert json.loads(told.out) == first
    assert "moss-lane" in told.err
    (home / "last-profile").write_text("no such", encoding="utf-8")
    (home / "profiles").mkdir()
    (home / "profiles" / "mine.toml").write_text(find_profile("larch-hill").read_text(encoding="utf-8"))
    assert main(["compare", "--json"]) == 0
    assert "mine" in capsys.readouterr().err


@pytest.mark.long
def test_a_roast_is_replayed_by_its_name_with_the_profile_it_names(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (home / "roasts").mkdir(parents=True)
    (home / "roasts" / "one.jsonl").write_bytes(EXAMPLE.read_bytes())
    assert main(["replay", "one"]) == 0
    by_name = capsys.readouterr().out
    assert main(["replay", str(EXAMPLE), "--profile", "larch-hill"]) == 0
    assert capsys.readouterr().out == by_name


DATA = [
    ["brief", "larch-hill"], ["charge", "larch-hill"], ["compare", "larch-hill"],
    ["compare", "larch-hill", "moss-lane"],
    ["drills"], ["drills", "wet-lot"], ["cues", "crack"], ["plan", "larch-hill"], ["settings"],
    ["review", str(EXAMPLE)], ["log", str(EXAMPLE)], ["schema", "profile"],
]  # fmt: skip


@pytest.mark.parametrize("words", DATA, ids=" ".join)
def test_data_is_told_as_json(home: Path, capsys: pytest.CaptureFixture[str], words: list[str]) -> None:
    assert main([*words, *(["--json"] if words[0] != "schema" else [])]) == 0

    def no_constant(name: str) -> float:
        raise AssertionError(f"{name} is not JSON (RFC 8259)")

    assert json.loads(capsys.readouterr().out, parse_constant=no_constant)


@pytest.mark.parametrize("signs", ["ascii", "full"])
def test_plots_are_printed_in_the_signs_of_the_settings(
    home: Path, capsys: pytest.CaptureFixture[str], signs: str
) -> None:
    home.mkdir()
    (home / "settings.toml").write_text(f'signs = "{signs}"\n')
    assert main(["compare", "larch-hill", "moss-lane"]) == 0
    assert (re.search("[\u2801-\u28ff]", capsys.readouterr().out) is None) == (signs == "ascii")


def test_old_names_and_spellings_still_work(home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", str(EXAMPLE), "--text", "--folder", str(home)]) == 0
    old = capsys.readouterr().out
    assert main(["review", str(EXAMPLE), "--logbook", str(home)]) == 0
    assert capsys.readouterr().out == old
    assert main(["report", str(EXAMPLE), "--output", str(tmp_path / "old.html")]) == 0
    assert main(["review", str(EXAMPLE), "--html", str(tmp_path / "new.html")]) == 0
    assert (tmp_path / "old.html").read_bytes() == (tmp_path / "new.html").read_bytes()
    capsys.readouterr()
    (home / "roasts").mkdir(parents=True)
    for old_words, part in ((["ledger", "--profile", "larch-hill"], "cues"), (["advice", "larch-hill"], "advice"),
                            (["trust", "larch-hill"], "forecasts")):  # fmt: skip
        code, told = main(old_words), capsys.readouterr()
        assert main(["accuracy", "larch-hill", "--of", part]) == code
        assert capsys.readouterr() == told


def test_what_writes_a_file_tells_it_as_json_too(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def told(*words: str) -> Any:
        assert main([*words, "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    roast, sheet = tmp_path / "one.jsonl", str(EXAMPLE.with_name("invented-sheet.csv"))
    roast.write_bytes(EXAMPLE.read_bytes())
    read = told("import", sheet, "--output", str(tmp_path / "read.jsonl"))
    assert read["file"] == str(tmp_path / "read.jsonl")
    assert read["readings"] > 5
    assert set(read["marks"]) >= {"first crack", "drop"}
    stands = told("result", str(roast), "in=0.8", "out=0.69", "accepted=yes")
    assert stands["roast"]["loss"] == pytest.approx(13.75)
    shown = told("adopt", str(roast), "--name", "Ours", "--show")
    assert (shown["file"], shown["profile"]["name"]) == (None, "Ours")
    written = told("adopt", str(roast), "--name", "Ours")
    assert Path(written["file"]).is_file()
    assert written["sources"]["charge temperature"]
    merged = told("merge", "larch-hill", str(roast), "--show")
    assert (merged["file"], merged["provisional"], merged["roasts"]) == (None, True, ["invented-larch-hill"])
    scaled = told("scale", "larch-hill", "--batch", "0.7", "--output", str(tmp_path / "less.toml"))
    assert "batch: 0.8 kg -> 0.7 kg" in scaled["changes"]
    assert [s["sound"] for s in told("sounds", "crack near")] != []
    lines = EXAMPLE.read_text().splitlines(keepends=True)
    (tmp_path / "cut.jsonl").write_text("".join(lines[:20]))
    assert told("close", str(tmp_path / "cut.jsonl"))["closed"] is True


def test_nothing_is_asked_where_the_answer_is_json(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda *_: pytest.fail("asked"))
    sheet = tmp_path / "s.csv"
    sheet.write_text("a,b\n0:00,190\n1:00,95\n")
    assert main(["import", str(sheet), "--json"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "--time COLUMN" in said.err


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="counts threads where the system lists them")
def test_the_libraries_do_not_spin_on_every_core() -> None:
    look = "import coach.__main__, scipy.linalg, os; print(len(os.listdir('/proc/self/task')))"
    environment = {k: v for k, v in os.environ.items() if not k.endswith("_NUM_THREADS")}
    done = subprocess.run([sys.executable, "-c", look], env=environment, capture_output=True, text=True, check=True)
    assert done.stdout == "1\n"


@pytest.mark.parametrize("name", COMMANDS)
def test_each_option_has_a_help_and_each_command_an_example_that_is_understood(name: str) -> None:
    top = parser()
    (found,) = [a.choices[name] for a in top._actions if isinstance(a, argparse._SubParsersAction) and a.choices]
    assert [a.dest for a in found._actions if not a.help] == []
    assert f"coach {name}" in (found.epilog or "")
    args, unknown = top.parse_known_args([name, *shlex.split(COMMANDS[name].example)])
    assert (args.command, unknown) == (name, [])


def test_a_terminal_breaks_long_lines_at_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """Below their text, beside the label; a path stays whole, and so does JSON; a pipe gets each line as it is."""

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    long = "  begins     0.70 or more in two forecasts from different readings, no such move in 45 s"
    path = "coach: /somewhere/" + "x" * 40 + ".jsonl: exists already. Choose another name."
    monkeypatch.setenv("COLUMNS", "50")
    shown, piped = Terminal(), io.StringIO()
    monkeypatch.setattr(sys, "stdout", shown)
    monkeypatch.setattr(sys, "stderr", piped)
    with at_words():
        for stream in (sys.stdout, sys.stderr):
            print("\n".join([long, path, '{"text": "' + "a word " * 20 + '"}']), file=stream)
    lines = shown.getvalue().splitlines()
    assert lines[1].startswith(" " * 13 + "different")
    assert [len(x) <= 50 for x in lines[:-1] if "/somewhere/" not in x] == [True] * (len(lines) - 2)
    assert any(x.endswith("x.jsonl:") for x in lines)
    assert " ".join(" ".join(lines).split()) == " ".join(piped.getvalue().split())
    assert lines[-1].startswith("{")
    assert len(lines[-1]) > 50
    assert piped.getvalue().splitlines()[:2] == [long, path]


def test_a_page_on_a_terminal_has_its_colours_and_in_a_pipe_none(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    lines = ["LARGEST DIFFERENCES", "  1. " + "hotter than the plan " * 5, "  80 °C │⡆  o"]
    print_page(lines)
    assert capsys.readouterr().out.splitlines() == lines
    for name, value in (("COLUMNS", "50"), ("TERM", "xterm-256color"), ("NO_COLOR", "")):
        monkeypatch.setenv(name, value)
    shown = Terminal()
    monkeypatch.setattr(sys, "stdout", shown)
    with at_words():
        print_page(lines)
    head, *rest = shown.getvalue().splitlines()
    assert re.fullmatch(r"\x1b\[[0-9;]*36mLARGEST DIFFERENCES\x1b\[0m", head), "cyan"
    assert "\x1b[1;33mo\x1b[0m" in rest[-1]
    bare = [re.sub(r"\x1b\[[0-9;]*m", "", x) for x in rest]
    assert bare == [*hanging(lines[1], 50), lines[2]]
    monkeypatch.setenv("NO_COLOR", "1")
    shown.truncate(0)
    print_page(lines)
    assert "36m" not in shown.getvalue()
