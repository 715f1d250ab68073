"""Histories on disk, and the three stages."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.roast.errors import FileError
from coach.simulator.rehearsal.history import (
    STAGES,
    Record,
    Stage,
    add_record,
    history_file,
    progress,
    read_records,
    record_of,
    sentences,
)
from coach.simulator.rehearsal.score import Score


def rec(points: float, stage: Stage = "rehearse", hints: int = 0, call: float | None = None) -> Record:
    return Record(started="2026-01-01T08:00:00+00:00", points=points, stage=stage, hints=hints, call_off=call)


def test_three_good_ones_of_four_lead_on() -> None:
    assert progress([]).stage == "rehearse"
    assert progress([rec(80), rec(90)]).missing == 1
    assert progress([rec(80), rec(20), rec(90), rec(76)]).stage == "guided"
    assert progress([rec(80), rec(20), rec(30), rec(90), rec(76)]).stage == "rehearse"
    assert progress([rec(80), rec(90), rec(76, hints=1)]).stage == "rehearse"
    every = [rec(90)] * 3 + [rec(90, "guided")] * 3
    assert progress(every).stage == "cues only"
    assert progress(every).missing == 0
    assert "cues only" in sentences(progress(every))[0]


def test_poor_ones_lead_back_and_easier_ones_prove_nothing() -> None:
    up = [rec(90)] * 3
    assert progress([*up, *[rec(90)] * 5]).stage == "guided"
    assert progress([*up, *[rec(30, "guided")] * 3]).stage == "rehearse"
    assert progress([*up, rec(30, "guided"), rec(60, "guided"), rec(30, "guided"), rec(30, "guided")]).stage == "guided"


def test_bias_over_several_calls() -> None:
    late = progress([rec(60, call=c) for c in (40.0, 5.0, 6.0, 7.0, 8.0, 4.0)])
    assert late.bias == pytest.approx(6.0)
    assert late.calls == 5
    assert "you call first crack 6 s late" in sentences(late)[1]
    assert progress([rec(60, call=3.0)]).bias is None
    fast = rec(60, call=90.0).model_copy(update={"speed": 10.0})
    assert progress([rec(60, call=3.0), fast, rec(60, call=5.0)]).bias == pytest.approx(4.0)
    assert "early" in sentences(progress([rec(60, call=-9.0), rec(60, call=-7.0)]))[1]
    assert "on time" in sentences(progress([rec(60, call=1.0), rec(60, call=-1.0)]))[1]


def test_round_trip_and_a_torn_line(tmp_path: Path) -> None:
    path = history_file("Ada  Lovelace/../x", tmp_path)
    assert path.parent == tmp_path
    assert path.name == "ada-lovelace-x.jsonl"
    assert history_file("", tmp_path).name == "nobody.jsonl"
    assert read_records(path) == []
    one = record_of(Score(81.5, (), call_off=4.0, hints=1), started="2026-01-01", drill="wet-lot", stage="guided")
    add_record(path, one)
    add_record(path, rec(50))
    assert read_records(path) == [one, rec(50)]
    whole = path.read_text()
    path.write_text(whole + '{"points": 3')
    assert read_records(path) == [one, rec(50)]
    add_record(path, rec(60))
    with pytest.raises(FileError, match="line 3"):
        read_records(path)
    path.write_text(whole.rstrip("\n"))
    add_record(path, rec(60))
    assert [r.points for r in read_records(path)] == [81.5, 50.0, 60.0]


def test_stages() -> None:
    assert STAGES == ("rehearse", "guided", "cues only")
