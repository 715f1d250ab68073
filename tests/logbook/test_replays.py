"""Two commands never disagree about the same roast, and none replays what another has replayed."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import pytest
from helpers import EXAMPLE, example

from coach.app.cli import main
from coach.cues.episodes import Episode
from coach.roast.entries import Reply, Result
from coach.session.journal import line_of
from coach.session.profile_files import dump_document, load_profile
from coach.verification.roast_record import RoastRecord, save_record

P = "larch-hill"


def logbook(folder: Path, count: int) -> Path:
    """The bundled roast a day apart, each a little slower from yellow on; no cues or forecasts beside them."""
    folder.mkdir()
    for day in range(count):
        lines = EXAMPLE.read_text().splitlines()[1:]
        header = {"id": f"r{day}", "started": f"2026-11-{day + 2:02d}T08:00:00+00:00"}
        entries = [json.loads(x) for x in lines]
        slow = 1.0 + 0.05 * day
        for e in entries:
            for k in ("at", "typed"):
                if k in e and e[k] > 300:
                    e[k] = round(300 + slow * (e[k] - 300), 1)
        text = line_of(example().header.model_copy(update=header)) + "".join(json.dumps(e) + "\n" for e in entries)
        (folder / f"r{day}.jsonl").write_text(text)
    return folder


@pytest.fixture
def ask(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Any:
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))

    def told(*words: str) -> Any:
        assert main([*words, "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    return told


def cues(lines: list[dict[str, Any]]) -> list[tuple[Any, ...]]:
    return [(c["cue"], round(c["when"], 3), c["outcome"], c["why"], c["heard"], c["reply"]) for c in lines]


def state(cache: Path) -> dict[str, tuple[int, int]]:
    return {p.name: (p.stat().st_mtime_ns, p.stat().st_size) for p in cache.iterdir()}


@pytest.mark.parametrize("before", [pytest.param(0, marks=pytest.mark.long), 1])
def test_review_and_accuracy_say_the_same_of_a_roast(tmp_path: Path, ask: Any, before: int) -> None:
    book = logbook(tmp_path / "book", before + 1)
    last = str(book / f"r{before}.jsonl")
    began = time.perf_counter()
    review = ask("review", last, "--logbook", str(book))
    first = time.perf_counter() - began
    assert (review["learnt_from"], len(review["cues"]) > 3) == (before, True)
    seen = state(tmp_path / "cache")
    began = time.perf_counter()
    one = ask("accuracy", P, "--roast", last, "--logbook", str(book))
    took = time.perf_counter() - began
    assert cues(one) == cues(review["cues"])
    assert took < first / 2, "nothing is replayed"
    if not before:  # else it looks at the earlier roasts as well
        advice = ask("accuracy", P, "--of", "advice", "--last", "1", "--logbook", str(book))
        given = [[a["given"]["text"] for a in told] for told in (advice["roasts"][0]["advised"], review["advised"])]
        assert given[0] == given[1]
    assert {k: v for k, v in state(tmp_path / "cache").items() if k in seen} == seen, "nothing new is kept"
    scores = ask("accuracy", P, "--of", "forecasts", "--last", "1", "--logbook", str(book))
    by = {(s["what"], s["lead"]): s["bias"] for s in scores}
    for f in review["forecasts"]:
        assert f["said"]["median"] - f["happened"] == pytest.approx(by[f["what"], f["lead"]], abs=1e-5)


@pytest.mark.long
def test_what_a_replay_rests_on_brings_another_and_what_it_does_not_rest_on_none(tmp_path: Path, ask: Any) -> None:
    book = logbook(tmp_path / "book", 2)
    last = book / "r1.jsonl"

    def kept() -> int:
        ask("accuracy", P, "--roast", str(last), "--logbook", str(book))
        import sqlite3

        (file,) = (tmp_path / "cache").glob("cache*")
        with sqlite3.connect(file) as db:
            return int(db.execute("SELECT COUNT(*) FROM cache").fetchone()[0])

    first = kept()
    with last.open("a") as journal:
        journal.write(line_of(Result(at=9000.0, cup_score=84.0)))
        journal.write(line_of(Reply(at=9001.0, cue="crack early", answer="false")))
    assert kept() == first, "a result or a word on a cue, days later, changes no cue that stood"
    (tmp_path / "home" / "settings.toml").write_text("[cadence]\ndrying = 60\nbrowning = 60\ndevelopment = 60\n")
    second = kept()
    assert second > first, "the person's own cadence is part of what the cues rest on"
    (book / "r0.jsonl").unlink()
    assert kept() > second, "and so are the earlier roasts"


def test_a_roast_is_judged_by_the_version_it_followed(tmp_path: Path, ask: Any) -> None:
    """What a newer version plans does not make a cue of then right or wrong."""
    book = logbook(tmp_path / "book", 1)
    lines = (book / "r0.jsonl").read_text().splitlines(keepends=True)
    lines[0] = json.dumps({**json.loads(lines[0]), "profile_version": 1}) + "\n"
    (book / "r0.jsonl").write_text("".join(lines))
    early = Episode("crack early", "alarm", "low", "crack early", 300.0, 330.0, (300.0,))
    save_record(book / "r0.jsonl", RoastRecord(episodes=(early,)))
    document = load_profile(P).document
    goals = [
        m.model_copy(update={"time": m.time + 60.0}) if m.event == "first crack" else m for m in document.milestones
    ]
    newer = tmp_path / "home" / "profiles" / "newer.toml"
    newer.parent.mkdir(parents=True)
    newer.write_text(dump_document(document.model_copy(update={"version": 2, "milestones": goals})))
    (review,) = ask("review", str(book / "r0.jsonl"), "--logbook", str(book))["cues"]
    (one,) = ask("accuracy", "newer", "--roast", str(book / "r0.jsonl"), "--logbook", str(book))
    assert (one["outcome"], one["why"]) == (review["outcome"], review["why"])
    (by_the_newer,) = ask("review", str(book / "r0.jsonl"), "--logbook", str(book), "--profile", "newer")["cues"]
    assert by_the_newer["outcome"] != review["outcome"], "unless a person asks for it"
