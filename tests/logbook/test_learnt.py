"""What roasts taught is said in words, and a roast that a person leaves out teaches nothing."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from helpers import EXAMPLE, example
from scipy import stats
from workshops import from_roasts

from coach.app.cli import main
from coach.forecast.event_threshold import Threshold
from coach.forecast.gas_answer import GasAnswer, per_unit
from coach.forecast.knowledge import DropHabit
from coach.forecast.learning import Lesson, from_profile, lesson
from coach.logbook.index.results import parse_results
from coach.logbook.learning.learnt_text import half_width, taught_by, text
from coach.logbook.learning.lessons import learn_from
from coach.logbook.learning.reviewed import gather
from coach.logbook.review.review_text import page as review_page
from coach.roast.entries import Result
from coach.roast.roast import Roast, effective, fold
from coach.session.profile_files import load_profile

PROFILE = load_profile("larch-hill")
ROAST = fold(example().header, effective(example().entries))


def test_the_half_width_is_that_of_the_student_t() -> None:
    t = Threshold(centre=197.0, scale=0.8, df=5.0, slope=0.0, rate_0=0.1, count=3)
    assert half_width(t) == pytest.approx(0.8 * stats.t.ppf(0.9, 5.0))


def test_the_page_says_where_marks_stood_and_stand() -> None:
    hotter = replace(ROAST, readings=tuple(replace(r, celsius=r.celsius + 2.0) for r in ROAST.readings))
    before, after = from_roasts(PROFILE, [ROAST]), from_roasts(PROFILE, [ROAST, hotter])
    lines = text(PROFILE, before, after, newest="2026-11-20", left_out=1, pays=True)
    assert max(len(line) for line in lines) <= 80
    page = " ".join(lines)
    assert "Learnt from 2 roasts" in page
    assert "1 left out" in page
    crack = next(line for line in lines if line.startswith("first crack"))
    was, now = (k.thresholds["first crack"] for k in (before, after))
    assert now.centre > was.centre + 0.3
    assert f"{was.centre:.1f} ±{half_width(was):.1f}" in crack
    assert f"{now.centre:.1f} ±{half_width(now):.1f}" in crack
    assert "Not used" not in page
    assert "Not used" in " ".join(text(PROFILE, before, after, newest="", left_out=0, pays=False))


def test_habits_are_said_where_they_were_learnt() -> None:
    k = replace(from_roasts(PROFILE, [ROAST]), drop=DropHabit(0.1, 0.9, 4.0, 208.2, 87.0))
    page = " ".join(" ".join(text(PROFILE, k, k, newest="", left_out=0, pays=True)).split())
    assert "Dropped by development: at 208.2 °C (scatter 0.9), 1:27 after crack (scatter 4 s)." in page


def test_what_one_roast_changed_in_a_sentence() -> None:
    before, after = from_profile(PROFILE), from_roasts(PROFILE, [ROAST])
    assert f"first crack at {after.thresholds['first crack'].centre:.1f}" in taught_by(PROFILE, before, after)
    assert taught_by(PROFILE, after, after) == ""
    crack = replace(after.thresholds["first crack"], count=after.thresholds["first crack"].count + 1)
    alike = replace(after, thresholds={**after.thresholds, "first crack": crack})
    assert taught_by(PROFILE, after, alike).startswith("It bears out what was learnt: first crack at 19")


def test_a_roast_that_is_left_out_teaches_nothing(tmp_path: Path) -> None:
    assert parse_results(["learn=no"]) == ({"learn": False}, [])
    out = replace(ROAST, result=Result(at=900.0, learn=False))
    assert from_roasts(PROFILE, [ROAST, out]).thresholds == from_roasts(PROFILE, [ROAST]).thresholds
    assert from_roasts(PROFILE, [out]).count == 0
    back = replace(out, result=Result(at=900.0, learn=True))
    assert from_roasts(PROFILE, [back]).count == 1


def test_leaving_out_and_taking_back_in_by_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    book = tmp_path / "book"
    book.mkdir()
    journal = book / "one.jsonl"
    shutil.copy(EXAMPLE, journal)
    (book / "two.jsonl").write_text(EXAMPLE.read_text().replace('"id": "', '"id": "another-', 1))
    assert main(["learnt", "larch-hill", "--logbook", str(book)]) == 0
    assert "Learnt from 2 roasts" in capsys.readouterr().out
    lines = journal.read_text(encoding="utf-8")
    assert main(["result", str(journal), "learn=no", "--logbook", str(book)]) == 0
    assert journal.read_text(encoding="utf-8").startswith(lines), "earlier lines stay as they are"
    assert learn_from(book, PROFILE).count == 1
    capsys.readouterr()
    assert main(["learnt", "larch-hill", "--logbook", str(book)]) == 0
    assert "Learnt from 1 roast of" in (said := capsys.readouterr().out)
    assert "1 left out" in said
    assert main(["result", str(journal), "learn=yes", "--logbook", str(book)]) == 0
    assert learn_from(book, PROFILE).count == 2
    assert main(["result", str(journal), "learn=maybe", "--logbook", str(book)]) != 0
    assert "learn=yes or learn=no" in capsys.readouterr().err


def test_the_review_says_what_the_roast_teaches(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    book = tmp_path / "book"
    book.mkdir()
    shutil.copy(EXAMPLE, book / "one.jsonl")
    found = gather(book / "one.jsonl", PROFILE, book)
    after = from_roasts(PROFILE, [ROAST]).thresholds["first crack"]
    assert f"first crack at {after.centre:.1f} ±{half_width(after):.1f} °C" in found.taught
    assert "It teaches" in " ".join(review_page(found, 80))
    assert main(["result", str(book / "one.jsonl"), "learn=no", "--logbook", str(book)]) == 0
    assert gather(book / "one.jsonl", PROFILE, book).taught == ""


def test_nothing_to_learn_from_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["learnt", "larch-hill", "--logbook", str(tmp_path)]) != 0
    assert "Roast first" in capsys.readouterr().err


def short(path: Path, seconds: float, started: str) -> None:
    """The example's journal, dropped ``seconds`` after its charge."""
    lines = EXAMPLE.read_text().splitlines()
    kept = [json.dumps({**json.loads(lines[0]), "id": path.stem, "started": started})]
    charge = next(e["at"] for e in map(json.loads, lines[1:]) if e.get("event") == "charge")
    kept += [x for x in lines[1:] if json.loads(x)["at"] < charge + seconds]
    kept += [json.dumps({"kind": "reading", "temperature": 215.0, "at": charge + 1.0})]
    kept += [json.dumps({"kind": "mark", "event": "drop", "at": charge + seconds})]
    path.write_text("\n".join(kept) + "\n")


