"""Which roasts are unfinished, what may be done about them, and how a folder of journals is read."""

from __future__ import annotations

import json
import os
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from helpers import EXAMPLE

from coach.app.cli import main
from coach.app.live import LiveRoast
from coach.roast.errors import FileError
from coach.session.journal_folder import roasts
from coach.session.offers import RESUMABLE, Offer, choices
from coach.session.profile_files import load_profile
from coach.session.unfinished import unfinished

PROFILE = load_profile("larch-hill")


def journal(folder: Path, name: str, minutes: float, *entries: dict[str, Any], **header: Any) -> Path:
    """A journal of a roast that was opened so many minutes ago."""
    folder.mkdir(exist_ok=True, parents=True)
    started = (datetime.now(UTC) - timedelta(minutes=minutes)).isoformat()
    head = {"kind": "roast", "version": 1, "id": name, "profile": PROFILE.name, "started": started, **header}
    path = folder / f"{name}.jsonl"
    path.write_text("".join(json.dumps(x) + "\n" for x in (head, *entries)))
    return path


def mark(event: str, at: float) -> dict[str, Any]:
    return {"kind": "mark", "event": event, "at": at}


def reading(temperature: float, at: float) -> dict[str, Any]:
    return {"kind": "reading", "temperature": temperature, "at": at}


CHARGED = mark("charge", 5.0)
BY_MISTAKE = (CHARGED, reading(90.0, 60.0), mark("drop", 80.0), {"kind": "correction", "of": 4, "at": 82.0})


def test_a_drop_that_was_withdrawn_leaves_the_roast_unfinished(tmp_path: Path) -> None:
    path = journal(tmp_path, "running", 4.0, *BY_MISTAKE)
    journal(tmp_path, "older", 20.0, CHARGED)
    journal(tmp_path, "dropped", 2.0, CHARGED, mark("drop", 80.0))
    assert [o.path.stem for o in unfinished(tmp_path)] == ["running", "older"]
    again = LiveRoast.resume(path, PROFILE)
    assert again.coach.roast.phase == "drying"
    again.close()


def test_all_that_run_are_listed_newest_first_of_whatever_name_and_profile(tmp_path: Path) -> None:
    for n in range(60):  # finished ones that sort behind by name
        journal(tmp_path, f"z{n}", 30.0 + n, CHARGED, mark("drop", 80.0))
    journal(tmp_path, "a", 9.0, CHARGED)
    journal(tmp_path / "2026", "b", 5.0, CHARGED, profile="Another (invented)")
    journal(tmp_path, "c", 7.0, reading(180.0, 3.0))
    journal(tmp_path, "gone", 60.0 * 5, CHARGED)
    journal(tmp_path, "empty", 1.0)
    found = unfinished(tmp_path)
    assert [o.path.stem for o in found] == ["b", "c", "a"]
    assert [o.phase for o in found] == ["drying", "waiting", "drying"]
    assert [o.path.stem for o in unfinished(tmp_path, older=["gone.jsonl"])] == ["b", "c", "a", "gone"]


