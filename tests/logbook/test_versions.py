"""Accepted roasts become the next version of their profile; versions are compared, and scaled as a first guess."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from helpers import EXAMPLE, example

from coach.app.cli import main
from coach.app.screens.desk import Desk
from coach.logbook.adopt import settings, smoothed
from coach.logbook.profiles.differences import changes
from coach.logbook.profiles.kept_versions import origin
from coach.logbook.profiles.versions import ENOUGH, NARROWEST, half_width, lay, merge, scaled
from coach.roast.errors import EntryError
from coach.roast.profile import Profile
from coach.roast.roast import Roast, Turned, effective, fold
from coach.session.profile_files import dump_document, load_profile, read_document


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
    document = merge(parent, [roast(name="a"), roast(name="b")]).document
    new = Profile(document)
    assert (document.version, document.sources) == (2, ["a", "b"])
    assert document.parent == "Larch Hill everyday (invented), version 1"
    t = np.arange(90.0, 570.0, 10.0)
    alone = smoothed(roast(name="a"), followed=parent, charge=222.0).curve
    assert np.abs(new.curve.at(t) - alone.at(t)).max() < 0.6
    for event in ("yellow", "first crack", "drop"):
        assert new.goals[event].time == pytest.approx(parent.goals[event].time, abs=0.6)  # type: ignore[index]
    assert [s.shown for s in new.steps] == [s.shown for s in parent.steps]
    assert document.provisional
    assert new.band(300.0, "browning") == pytest.approx(4.0), "provisional: no narrower than before"


def test_roasts_of_different_pace_are_laid_event_on_event(parent: Profile) -> None:
    slow, fast = roast(1.06), roast(0.94)
    new = Profile(merge(parent, [slow, fast]).document)
    assert new.goals["first crack"].time == pytest.approx(487.0, abs=1.0)
    # a plain mean over the clock would blur the turning point; the aligned one keeps its depth
    low = min(r.celsius for r in slow.readings)
    assert new.curve.turning_point[1] == pytest.approx(low, abs=3.0)


def test_the_learned_band_is_the_spread(parent: Profile) -> None:
    sources = many(20)
    document = merge(parent, sources).document
    assert not document.provisional
    assert any(n.startswith("Line and band from 20 accepted roasts") for n in document.notes)
    laid = lay([smoothed(r, followed=parent, charge=222.0) for r in sources])
    middle = (laid.t > 200) & (laid.t < 560)
    assert laid.spread[middle] == pytest.approx(np.full(middle.sum(), 0.8), abs=0.35)
    assert (laid.spread_by_clock[middle] >= laid.spread[middle]).all()


def test_one_more_roast_lies_in_the_band_about_as_often_as_promised(parent: Profile) -> None:
    shares = []
    for seed in range(4):
        new = Profile(merge(parent, many(10, seed=seed)).document)
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
    document = merge(parent, [roast(name="a"), other]).document
    gas = [(m.value, m.at_time) for m in document.moves if m.control == "gas"]
    assert gas == [(m.value, m.at_time) for m in parent.document.moves if m.control == "gas"]
    assert settings(roast(), "gas", "kPa") == [(0.0, 1.6), (335.0, 1.2), (484.0, 0.8)]


def test_moves_made_about_as_planned_keep_their_place_in_the_plan(parent: Profile) -> None:
    """Everybody is some seconds late: a version made of such roasts would have its moves later, and the next again."""

    def late(by: float) -> Roast:
        made = roast(name=f"{by}")
        return replace(made, moves=tuple(replace(m, t=m.t + by) if m.t > 0 else m for m in made.moves))

    kept = merge(parent, [late(4.0), late(6.0), late(7.0)]).document
    assert kept.moves == parent.document.moves
    later = merge(parent, [late(24.0), late(26.0), late(27.0)]).document
    assert [m.at_time for m in later.moves if m.control == "gas"] == [0.0, 361.0, 510.0]


def test_a_move_planned_by_an_event_stays_one(parent: Profile) -> None:
    moves = [m.model_copy(update={"at_time": None, "at_event": "first crack", "after": 0.0})
             if m.value == 0.8 else m for m in parent.document.moves]  # fmt: skip
    by_event = Profile(parent.document.model_copy(update={"moves": moves}))
    (last,) = [m for m in merge(by_event, [roast(name="a"), roast(name="b")]).document.moves if m.value == 0.8]
    assert (last.at_event, last.at_time) == ("first crack", None)


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
    said = changes(parent, Profile(merge(parent, [roast(1.05, 1.0), roast(1.05, 1.0)]).document))
    assert any(x.startswith("first crack: 8:07 at 197.3 °C -> 8:31 at") for x in said)
    assert any(x.startswith("line: at most") for x in said)
    other = parent.document.model_copy(update={"checklist": ["another", *parent.document.checklist[1:]]})
    count = len(other.checklist)
    assert changes(parent, Profile(other)) == [f"checklist: {count} lines -> {count} lines, changed"]


def test_a_scaled_profile_is_labelled_a_guess(parent: Profile, tmp_path: Path) -> None:
    document = scaled(parent, 1.0)
    assert document.provisional
    assert document.notes[0].startswith("FIRST GUESS")
    assert [m.value for m in document.moves if m.control == "gas"] == [2.0, 1.5, 1.0]
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
    assert "version 1 -> 2, from 2 roasts" in out
    assert "  a, b\n" in out
    assert "Follow it with  coach follow larch-hill-v2" in out
    assert "PROVISIONAL: 2 of the 8" in out
    made = tmp_path / "profiles" / "larch-hill-v2.toml"
    assert read_document(made).version == 2
    assert main(["merge", "larch-hill"]) == 2, "a version is never overwritten"
    error = capsys.readouterr().err
    assert "there is a version 2 already. Go on from it: coach merge larch-hill-v2" in error
    assert main(["merge", "larch-hill", "--output", str(made)]) == 2
    assert "--overwrite" not in capsys.readouterr().err, "there is no such option"
    assert main(["merge", "larch-hill-v2"]) == 0
    assert "Nothing that counts is different: none is written." in capsys.readouterr().out
    assert not (tmp_path / "profiles" / "larch-hill-v3.toml").exists()
    accepted(folder, "e", started="2026-11-06T08:00:00+00:00")
    drop = '{"at": 635.0, "kind": "mark", "event": "drop"}'
    late = (folder / "e.jsonl").read_text().replace(drop, drop.replace("635.0", "655.0"))
    (folder / "e.jsonl").write_text(late)
    assert main(["merge", str(made), "e"]) == 0
    assert read_document(tmp_path / "profiles" / "larch-hill-v3.toml").sources == ["e"]
    for name, says in (("c", "rehearsal"), ("d", "not accepted"), ("x", "no such roast")):
        assert main(["merge", "larch-hill", name]) == 2
        assert says in capsys.readouterr().err
    assert main(["compare", "larch-hill", str(made)]) == 0
    shown = capsys.readouterr().out
    assert "version 2 (provisional); from a and b" in shown
    assert "new line minus old line (°C):" in shown
    assert main(["brief", "larch-hill"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "There is a newer version: larch-hill-v3 (version 3, from e)." in said
    assert main(["brief", "larch-hill-v3"]) == 0
    assert "newer version" not in capsys.readouterr().out
    for name, told in (("larch-hill", True), ("larch-hill-v3", False)):
        desk = Desk(load_profile(name), folder, beside=tmp_path / "profiles")
        assert "newer version" not in " ".join(desk.handed_on(76)), "it stands at the top, not among the changes"
        assert desk.newer.startswith("There is a newer version: larch-hill-v3") == told
    assert main(["compare", "larch-hill"]) == 0
    shown = capsys.readouterr().out
    assert "3 versions" in shown
    heads = [line for line in shown.splitlines() if line.startswith("version")]
    assert [h.split("  ")[1] for h in heads] == ["larch-hill", "larch-hill-v2", "larch-hill-v3"]
    assert heads[-1].endswith("(the newest)")
    assert "  from a and b" in shown
    assert "coach compare larch-hill-v2 larch-hill-v3 draws the last change." in shown
    assert main(["scale", "larch-hill", "--batch", "1", "--output", str(tmp_path / "s.toml")]) == 0
    assert main(["scale", "larch-hill", "--batch", "1", "--output", str(tmp_path / "s.toml")]) == 2
    assert main(["scale", "larch-hill", "--batch", "1", "--output", str(tmp_path / "s.toml"), "--overwrite"]) == 0
    assert main(["scale", "larch-hill", "--batch", "nan", "--output", str(tmp_path / "t.toml")]) == 2
    assert main(["scale", "larch-hill", "--batch", "9", "--output", str(tmp_path / "t.toml")]) == 2


def test_many_roasts_are_named_by_number_and_days(parent: Profile) -> None:
    few = parent.document.model_copy(update={"sources": ["20261102-080000-a", "20261103-080000-b"]})
    assert origin(few) == "from 20261102-080000-a and 20261103-080000-b"
    many = parent.document.model_copy(update={"sources": [f"202611{d:02d}-080000-a" for d in range(2, 14)]})
    assert origin(many) == "from 12 roasts, 2026-11-02 to 2026-11-13"
    none = parent.document.model_copy(update={"sources": [], "parent": "An invented one, version 1"})
    assert origin(none) == "from An invented one, version 1"


def test_a_roast_of_the_logbook_is_adopted_by_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    (tmp_path / "roasts").mkdir()
    accepted(tmp_path / "roasts", "20261102-080000-abcdef")
    accepted(tmp_path / "roasts", "20261103-080000-abcdef", run="rehearsal")
    assert main(["adopt", "20261102", "--name", "Our Tuesday, again"]) == 0
    assert "coach follow our-tuesday-again" in capsys.readouterr().out
    assert load_profile("our-tuesday-again").document.sources == ["20261102-080000-abcdef"]
    assert main(["adopt", "20261102", "--name", "Our Tuesday, again"]) == 2
    assert "--overwrite" in capsys.readouterr().err
    assert main(["adopt", "20261103", "--name", "x"]) == 0
    assert "a profile of the simulated roaster" in capsys.readouterr().out
