"""Profiles are written for people: times m:ss, a point a line, comments kept where a file is rewritten."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.app.cli import main
from coach.roast.profile import Milestone, ProfileDocument
from coach.session.profile_files import (
    bundled_profiles,
    dump_document,
    load_profile,
    read_document,
    toml_text,
)

NAMES = sorted(p.stem for p in bundled_profiles().glob("*.toml"))


@pytest.mark.parametrize("name", NAMES)
def test_a_written_profile_reads_back_the_same(name: str) -> None:
    document = load_profile(name).document
    text = dump_document(document)
    assert ProfileDocument.model_validate(tomllib.loads(text)) == document


@pytest.mark.parametrize("name", NAMES)
def test_the_demo_profiles_stand_as_they_would_be_written(name: str) -> None:
    file = bundled_profiles() / f"{name}.toml"
    text = file.read_text()
    assert text == dump_document(read_document(file), file)
    assert text.startswith("# Invented demonstration profile.\n")


def test_times_are_minutes_and_seconds_and_points_stand_in_a_line_each() -> None:
    document = load_profile("larch-hill").document
    lines = dump_document(document).splitlines()
    start = lines.index("reference = [") + 1
    points = lines[start : start + len(document.reference)]
    assert all(re.fullmatch(r'    \["\d+:\d\d(\.\d+)?", \d+\.\d+\],', line) for line in points)
    for line in lines:
        for key in ("time", "at_time", "after", "time_tolerance", "drying", "development"):
            found = re.search(rf'\b{key} = ("?[\d:.]+"?)', line)
            assert found is None or ":" in found[1] or key in ("drying", "development"), line
    cadence = lines[lines.index("[cadence]") + 1 :][:3]
    assert cadence == ['drying = "1:00"', 'browning = "0:30"', 'development = "0:20"']


@given(st.floats(0, 3600, allow_nan=False))
def test_a_time_keeps_its_value(seconds: float) -> None:
    m = Milestone(event="drop", time=seconds, temperature=200.0)
    assert Milestone.model_validate(m.model_dump(mode="json")).time == pytest.approx(seconds, abs=1e-9)


def test_comments_stay_in_the_next_version(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    mine = tmp_path / "mine.toml"
    text = (bundled_profiles() / "larch-hill.toml").read_text()
    text = text.replace("charge_temperature = 222.0", "charge_temperature = 222.0  # the dial shows 2 less")
    text = text.replace("[limits]\n", "[limits]\n# agreed with the maker's fitter\n")
    text = text.replace("batch_kg = 0.8\n", "batch_kg = 0.8  # green\n")
    mine.write_text(text)
    out = tmp_path / "more.toml"
    assert main(["scale", str(mine), "--batch", "0.9", "--output", str(out)]) == 0
    made = out.read_text()
    for comment in (
        "# Invented demonstration",
        "# the dial shows 2 less",
        "# agreed with the maker's fitter",
        "# green",
    ):
        assert comment in made, comment
    assert "batch_kg = 0.9  # green" in made
    document = read_document(out)
    assert (document.batch_kg, document.provisional) == (0.9, True)


def test_a_file_that_is_no_toml_costs_its_comments_and_nothing_else(tmp_path: Path) -> None:
    table = {"name": "x", "notes": ["a", "b"], "at": [[1.0, 2.0]], "limits": {"safety": 235.0}}
    for text in ("= nonsense", '"a.b" = 1\n[limits]\nsafety = 3 # high\nold = 2\n[gone]\nx = 1\n'):
        file = tmp_path / "f.toml"
        file.write_text(text)
        assert tomllib.loads(toml_text(table, file)) == table
    assert tomllib.loads(toml_text(table, tmp_path / "none.toml")) == table


def test_a_file_of_an_earlier_version_reads_without_the_control_that_advice_moved() -> None:
    file = bundled_profiles() / f"{NAMES[0]}.toml"
    earlier = {"advice_by": "air", **tomllib.loads(file.read_text())}
    assert ProfileDocument.model_validate(earlier) == read_document(file)
