"""Headless replay: no look-ahead, corrections, adopt and follow, bad input on the command line."""

from __future__ import annotations

import io
import json
import random
import subprocess
import sys
from contextlib import redirect_stdout
from functools import cache
from pathlib import Path

import pytest
from helpers import EXAMPLE, ROOT, example

from coach.app.cli import main
from coach.roast.entries import Correction, Entry, Reading
from coach.roast.errors import EntryError
from coach.session.coach import Coach
from coach.session.profile_files import load_profile

PROFILE = str(ROOT / "profiles" / "larch-hill.toml")


@cache
def replay(path: Path) -> list[str]:
    with redirect_stdout(io.StringIO()) as out:
        assert main(["replay", str(path), "--profile", PROFILE, "--json"]) == 0
    return out.getvalue().splitlines()


def test_answers_do_not_look_ahead(tmp_path: Path) -> None:
    whole = replay(EXAMPLE)
    lines = EXAMPLE.read_text().splitlines(keepends=True)
    for cut in (5, 14, 25, len(lines) - 2):
        part = tmp_path / f"{cut}.jsonl"
        part.write_text("".join(lines[:cut]))
        assert replay(part) == whole[: cut - 1]
    assert len(whole) == len(lines) - 1


def test_forecast_is_there_and_ordered() -> None:
    said = [json.loads(x) for x in replay(EXAMPLE)]
    cracks = [s["first_crack"] for s in said if s["phase"] == "browning"]
    assert cracks
    assert all(c["q10"] < c["q25"] < c["median"] < c["q75"] < c["q90"] for c in cracks)
    assert all(abs(c["median"] - 487) < 30 for c in cracks)


def test_correction_gives_what_the_right_entry_would_have_given() -> None:
    journal = example()
    profile = load_profile(PROFILE)
    right = Coach(profile, journal.header)
    wrong = Coach(profile, journal.header)
    rng = random.Random(4)
    readings = [n.line for n in journal.entries if isinstance(n.entry, Reading)]
    spoiled = set(rng.sample(readings[3:], 6))

    def take(coach: Coach, entry: Entry) -> int:
        """Take an entry at its time; what follows from it but estimate and forecast is not looked at."""
        coach.advance(entry.came, most=0)
        return coach.take(coach.prepare(entry), most=0).line

    for n in journal.entries:
        take(right, n.entry)
        if n.line in spoiled:
            bad = n.entry.model_copy(update={"temperature": n.entry.temperature + 9})  # type: ignore[attr-defined]
            line = take(wrong, bad)
            right.advance(n.entry.came + 1.0, most=0)
            fix = {"temperature": n.entry.temperature}  # type: ignore[attr-defined]
            take(wrong, Correction(at=n.entry.came + 1.0, of=line, replace=fix))
        else:
            take(wrong, n.entry)
        a, b = right.situation, wrong.situation
        if a.estimate is not None and b.estimate is not None and a.at == b.at:
            assert b.estimate.temperature == pytest.approx(a.estimate.temperature, abs=1e-9)
            assert b.estimate.rate == pytest.approx(a.estimate.rate, abs=1e-12)


def test_refused_entry_changes_nothing() -> None:
    journal = example()
    coach = Coach(load_profile(PROFILE), journal.header)
    for n in journal.entries[:8]:
        coach.receive(n.entry, n.line)
    before = (coach.entries, coach.roast)
    with pytest.raises(EntryError, match="already marked"):
        coach.receive(journal.entries[3].entry.model_copy(update={"at": 100.0}))
    assert (coach.entries, coach.roast) == before


