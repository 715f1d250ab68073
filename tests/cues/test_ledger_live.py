"""A live roast keeps its cues beside its journal, and cues that were wrong too often are not sounded in the next."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from coach.app.live import LiveRoast
from coach.app.screens.desk import Desk
from coach.cues.episodes import Episode
from coach.roast.entries import Header, Mark, Note
from coach.session.journal import line_of
from coach.verification.roast_record import RoastRecord, load_record, record_path, save_record
from tests.cues.test_ledger import PROFILE, shifted


def roasted(folder: Path, run: str = "live") -> LiveRoast:
    """A whole roast that runs 45 s ahead, typed in."""
    live = LiveRoast.open(
        PROFILE,
        folder,
        lambda: 0.0,
        started=datetime(2026, 11, 2, 8, tzinfo=UTC),
        run=run,  # type: ignore[arg-type]
    )
    at = 0.0
    for n in shifted(-45.0).entries:
        while at + 1 <= n.entry.came:
            at += 1.0
            live.coach.advance(at)
        live.enter(n.entry)
    return live


def test_a_closed_roast_has_its_cues_beside_it(tmp_path: Path) -> None:
    live = roasted(tmp_path)
    live.close()
    kept = load_record(live.path)
    assert kept is not None
    assert kept.heard is not None
    heard = [(k.cue, k.sounds) for k in kept.heard if k.sounds]
    assert heard == [(e.cue, e.sounds) for e in live.coach.record.episodes if e.sounds]
    assert sorted(t for _, times in heard for t in times) == sorted(live.coach.heard.all)
    assert "crack early" in {name for name, _ in heard}


def test_closed_right_after_an_entry_it_has_its_cues_too(tmp_path: Path) -> None:
    live = roasted(tmp_path)
    at = live.coach.at
    live.enter(Note(at=at + 0.5, text="done"), most=0)
    assert live.coach.behind
    live.close()
    assert load_record(live.path) is not None


def test_a_rehearsal_and_a_roast_never_charged_keep_none(tmp_path: Path) -> None:
    practice = LiveRoast.open(PROFILE, tmp_path, lambda: 0.0, started=datetime.now(UTC), run="rehearsal")
    practice.enter(Mark(at=10.0, event="charge"))
    practice.close()
    idle = LiveRoast.open(PROFILE, tmp_path, lambda: 0.0, started=datetime.now(UTC), run="live")
    idle.close()
    assert list(tmp_path.glob("*.json")) == []


def test_a_folder_that_cannot_be_written_costs_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    live = LiveRoast.open(PROFILE, tmp_path, lambda: 0.0, started=datetime.now(UTC), run="live")
    live.enter(Mark(at=10.0, event="charge"))
    record_path(live.path).mkdir()
    live.close()


def past(folder: Path, number: int, cue: str, crack: float) -> None:
    """A finished roast in which one cue sounded at 4:00."""
    header = Header(
        id=f"past-{number}", profile=PROFILE.name, started=f"2026-10-{number + 1:02d}T08:00:00+00:00", run="live"
    )
    marks = [("charge", 0.0), ("yellow", 244.0), ("first crack", crack), ("drop", crack + 88)]
    lines = [line_of(header), *(line_of(Mark(at=60.0 + t, event=e)) for e, t in marks)]  # type: ignore[arg-type]
    path = folder / f"past-{number}.jsonl"
    path.write_text("".join(lines))
    save_record(path, RoastRecord(episodes=(Episode(cue, "alarm", "medium", "crack", 300.0, 330.0, (300.0,)),)))


@pytest.mark.parametrize(("right", "silent"), [(6, True), (7, False)])
def test_a_cue_that_was_wrong_too_often_is_not_sounded_next_time(tmp_path: Path, right: int, silent: bool) -> None:
    """Six or seven of ten 'crack early' came true."""
    for k in range(10):
        past(tmp_path, k, "crack early", 440.0 if k < right else 487.0)
    desk = Desk(PROFILE, tmp_path)
    assert desk.learn() == ""
    live = desk.open()
    live.close()
    assert dict(live.coach.demoted) == ({"crack early": "right 6 of the last 10 times"} if silent else {})


def test_without_a_logbook_everything_sounds(tmp_path: Path) -> None:
    desk = Desk(PROFILE, tmp_path / "none")
    assert desk.learn() == ""
    live = desk.open()
    assert not live.coach.demoted
    live.close()
