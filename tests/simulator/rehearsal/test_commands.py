"""The commands around a rehearsal, and what is told after it."""

from __future__ import annotations

import argparse
import json
import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from stage import PROFILE, Stage

from coach.app.cli import main
from coach.app.commands import rehearse
from coach.roast.entries import Move, Reading
from coach.roast.roast import effective
from coach.roast.units import clock
from coach.simulator.rehearsal.history import history_file, read_records
from coach.simulator.rehearsal.model import load_drill
from coach.simulator.rehearsal.score import score


@pytest.fixture(autouse=True)
def _own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))


def tell(stage: Stage, name: str, **more: Any) -> None:
    args = argparse.Namespace(**{"auto": False, "seed": 1, "speed": 1.0, "person": "Ada", **more})
    stage.source.stage = "rehearse"
    print("\n".join(rehearse.judge(args, stage.source, stage.coach, name).lines()))


def roasted(name: str) -> Stage:
    stage = Stage(auto=True, seed=4, drill=load_drill(name))
    stage.wait(790)
    assert stage.coach.roast.phase == "cooling"
    return stage


@pytest.mark.long
def test_after_a_rehearsal(capsys: pytest.CaptureFixture[str]) -> None:
    stage = roasted("wet-lot")
    tell(stage, "wet-lot")
    said = capsys.readouterr().out
    assert "DRILL Wet lot (wet-lot): The green held 13.5 % water" in said
    assert "SCORE " in said
    assert "stage: rehearse; " in said
    assert max(len(line) for line in said.splitlines()) < 130
    record = read_records(history_file("Ada"))[0]
    assert record.drill == "wet-lot"
    assert record.call_off is not None
    assert main(["progress"]) == 0
    assert "ADA   stage: rehearse" in capsys.readouterr().out
    assert main(["progress", "--person", "nobody else"]) == 2


def test_the_same_entries_once_more_the_same_score() -> None:
    """The journal, the seed and the drill say all that the score needs."""
    first = roasted("low-gas-supply")
    again = Stage(auto=False, seed=4, drill=load_drill("low-gas-supply"))
    for entry in first.typed:
        again.wait(entry.came - again.real, step=3.7)
        again.enter(entry)
    results = []
    for stage in (first, again):
        drill = stage.source.drill
        results.append(score(stage.coach.roast, effective(stage.coach.entries), stage.source.truth, PROFILE, drill))
    assert results[0] == results[1]
    assert results[0].inside != 1.0


def test_not_carried_through_and_stopped(capsys: pytest.CaptureFixture[str]) -> None:
    stage = Stage(auto=True, seed=1, drill=load_drill("wet-lot"))
    stage.wait(100)
    tell(stage, "wet-lot")
    assert "no score" in capsys.readouterr().out
    assert read_records(history_file("Ada")) == []
    stage = Stage(auto=True, seed=1, drill=load_drill("smoulder-alarm"))
    while "SMOKE" not in stage.source.line(stage.coach):
        stage.wait(5)
    stage.enter(Move(at=stage.clock(), control="gas", value=0.0))
    tell(stage, "smoulder-alarm", auto=True)
    assert read_records(history_file("Ada")) == []
    tell(stage, "smoulder-alarm")
    assert len(read_records(history_file("Ada"))) == 1
    said = capsys.readouterr().out
    assert "your own emergency plan" in said.replace("\n", " ")
    assert "SCORE 100" in said


def test_drills_are_listed_without_giving_them_away(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["drills"]) == 0
    said = capsys.readouterr().out
    assert "ANOTHER DAY\n  cold-drum" in said
    assert "wet-lot" in said
    assert "13.5" not in said
    assert main(["drills", "wet-lot"]) == 0
    assert "13.5" in capsys.readouterr().out
    assert main(["drills", "nothing"]) == 2


@pytest.mark.parametrize(
    "wrong",
    [["--speed", "0.5"], ["--speed", "21"], ["--stage", "expert"], ["--seed", "-1"], ["--drill", "nothing"],
     ["--machine", "nothing"]],
)  # fmt: skip
def test_what_is_refused_before_the_screen_opens(
    wrong: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", SimpleNamespace(isatty=lambda: False))
    assert main(["rehearse", "larch-hill", *wrong]) == 2
    assert "Traceback" not in capsys.readouterr().err
    assert not (tmp_path / "roasts").exists()


def test_a_file_that_is_no_machine(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "m.toml"
    path.write_text("name = 3")
    assert main(["rehearse", "larch-hill", "--machine", str(path)]) == 2
    assert "Correct the machine" in capsys.readouterr().err


def test_random_is_never_a_safety_drill() -> None:
    kinds = {rehearse.drill_for("random", seed)[1].kind for seed in range(60)}  # type: ignore[union-attr]
    assert kinds == {"day", "fault", "shift"}
    assert rehearse.drill_for("random", 3) == rehearse.drill_for("random", 3)


def test_without_a_terminal_the_simulated_person_roasts_in_plain_lines(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", SimpleNamespace(isatty=lambda: False))
    assert main(["rehearse", "larch-hill", "--speed", "4"]) == 0
    said = capsys.readouterr().out
    journal = next((tmp_path / "roasts").glob("*.jsonl"))
    typed = [json.loads(line) for line in journal.read_text().splitlines()[1:]]
    charge = next(e["at"] for e in typed if e.get("event") == "charge")
    for e in typed:  # every reading, move and mark stands there, at its time
        if e["kind"] == "reading" and e["at"] > charge:
            assert re.search(rf"^ *{clock(e['at'] - charge)}  {e['temperature']:g} °C", said, re.MULTILINE)
        elif e["kind"] == "move":
            assert f"{e['control']} {e['value']:g}" in said
        elif e["kind"] == "mark":
            assert f"{clock(e['at'] - charge)}  {e['event'].upper()}" in said
    foretold = re.search(r"FIRST CRACK   forecast 90 s before: (\d+):(\d\d)", said)
    assert foretold
    assert "cue high: " in said
    order = [said.index(x) for x in ("CHARGE", "FIRST CRACK", "DROP", "SCORE ", "LARGEST DIFFERENCES")]
    assert order == sorted(order)
    assert read_records(history_file("")) == [], "nothing that the person has done"


def test_the_person_takes_over_from_the_simulated_one(capsys: pytest.CaptureFixture[str]) -> None:
    stage = Stage(auto=True, seed=4)
    stage.source.offer = "i takes over"
    stage.wait(300)
    assert stage.source.line(stage.coach).startswith("SIMULATED PERSON AT WORK (i takes over)  dial ")
    before = len(stage.typed)
    assert before > 5
    assert {e.by for e in stage.typed if isinstance(e, Reading)} == {"simulated person"}  # type: ignore[attr-defined]
    assert "You have taken over" in stage.source.do("take_over", stage.coach)
    assert "SIMULATED PERSON" not in stage.source.line(stage.coach)
    stage.wait(120)
    assert len(stage.typed) == before
    assert "already" in stage.source.do("take_over", stage.coach)


@pytest.mark.long
def test_a_rehearsal_told_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rehearse", "larch-hill", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["score"]["points"] > 50
    assert Path(told["journal"]).is_file()
    texts = {p["name"]: p["text"] for p in told["score"]["parts"]}
    assert re.fullmatch(r"([+−]\d+(\.\d)?|0) °C against plan", texts["drop temperature"]), texts