@pytest.mark.parametrize("seconds", [124.0, 149.0])
def test_a_roast_that_ends_before_any_bean_can_crack_costs_the_others_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], seconds: float
) -> None:
    book = tmp_path / "book"
    book.mkdir()
    for n in range(6):  # from six roasts on it is checked whether learning pays
        lines = EXAMPLE.read_text().splitlines(keepends=True)
        header = {**json.loads(lines[0]), "id": f"r{n}", "started": f"2026-11-0{n + 1}T08:00:00+00:00"}
        (book / f"r{n}.jsonl").write_text(json.dumps(header) + "\n" + "".join(lines[1:]))
    short(book / "short.jsonl", seconds, "2026-11-09T08:00:00+00:00")
    assert main(["learnt", "larch-hill", "--logbook", str(book)]) == 0
    said = capsys.readouterr()
    assert "Learnt from 7 roasts" in said.out
    assert "left out" not in said.err


def test_one_roast_that_can_not_be_computed_is_named_and_left_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "book"
    book.mkdir()
    for n in range(3):
        lines = EXAMPLE.read_text().splitlines(keepends=True)
        header = {**json.loads(lines[0]), "id": f"r{n}", "started": f"2026-11-0{n + 1}T08:00:00+00:00"}
        (book / f"r{n}.jsonl").write_text(json.dumps(header) + "\n" + "".join(lines[1 : 40 + n]))

    def fails(profile: object, roast: Roast) -> Lesson:
        if roast.header.id == "r1":
            raise IndexError("of a kind that nobody thought of")
        return lesson(PROFILE, roast)

    monkeypatch.setattr("coach.logbook.learning.lessons.lesson", fails)
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))
    assert main(["learnt", "larch-hill", "--logbook", str(book)]) == 0
    said = capsys.readouterr()
    assert "Learnt from 2 roasts" in said.out
    assert said.err.count("r1: left out (a fault in the coach: IndexError") == 1


def test_moves_teach_of_the_gas_across_the_profiles_of_a_machine_and_are_said(tmp_path: Path) -> None:
    """A move of one's own on Brambleforge 1, by one profile: known by the machine's other profile, not by one
    of another machine, and the range of what the gas does is narrower."""
    lines = EXAMPLE.read_text().splitlines()
    move = json.dumps({"at": 300.0, "kind": "move", "control": "gas", "value": 1.2})
    after = next(i for i, line in enumerate(lines[1:], 1) if json.loads(line)["at"] > 300.0)
    (tmp_path / "one.jsonl").write_text("\n".join([*lines[:after], move, *lines[after:]]) + "\n")
    known = learn_from(tmp_path, load_profile("moss-lane"))
    assert known.gas.moves == 1
    assert learn_from(tmp_path, load_profile("alder-ford")).gas.moves == 0
    done = per_unit(np.array([180.0]))[:, 0]
    (low, high), (least, most) = (g.quantiles(done, (0.1, 0.9)) for g in (known.gas, GasAnswer.prior()))
    assert high - low < most - least
    said = " ".join(" ".join(text(PROFILE, known, known, newest="", left_out=0, pays=True)).split())
    assert re.search(
        r"Gas: 0\.\d kPa, 3 minutes before first crack, moves it by about \d+ s \(\d+-\d+\), half of that in the first "
        r"\d+ s; from 1 move besides the plan",
        said,
    ), said
