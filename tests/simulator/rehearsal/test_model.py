"""Drill files: those shipped, and what is refused."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from pydantic import ValidationError

import coach.simulator.rehearsal
from coach.roast.errors import FileError
from coach.simulator.rehearsal.model import PLAN, Drill, bundled_drills, drill_names, load_drill

ASKED = {
    "hot-drum", "cold-drum", "wet-lot", "fast-lot", "low-gas-supply", "sticking-probe", "probe-offset",
    "late-handover", "missed-move", "stall-through-crack", "unlogged-move", "no-sound",
    "over-limit", "stalled-fan", "smoulder-alarm",
}  # fmt: skip

PLAIN: dict[str, Any] = {
    "format": 1, "invented": True, "title": "T", "kind": "fault", "brief": "b", "hint": "h", "reveal": "r",
    "notice": {"note": True}, "inject": [{"what": "probe stuck", "at": "5:30"}],
}  # fmt: skip


def test_the_drills_are_there() -> None:
    assert set(drill_names()) >= ASKED
    assert {p.stem for p in bundled_drills().glob("*.toml")} == ASKED


def test_they_go_into_the_package() -> None:
    """The package takes every .toml below it; the link puts the drills there."""
    package = Path(coach.simulator.rehearsal.__file__).parent
    assert {p.name for p in (package / "shipped").glob("*.toml")} == {f"{n}.toml" for n in ASKED}
    project = tomllib.loads((package.parents[2] / "pyproject.toml").read_text())
    assert "**/*.toml" in project["tool"]["setuptools"]["package-data"]["coach"]


@pytest.mark.parametrize("name", sorted(ASKED))
def test_a_brief_gives_nothing_away(name: str) -> None:
    drill = load_drill(name)
    told = drill.brief.lower()
    for word in ("stuck", "offset", "moisture", "wet", "supply", "unlogged", "fan", "crack early"):
        assert word not in told
    assert drill.reveal
    assert drill.hint


def test_safety_drills_are_about_stopping_alone() -> None:
    """Nothing in them may read like a way to fight a fire, or to go on."""
    safety = [load_drill(n) for n in sorted(ASKED) if load_drill(n).kind == "safety"]
    assert len(safety) == 3
    for drill in safety:
        assert drill.notice is not None
        assert drill.notice.stop
        text = f"{drill.brief} {drill.hint} {drill.reveal}".lower()
        for word in ("extinguish", "water", "smother", "fight", "blanket", "open the door", "quench", "hose"):
            assert word not in text
        assert "stop" in drill.brief
    assert "your own emergency plan" in PLAN
    assert "maker's manual" in PLAN


def test_times_may_be_clock_times() -> None:
    drill = Drill.model_validate(PLAIN)
    assert drill.inject[0].at == 330.0


@pytest.mark.parametrize(
    "change",
    [
        {"inject": [{"what": "probe stuck"}]},
        {"inject": [{"what": "probe stuck", "at": 1, "at_temperature": 180}]},
        {"inject": [{"what": "gremlin", "at": 1}]},
        {"inject": [{"what": "probe stuck", "between": ["5:00", "4:00"]}]},
        {"inject": [{"what": "gas", "at": 5, "lasts": 10}]},
        {"inject": [{"what": "gas", "at": 5, "value": float("nan")}]},
        {"inject": []},
        {"invented": False},
        {"format": 2},
        {"kind": "safety"},
        {"kind": "safety", "notice": {"stop": True, "more": "gas"}},
        {"notice_from": "handover"},
        {"day": {"soak": 500}},
        {"surprise": 1},
    ],
)
def test_what_is_no_drill(change: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        Drill.model_validate({**PLAIN, **change})


def test_a_drill_of_ones_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    folder = tmp_path / "drills"
    folder.mkdir()
    (folder / "mine.toml").write_text(tomlkit.dumps({**PLAIN, "title": "Mine"}))
    assert load_drill("mine").title == "Mine"
    assert load_drill(str(folder / "mine.toml")).title == "Mine"
    assert "mine" in drill_names()


def test_words_for_what_is_wrong(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.toml"
    wrong.write_text("format = 1\ntitle = [")
    with pytest.raises(FileError, match="not TOML"):
        load_drill(str(wrong))
    wrong.write_text(tomlkit.dumps({**PLAIN, "kind": "magic", "inject": [{"what": "gremlin", "at": 3}]}))
    with pytest.raises(FileError, match=r"kind: .*inject\.0\.what"):
        load_drill(str(wrong))
    with pytest.raises(FileError, match=r"There are: .*hot-drum"):
        load_drill("nothing-like-it")
    with pytest.raises(FileError, match="not found"):
        load_drill(str(tmp_path / "none.toml"))
