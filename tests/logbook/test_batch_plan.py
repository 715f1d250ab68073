"""Several batches in a row."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from helpers import EXAMPLE

from coach.app.cli import main
from coach.logbook.brief.batch_plan import gaps_before, loss_of, plan_batches, text
from coach.logbook.index.index import load_summary
from coach.logbook.index.summary import Summary
from coach.session.profile_files import load_profile

START = datetime(2026, 11, 3, 8, 0, tzinfo=UTC)


def rows(*losses: float) -> list[Summary]:
    base = load_summary(EXAMPLE, "x.jsonl")
    return [replace(base, loss=x) for x in losses]


def test_batches_follow_each_other_with_the_gap() -> None:
    profile = load_profile("larch-hill")
    plan = plan_batches([(profile, 3, loss_of([], 15.0))], START, 600.0)
    starts = [(b.charge - START).total_seconds() for b in plan.batches]
    assert starts == [0.0, 575.0 + 600.0, 2 * (575.0 + 600.0)]
    assert plan.green == {"Washed highland (invented)": pytest.approx(2.4)}
    assert sum(b.roasted for b in plan.batches) == pytest.approx(3 * 0.8 * 0.85)
    said = "\n".join(text(plan))
    assert "Roasted coffee: about 2.04 kg." in said
    assert "2.4 kg of Washed highland (invented)." in said
    assert "08:19" in said


@pytest.mark.parametrize("width", [60, 80, 110])
def test_the_plan_fits(width: int) -> None:
    profile = load_profile("larch-hill")
    plan = plan_batches([(profile, 3, loss_of(rows(14.0, 14.1, 14.2, 14.3, 14.4)))], START, 600.0)
    lines = text(plan, width)
    assert max(map(len, lines[: 1 + 3 + 3])) <= width


def test_loss_is_learnt_where_enough_was_weighed() -> None:
    known = loss_of(rows(14.0, 14.2, 14.4, 14.6, 20.0))
    assert (known.percent, known.basis) == (14.4, "median of 5 weighed roasts")
    assert known.low < 14.4 < known.high
    few = loss_of(rows(14.0))
    assert "usual range" in few.basis
    assert few.low <= few.percent <= few.high
    assert loss_of(rows(*[14.0] * 9), 16.0).percent == 16.0


def test_gaps_are_taken_from_the_logbook() -> None:
    base = load_summary(EXAMPLE, "x.jsonl")
    a = replace(base, started="2026-11-02T08:00:00+00:00", moment="2026-11-02T08:00:00")
    b = replace(base, started="2026-11-02T08:20:00+00:00", moment="2026-11-02T08:20:00")
    other = replace(b, started="2026-11-02T08:25:00+00:00", machine="another")
    assert gaps_before([b, a]) == [1200.0 - 575.0]
    assert gaps_before([a, other]) == []
    assert gaps_before([a, replace(b, started="2026-11-03T08:20:00+00:00")]) == []
    assert gaps_before([a, replace(b, started="no date")]) == []
    assert gaps_before([a, replace(b, started="2026-11-02T08:20:00")]) == [1200.0 - 575.0], "without a zone: UTC"


def test_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    assert main(["plan", "larch-hillx2", "moss-lane", "--start", "23:00", "--gap", "9:00", "--loss", "15"]) == 0
    out = capsys.readouterr().out
    assert out.count("Larch Hill everyday") == 3
    assert "9:00 from each drop" in out
    assert main(["plan", "larch-hill"]) == 0
    assert "a guess: common practice, no source" in capsys.readouterr().out
    for bad in (
        ["larch-hillx0"], ["nothing"], ["larch-hillx99"], ["larch-hill", "--start", "25:00"],
        ["larch-hill", "--gap", "soon"], ["larch-hill", "--gap", "200:00"], ["larch-hill", "--loss", "nan"],
    ):  # fmt: skip
        assert main(["plan", *bad]) == 2, bad
        assert capsys.readouterr().err.count("\n") == 1
