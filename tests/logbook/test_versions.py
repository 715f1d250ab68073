"""Accepted roasts become the next version of their profile; versions are compared, and scaled as a first guess."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent.parent))

from helpers import EXAMPLE, example

from coach.adopt import adopt
from coach.cli import main
from coach.errors import EntryError
from coach.library import dump_document, load_profile, read_document
from coach.logbook.differences import changes
from coach.logbook.versions import ENOUGH, NARROWEST, half_width, lay, merge, scaled, settings
from coach.profile import Profile
from coach.roast import Roast, Turned, effective, fold


@pytest.fixture(scope="module")
def parent() -> Profile:
    return load_profile("larch-hill")


def roast(stretch: float = 1.0, hotter: float = 0.0, name: str = "r") -> Roast:
    """The example, slower by a factor and hotter past the turning point."""
    base = fold(example().header, effective(example().entries))
    return replace(
        base,
        header=base.header.model_copy(update={"id": name}),
        marks={e: t * stretch for e, t in base.marks.items()},
        moves=tuple(replace(m, t=m.t * stretch) for m in base.moves),
        readings=tuple(replace(r, t=r.t * stretch, celsius=r.celsius + hotter) for r in base.readings),
    )


def many(count: int, seed: int = 2) -> list[Roast]:
    rng = np.random.default_rng(seed)
    return [roast(1 + float(rng.normal(0, 0.015)), float(rng.normal(0, 0.8)), f"r{i}") for i in range(count)]


def test_one_roast_twice_is_that_roast(parent: Profile) -> None:
    document = merge(parent, [roast(name="a"), roast(name="b")])
    new = Profile.from_document(document)
    assert (document.version, document.sources) == (2, ["a", "b"])
    assert document.parent == "Larch Hill everyday (invented), version 1"
    t = np.arange(90.0, 570.0, 10.0)
    alone = Profile.from_document(adopt(roast(name="a"), "alone")).curve
    assert np.abs(new.curve.at(t) - alone.at(t)).max() < 0.6
    for event in ("yellow", "first crack", "drop"):
        assert new.goals[event].time == pytest.approx(parent.goals[event].time, abs=0.6)  # type: ignore[index]
    assert [s.shown for s in new.steps] == [s.shown for s in parent.steps]
    assert document.provisional
    assert new.band(300.0, "browning") == pytest.approx(4.0), "provisional: no narrower than before"


def test_roasts_of_different_pace_are_laid_event_on_event(parent: Profile) -> None:
    slow, fast = roast(1.06), roast(0.94)
    new = Profile.from_document(merge(parent, [slow, fast]))
    assert new.goals["first crack"].time == pytest.approx(487.0, abs=1.0)
    # a plain mean over the clock would blur the turning point; the aligned one keeps its depth
    low = min(r.celsius for r in slow.readings)
    assert new.curve.turning_point[1] == pytest.approx(low, abs=3.0)


def test_the_learned_band_is_the_spread(parent: Profile) -> None:
    sources = many(20)
    document = merge(parent, sources)
    assert not document.provisional
    assert any(n.startswith("Line and band from 20 accepted roasts") for n in document.notes)
    laid = lay([Profile.from_document(merge(parent, [r])) for r in sources])
    middle = (laid.t > 200) & (laid.t < 560)
    assert laid.spread[middle] == pytest.approx(np.full(middle.sum(), 0.8), abs=0.35)
    assert (laid.spread_by_clock[middle] >= laid.spread[middle]).all()


def test_one_more_roast_lies_in_the_band_about_as_often_as_promised(parent: Profile) -> None:
    shares = []
    for seed in range(4):
        new = Profile.from_document(merge(parent, many(10, seed=seed)))
        off = [
            abs(x.celsius - new.curve.value(x.t)) <= new.band(x.t, "browning")
            for r in many(12, seed=100 + seed)
            for x in r.readings
            if 150 < x.t < 540
        ]
        shares.append(np.mean(off))
    assert 0.86 <= np.mean(shares) <= 0.95


def test_half_width_is_a_prediction_interval() -> None:
    # t(0.95, 7) = 1.8946 and t(0.95, 19) = 1.7291 (tables of Student's t)
    assert half_width(np.array([2.0]), 8) == pytest.approx([1.8946 * 2 * np.sqrt(1 + 1 / 8)], rel=1e-4)
    assert half_width(np.array([2.0]), 20) == pytest.approx([1.7291 * 2 * np.sqrt(1 + 1 / 20)], rel=1e-4)
    assert half_width(np.array([0.0]), 1) == pytest.approx([0.0])
    assert ENOUGH == 8
    assert NARROWEST > 0


def test_moves_that_differ_leave_the_plan(parent: Profile) -> None:
    other = roast(name="b")
    other = replace(other, moves=(*other.moves, Turned(400.0, "gas", 1.0, 99, 1.0)))
    document = merge(parent, [roast(name="a"), other])
    gas = [(m.value, m.at_time) for m in document.moves if m.control == "gas"]
    assert gas == [(m.value, m.at_time) for m in parent.document.moves if m.control == "gas"]
    assert settings(roast(), "gas") == [(0.0, 1.6), (335.0, 1.2), (484.0, 0.9)]


def test_what_cannot_be_merged_is_said(parent: Profile) -> None:
    with pytest.raises(EntryError, match="no drop"):
        merge(parent, [replace(roast(), marks={"charge": 0.0})])
    with pytest.raises(EntryError, match="No roast"):
        merge(parent, [])
    far = replace(roast(), moves=(Turned(0.0, "gas", 9.0, 3, 9.0),))
    with pytest.raises(EntryError, match="limits"):
        merge(parent, [far])


def test_changes_are_said_in_words(parent: Profile) -> None:
    assert changes(parent, parent) == []
    said = changes(parent, Profile.from_document(merge(parent, [roast(1.05, 1.0), roast(1.05, 1.0)])))
    assert any(x.startswith("first crack: 8:07 at 197.3 °C -> 8:31") and "(+0:24" in x for x in said)
    assert any(x.startswith("line: at most") for x in said)


def test_a_scaled_profile_is_labelled_a_guess(parent: Profile, tmp_path: Path) -> None:
    document = scaled(parent, 1.0)
    assert document.provisional
    assert document.notes[0].startswith("FIRST GUESS")
    assert [m.value for m in document.moves if m.control == "gas"] == [2.0, 1.5, 1.1]
    assert document.reference == parent.document.reference
    with pytest.raises(EntryError, match="too far"):
        scaled(parent, 5.0)
    path = tmp_path / "s.toml"
    path.write_text(dump_document(document))
    assert read_document(path) == document


def accepted(folder: Path, name: str, **header: object) -> None:
    first, rest = EXAMPLE.read_text().split("\n", 1)
    text = json.dumps({**json.loads(first), "id": name, **header}) + "\n" + rest
    (folder / f"{name}.jsonl").write_text(text + '{"at": 700, "kind": "result", "accepted": true}\n')


def test_commands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))
    folder = tmp_path / "roasts"
    assert main(["merge", "larch-hill"]) == 2
    folder.mkdir()
    accepted(folder, "a")
    accepted(folder, "b", started="2026-11-05T08:00:00+00:00")
    accepted(folder, "c", run="rehearsal")
    (folder / "d.jsonl").write_text(EXAMPLE.read_text())
    assert main(["merge", "larch-hill", "--show"]) == 0
    assert not (tmp_path / "profiles").exists()
    assert main(["merge", "larch-hill"]) == 0
    out = capsys.readouterr().out
    assert "from a, b" in out
    assert "PROVISIONAL: 2 of the 8" in out
    made = tmp_path / "profiles" / "larch-hill-v2.toml"
    assert read_document(made).version == 2
    assert main(["merge", "larch-hill"]) == 2, "a version is never overwritten"
    assert main(["merge", str(made), "a"]) == 0
    assert read_document(tmp_path / "profiles" / "larch-hill-v3.toml").sources == ["a"]
    for name, says in (("c", "rehearsal"), ("d", "not accepted"), ("x", "no such roast")):
        assert main(["merge", "larch-hill", name]) == 2
        assert says in capsys.readouterr().err
    assert main(["compare", "larch-hill", str(made)]) == 0
    shown = capsys.readouterr().out
    assert "version 2 (provisional); from a, b" in shown
    assert "new line minus old line (°C):" in shown
    assert main(["scale", "larch-hill", "--batch", "1", "--output", str(tmp_path / "s.toml")]) == 0
    assert main(["scale", "larch-hill", "--batch", "nan", "--output", str(tmp_path / "t.toml")]) == 2
    assert main(["scale", "larch-hill", "--batch", "9", "--output", str(tmp_path / "t.toml")]) == 2