def test_roast_adopt_follow(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "p.toml"
    assert main(["adopt", str(EXAMPLE), "--name", "again", "--output", str(out)]) == 0
    assert main(["replay", str(EXAMPLE), "--profile", str(out), "--json"]) == 0
    crack = load_profile(str(out)).goals["first crack"]
    assert crack.time == pytest.approx(487, abs=2)
    assert main(["adopt", str(EXAMPLE), "--name", "again", "--output", str(out)]) == 2
    assert "exists already" in capsys.readouterr().err


HEAD = EXAMPLE.read_text().splitlines()[0] + "\n"
CHARGE = '{"kind":"mark","at":0,"event":"charge"}\n'


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (b"", "empty"),
        (b"\x00\xff\xfe\x80", "UTF-8"),
        (b"{}\n", "line 1"),
        (HEAD.encode() + b'{"kind":"dance","at":1}\n', "line 2"),
        (HEAD.encode() + b'{"kind":"reading","at":1}\n', "temperature"),
        (HEAD.encode() + b'{"kind":"reading","at":1,"temperature":NaN}\n', "NaN"),
        (HEAD.encode() + b'{"kind":"mark","at":1,"event":"yellow"}\n', "before charge"),
        (HEAD.encode() + (CHARGE * 2).encode(), "already marked"),
        (HEAD.encode() + b'{"kind":"move","at":1,"control":"gas","value":-1}\n', "value"),
        (HEAD.encode() + b'{"kind":"correction","at":1,"of":9,"replace":null}\n', "line 9"),
    ],
)
def test_bad_journals(tmp_path: Path, capsys: pytest.CaptureFixture[str], text: bytes, says: str) -> None:
    path = tmp_path / "bad.jsonl"
    path.write_bytes(text)
    assert main(["replay", str(path), "--profile", PROFILE, "--json"]) == 2
    err = capsys.readouterr().err
    assert says in err
    assert "bad.jsonl" in err
    assert err.count("\n") == 1


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("safety = 235.0", "safety = 150.0"), "safety"),
        (('unit = "C"', 'unit = "K"'), "unit"),
        (("batch_kg = 0.8", "batch_kg = nan"), "batch_kg"),
        (("batch_kg = 0.8", ""), "batch_kg"),
        (("batch_kg = 0.8", "batch_kg = 0.8\nspice = 1"), "spice"),
        (('unit = "C"', 'unit = "F"'), "reference"),
        (("reference = [", 'reference = [["9:00", 200.0],'), "does not come after"),
        (("batch_kg = 0.8", "batch_kg = 1e400"), "batch_kg"),
    ],
)
def test_bad_profiles(tmp_path: Path, capsys: pytest.CaptureFixture[str], change: tuple[str, str], says: str) -> None:
    text = Path(PROFILE).read_text()
    assert change[0] in text
    path = tmp_path / "bad.toml"
    path.write_text(text.replace(*change, 1))
    assert main(["replay", str(EXAMPLE), "--profile", str(path), "--json"]) == 2
    err = capsys.readouterr().err
    assert says in err
    assert err.count("\n") == 1


def test_folder_for_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["replay", str(tmp_path), "--profile", PROFILE]) == 2
    assert "is a folder" in capsys.readouterr().err
    assert main(["replay", str(EXAMPLE), "--profile", str(tmp_path)]) == 2
    assert "is a folder" in capsys.readouterr().err


def test_a_line_without_end_on_standard_input_is_refused_and_not_kept() -> None:
    """Zeros for ever, and one line of 40 MB after a sound roast: the same words, and no memory for it."""
    command = [sys.executable, "-m", "coach", "replay", "-", "--profile", PROFILE]
    limit = "import resource as r, runpy, sys; r.setrlimit(r.RLIMIT_DATA, (400 << 20,) * 2); sys.argv = sys.argv[1:]; "
    command = [sys.executable, "-c", limit + "runpy.run_module('coach', run_name='__main__')", *command[2:]]
    with Path("/dev/zero").open("rb") as zeros:
        endless = subprocess.run(command, stdin=zeros, capture_output=True, timeout=60, check=False, cwd=ROOT)
    assert endless.returncode == 2
    assert b"line 1: a line of over 100 kB is no entry" in endless.stderr
    head = EXAMPLE.read_bytes().splitlines(keepends=True)[:4]
    text = b"".join(head) + b" " * 40_000_000
    long = subprocess.run(command, input=text, capture_output=True, timeout=60, check=False, cwd=ROOT)
    assert long.returncode == 2
    assert b"line 5: a line of over 100 kB is no entry" in long.stderr
    assert len(long.stdout.splitlines()) == 3, "what came before was answered"
