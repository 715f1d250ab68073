"""``coach accuracy --of cues`` over a small logbook."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from coach.app.cli import main
from coach.app.commands import accuracy
from coach.cues.episodes import Episode
from coach.logbook.learning.replays import pages, silenced
from coach.roast.entries import Header
from coach.session.coach import Coach
from coach.session.journal import line_of, read_journal
from coach.verification.replay import walk
from coach.verification.roast_record import RoastRecord, record_path, save_record
from tests.cues.test_ledger import PROFILE, ROOT, shifted


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three roasts, the middle one 45 s ahead; their cues kept, as a coach that ran them would."""
    folder = tmp_path_factory.mktemp("book")
    usual, ahead = shifted(0.0), shifted(-45.0)
    episodes = [walk(Coach(PROFILE, past.header), past.entries).record.episodes for past in (usual, ahead)]
    for i, (past, heard) in enumerate(((usual, episodes[0]), (ahead, episodes[1]), (usual, episodes[0]))):
        header = past.header.model_copy(update={"id": f"roast-{i}", "started": f"2026-11-0{i + 1}T08:00:00+00:00"})
        path = folder / f"roast-{i}.jsonl"
        path.write_text(line_of(header) + "".join(line_of(n.entry) for n in past.entries))
        save_record(path, RoastRecord(episodes=heard))
    return folder


@pytest.fixture
def own(book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))
    return Path(shutil.copytree(book, tmp_path / "book"))


def ledger(folder: Path, *more: str) -> int:
    return main(
        ["accuracy", str(ROOT / "profiles" / "larch-hill.toml"), "--of", "cues", "--logbook", str(folder), *more]
    )


def test_the_table(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert ledger(own) == 0
    out = capsys.readouterr().out
    assert "3 finished roasts" in out
    assert "Crack outside its window: 1 of 3 roasts, 1 of them warned of." in out
    assert ledger(own, "--json") == 0
    rows = {r["cue"]: r for r in json.loads(capsys.readouterr().out)}
    assert rows["crack early"]["right"] == rows["crack early"]["scored"] >= 1
    assert rows["drop near"]["lines"] == 3
    assert ledger(own, "--last", "1") == 0
    assert "1 finished roasts" in capsys.readouterr().out


def test_all_three_parts_are_one_answer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for part in ("forecasts", "cues", "advice"):
        monkeypatch.setattr(accuracy, part, lambda *_, part=part: ([part], [f"about {part}"]))
    words = ["accuracy", str(ROOT / "profiles" / "larch-hill.toml"), "--logbook", str(tmp_path)]
    assert main(words) == 0
    said = capsys.readouterr().out.split()
    assert said == ["FORECASTS", "about", "forecasts", "CUES", "about", "cues", "ADVICE", "about", "advice"]
    assert main([*words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {p: [p] for p in ("forecasts", "cues", "advice")}


def test_one_roast_and_the_persons_own_word(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert ledger(own, "--roast", str(own / "roast-1.jsonl")) == 0
    before = capsys.readouterr().out
    assert "crack early (low, heard" in before
    assert "useful: crack 7:22" in before
    assert ledger(own, "--roast", str(own / "roast-1.jsonl"), "--judge", "crack early", "false") == 0
    after = capsys.readouterr().out
    assert "false: your word" in after
    assert read_journal(own / "roast-1.jsonl").entries[-1].entry.answer == "false"  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--judge", "crack early", "false"], "needs a roast"),
        (["--roast", "roast-1", "--judge", "nothing", "false"], "No cue is called"),
        (["--roast", "roast-1", "--judge", "crack early", "great"], "is no outcome"),
        (["--roast", "roast-1", "--judge", "crack early", "false", "--time", "soon"], "is no time"),
        (["--last", "0"], "--last 0 is not possible"),
    ],
)
def test_refusals(own: Path, words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    journal = (own / "roast-1.jsonl").read_bytes()
    assert ledger(own, *words) == 2
    assert said in capsys.readouterr().err
    assert (own / "roast-1.jsonl").read_bytes() == journal


def test_a_roast_whose_cues_were_not_kept_is_gone_through_once(own: Path, tmp_path: Path) -> None:
    record_path(own / "roast-1.jsonl").unlink()
    assert [p.path.stem for p in pages(own, PROFILE, at_most=0)] == ["roast-0", "roast-2"]
    asked: list[int] = []
    found = pages(own, PROFILE, progress=lambda done, of: asked.append(done))
    assert (len(found), asked) == (3, [1, 2, 3])
    assert len(pages(own, PROFILE, at_most=0)) == 3  # kept in the cache now
    for file in (tmp_path / "cache").iterdir():
        file.write_text("torn")
    assert len(pages(own, PROFILE, at_most=0)) == 2


def test_other_profiles_rehearsals_and_broken_files_are_left_out(own: Path) -> None:
    (own / "torn.jsonl").write_text("{")
    header = Header(id="x", profile="another", started="2026-11-05T08:00:00+00:00")
    (own / "other.jsonl").write_text(line_of(header))
    (own / "practice.jsonl").write_text(
        line_of(header.model_copy(update={"profile": PROFILE.name, "run": "rehearsal"}))
    )
    record_path(own / "roast-0.jsonl").write_text("torn")
    assert [p.path.stem for p in pages(own, PROFILE, at_most=0)] == ["roast-1", "roast-2"]


def test_cues_that_nobody_knows_are_left_out(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    strange = Episode("\x1b[31mred", "alarm", "medium", "\x1b]0;title\x07text", 300.0, 310.0, (300.0,))
    known = Episode("too hot", "alarm", "low", "\x1b[2Jcleared", 300.0, 310.0, (300.0,))
    save_record(own / "roast-0.jsonl", RoastRecord(episodes=(strange, known)))
    assert ledger(own, "--roast", str(own / "roast-0.jsonl")) == 0
    assert ledger(own) == 0
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert "31m" not in out
    assert "cleared" in out


def test_without_a_logbook_nothing_is_silenced(tmp_path: Path) -> None:
    assert silenced(tmp_path / "nowhere", PROFILE) == {}
