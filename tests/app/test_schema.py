"""The printed schemas, held against the files by a public validator (jsonschema, draft 2020-12)."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from helpers import EXAMPLE, ROOT
from jsonschema import Draft202012Validator

from coach.app.cli import main
from coach.app.commands.schema import schema


@pytest.mark.parametrize("what", ["profile", "journal"])
def test_it_is_a_schema_and_what_is_printed(what: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", what]) == 0
    printed = json.loads(capsys.readouterr().out)
    Draft202012Validator.check_schema(printed)
    assert printed == schema(what)


@pytest.mark.parametrize("path", sorted((ROOT / "profiles").glob("*.toml")), ids=lambda p: p.stem)
def test_every_shipped_profile_fits(path: Path) -> None:
    document = json.loads(json.dumps(tomllib.loads(path.read_text(encoding="utf-8"))))
    assert list(Draft202012Validator(schema("profile")).iter_errors(document)) == []


def test_every_line_of_the_example_fits() -> None:
    validator = Draft202012Validator(schema("journal"))
    for line in EXAMPLE.read_text(encoding="utf-8").splitlines():
        assert list(validator.iter_errors(json.loads(line))) == [], line


@pytest.mark.parametrize(
    ("what", "bad"),
    [
        ("journal", {"kind": "reading", "at": 1.0}),
        ("journal", {"kind": "mark", "at": 1.0, "event": "lunch"}),
        ("journal", {"kind": "move", "at": 1.0, "control": "steam", "value": 1}),
        ("profile", {"name": "x"}),
        ("profile", {"name": "x", "batch_kg": -1, "charge_temperature": 200, "reference": [[0, 1]]}),
    ],
)
def test_what_the_coach_refuses_does_not_fit(what: str, bad: dict[str, object]) -> None:
    assert list(Draft202012Validator(schema(what)).iter_errors(bad))