def test_an_abandoned_roast_is_closed_opened_again_and_takes_results(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    book = tmp_path / "roasts"
    finished = journal(book, "before", 90.0, CHARGED, mark("drop", 700.0))
    path = journal(book, "left", 4.0, CHARGED, reading(90.0, 60.0))
    assert main(["result", "last", "out=0.69"]) == 2
    assert "coach close left" in capsys.readouterr().err
    assert main(["close"]) == 2, "somebody may be at it"
    assert "in mid-roast (drying, last entry 0:55)) may be running. If it is over: coach close left --yes" in (
        capsys.readouterr().err
    )
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    for answer, left in (("", 1), ("no", 1), ("yes", 0)):
        monkeypatch.setattr("builtins.input", lambda answer=answer: answer)
        assert main(["close", "last"]) == 0
        assert len(unfinished(book)) == left
    assert "coach close left --undo" in capsys.readouterr().out
    assert unfinished(book) == ()
    assert main(["log", "last"]) == 0
    assert capsys.readouterr().out.startswith(finished.stem), "last is the newest that was not abandoned"
    assert main(["result", "left", "notes=scorched"]) == 0
    assert main(["log", "left"]) == 0
    assert "abandoned" in capsys.readouterr().out
    assert main(["close", "left"]) == 2
    assert main(["close", "left", "--undo"]) == 0
    assert [o.path for o in unfinished(book)] == [path]
    journal(book, "second", 6.0, CHARGED)
    capsys.readouterr()
    assert main(["close"]) == 2
    said = capsys.readouterr().err
    assert "left" in said
    assert "second" in said
    assert main(["close", "before"]) == 2, "a dropped roast is not closed"


def test_an_abandoned_roast_from_long_ago_can_be_closed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    journal(tmp_path / "roasts", "last-week", 60.0 * 24 * 8, CHARGED)
    assert main(["close"]) == 0
    assert main(["close"]) == 2


def offer(age: float, charged: bool = True, in_use: bool = False, name: str = "a") -> Offer:
    return Offer(Path(f"{name}.jsonl"), age, 3, charged, in_use, profile=PROFILE.name)


def test_what_may_be_done_before_a_roast() -> None:
    """Enter never begins a roast beside one that may be running, and nothing begins before it is known what runs."""

    def acts(*given: Offer, chosen: int = 0) -> dict[str, str]:
        return {c.key: c.act for c in choices(given, chosen, PROFILE.name)}

    assert choices(None) == ()
    assert acts() == {"enter": "begin"}
    assert acts(offer(60.0)) == {"enter": "go on", "n": "begin", "x": "close"}
    assert acts(offer(60.0, charged=False)) == {"enter": "go on", "n": "begin", "x": "close"}
    assert acts(offer(60.0, in_use=True)) == {"enter": "look on", "n": "begin"}
    assert acts(offer(RESUMABLE + 1)) == {"enter": "begin", "x": "close"}
    two = offer(60.0), offer(RESUMABLE + 1, name="b")
    assert acts(*two) == acts(*two, chosen=1) == {"enter": "go on", "n": "begin", "x": "close", "o": "choose"}
    said = {c.key: c for c in choices(two, 1)}
    assert (said["enter"].offer, said["x"].offer, said["o"].offer) == (two[0], two[1], two[0])


@pytest.mark.parametrize(("age", "charged"), [(60.0, True), (60.0, False), (RESUMABLE - 1, True)])
def test_what_could_harm_a_roast_that_runs_is_asked_twice(age: float, charged: bool) -> None:
    """Before charge too: after a crash somebody types on at once, and a note's n or x is not meant so."""
    asked = {c.key: bool(c.confirm) for c in choices([offer(age, charged)])}
    assert asked == {"enter": False, "n": True, "x": True}


# -- several coaches and files -----------------------------------------------------------------------------------------


def test_of_the_files_of_a_running_roast_the_one_in_use_counts_else_the_fullest(tmp_path: Path) -> None:
    roast = LiveRoast.open(PROFILE, tmp_path, lambda: 0.0, started=datetime.now(UTC), run="live")
    roast.enter(mark_entry("charge"))
    assert roast.scribe.wait(5.0)
    copy = tmp_path / "conflict copy.jsonl"
    shutil.copy(roast.path, copy)
    with copy.open("a") as file:
        file.writelines(json.dumps(reading(80.0 + n, 0.0)) + "\n" for n in range(3))
    (found,) = unfinished(tmp_path)
    assert (found.path, found.in_use, found.files) == (roast.path, True, 2)
    roast.close()
    (found,) = unfinished(tmp_path)
    assert (found.path, found.in_use, found.files) == (copy, False, 2)
    before = roast.path.read_bytes()
    again = LiveRoast.resume(found.path, PROFILE)
    again.enter(mark_entry("drop"))
    again.close()
    assert roast.path.read_bytes() == before, "the other file stays as it is"
    assert unfinished(tmp_path) == (), "the file that counts has its drop"
    copy.write_bytes(b"torn to pieces")
    (found,) = unfinished(tmp_path)
    assert found.path == roast.path, "the fullest that can be read"


def mark_entry(event: str) -> Any:
    from coach.roast.entries import Mark

    return Mark(at=0.0, event=event)  # type: ignore[arg-type]


def test_a_roast_of_another_computer_is_offered_with_a_word(tmp_path: Path) -> None:
    from coach.session.offers import described

    journal(tmp_path, "a", 4.0, CHARGED, boot="another start", uptime=3.0)
    (found,) = unfinished(tmp_path)
    assert found.elsewhere
    assert "close it there first" in described(found)


# -- one reader of a folder --------------------------------------------------------------------------------------------


def finished_roast(folder: Path, name: str, day: int, **header: Any) -> Path:
    lines = EXAMPLE.read_text().splitlines(keepends=True)
    head = {**json.loads(lines[0]), "id": name, "started": f"2026-11-{day:02d}T08:00:00+00:00", **header}
    folder.mkdir(exist_ok=True, parents=True)
    path = folder / f"{name}.jsonl"
    path.write_text(json.dumps(head) + "\n" + "".join(lines[1:]))
    return path


def broken(folder: Path) -> dict[str, str]:
    """One file of each broken kind: its name, and a part of what is said of it."""
    lines = EXAMPLE.read_text()
    (folder / "nonsense.jsonl").write_bytes(b"\x00\xff no journal")
    (folder / "empty.jsonl").write_text("")
    (folder / "no-time.jsonl").write_text(lines.replace('"started": "2', '"started": "the 2', 1))
    (folder / "dangling.jsonl").symlink_to(folder / "not there")
    (folder / "circle.jsonl").symlink_to(folder / "circle.jsonl")
    (folder / "folder.jsonl").mkdir()
    os.mkfifo(folder / "pipe.jsonl")
    return {
        "nonsense.jsonl": "not a text file", "empty.jsonl": "empty", "no-time.jsonl": "is no time",
        "dangling.jsonl": "nowhere", "circle.jsonl": "circle", "folder.jsonl": "a folder", "pipe.jsonl": "a pipe",
    }  # fmt: skip


COMMANDS = (
    ["log"], ["log", "last"], ["trend", "larch-hill"], ["brief", "larch-hill"], ["learnt", "larch-hill"],
    ["accuracy", "larch-hill", "--of", "cues"], ["accuracy", "larch-hill", "--of", "advice"], ["charge", "larch-hill"],
    ["accuracy", "larch-hill"], ["accuracy", "larch-hill", "--of", "cues"], ["review", "last"],
)  # fmt: skip


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_each_command_names_what_it_passes_over(
    tmp_path: Path, command: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    book = tmp_path / "roasts"
    finished_roast(book, "good", 2)
    kinds = broken(book)
    assert main(command) == 0
    err = capsys.readouterr().err.splitlines()
    for name, why in kinds.items():
        (line,) = [x for x in err if x.startswith(f"coach: {name}: passed over")]
        assert why in line


def test_one_rule_for_subfolders_copies_and_marks_before_the_first_sign(tmp_path: Path) -> None:
    finished_roast(tmp_path / "2026" / "11", "deep", 3)
    finished_roast(tmp_path / ".hidden", "hidden", 3)
    first = finished_roast(tmp_path, "first", 2)
    shutil.copy(first, tmp_path / "first (copy).jsonl")
    with first.open("a") as file:
        file.write(json.dumps({"kind": "note", "text": "fuller", "at": 900.0}) + "\n")
    marked = finished_roast(tmp_path, "marked", 4)
    marked.write_bytes(b"\xef\xbb\xbf" + marked.read_bytes())
    assert [r.path.name for r in roasts(tmp_path)] == ["first.jsonl", "deep.jsonl", "marked.jsonl"]
    assert [r.path.name for r in roasts(tmp_path, but=tmp_path / "first (copy).jsonl", most=1)] == ["marked.jsonl"]
    with pytest.raises(FileError, match="no folder"):
        roasts(tmp_path / "nowhere")


def test_roasts_are_ordered_by_the_moment_not_by_its_letters(tmp_path: Path) -> None:
    finished_roast(tmp_path, "later", 2, started="2026-11-02T08:00:00+00:00")
    finished_roast(tmp_path, "earlier", 2, started="2026-11-02T09:30:00+02:00")
    assert [r.header.id for r in roasts(tmp_path)] == ["earlier", "later"]
    assert [r.header.id for r in roasts(tmp_path, before="2026-11-02T07:45:00+00:00")] == ["earlier"]
