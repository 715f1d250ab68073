"""Forecasts as made against what happened, on a person's own roasts."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from workshops import DEVELOPMENT, Workshop, from_roasts, workshop

from coach.app.cli import main
from coach.forecast.distribution import Distribution
from coach.forecast.knowledge import Knowledge
from coach.forecast.learning import Lesson, from_lessons, lesson
from coach.logbook.learning.cache import ResultCache
from coach.logbook.learning.lessons import pays
from coach.roast.entries import Reading
from coach.roast.profile import Profile
from coach.roast.roast import Numbered
from coach.session.journal import Journal, line_of
from coach.session.profile_files import dump_document
from coach.verification.aggregate import ScoredForecast, sentences, tally
from coach.verification.hindcast import cases


@cache
def place() -> Workshop:
    found = workshop(DEVELOPMENT, 3, 7, 1)
    assert found is not None
    return found


def test_a_case_depends_on_nothing_that_came_in_later() -> None:
    """Cut off at a lead, the roast gives the same forecast as the whole one."""
    w, day = place(), place().live[0]
    knowledge = from_roasts(w.profile, [d.roast for d in w.earlier])
    crack, charge = day.roast.marks["first crack"], day.roast.charge_at or 0.0
    whole = {(c.what, c.lead): c for c in cases(w.profile, knowledge, day.header, day.entries)}
    spoilt = [
        replace(n, entry=Reading(at=n.entry.at, temperature=199.0))
        if isinstance(n.entry, Reading) and n.entry.came > charge + crack - 90
        else n
        for n in day.entries
    ]
    other = {(c.what, c.lead): c for c in cases(w.profile, knowledge, day.header, spoilt)}
    for lead in (180, 150, 120, 90):
        a, b = whole["first crack", lead].said, other["first crack", lead].said
        assert a is not None
        assert a == b
    a, b = whole["first crack", 30].said, other["first crack", 30].said
    assert a is None or a != b


def test_scores_of_cases_made_by_hand() -> None:
    said = Distribution(np.array([480.0, 500.0]), np.array([0.0, 1.0]))  # uniform: 10 % at 482, 90 % at 498
    others = dict.fromkeys(("plan", "past roasts", "lag", "straight line"), 500.0)
    table = tally(
        [
            ScoredForecast.of("first crack", 90, said, 490.0, others),
            ScoredForecast.of("first crack", 90, said, 499.0, others),
            ScoredForecast.of("first crack", 90, None, 499.0, others),
        ]
    )
    (row,) = table
    assert (row.n, row.silent) == (2, 1)
    assert row.mae == pytest.approx(4.5)
    assert row.bias == pytest.approx(-4.5)
    assert (row.in_80.hits, row.in_50.hits) == (1, 1)
    assert row.width_80 == pytest.approx(16.0)
    assert row.others["plan"] == pytest.approx(5.5)
    assert "Too few roasts to judge" in " ".join(sentences(table))


def test_lessons_add_up_in_any_order() -> None:
    w = place()
    lessons = [lesson(w.profile, d.roast) for d in w.earlier]
    one, other = from_lessons(w.profile, lessons), from_lessons(w.profile, lessons[::-1])
    assert np.allclose(one.bank.weights, other.bank.weights)
    assert one.thresholds["first crack"].centre == pytest.approx(other.thresholds["first crack"].centre)


def judged(lessons: dict[int, Lesson]) -> bool:
    w = place()
    with ResultCache(None) as cache:
        return pays(cache, w.profile, [Journal(d.header, d.entries) for d in w.earlier], lessons)


def test_learning_is_judged_with_each_roast_left_out_and_put_aside_when_it_makes_forecasts_worse(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    w = place()
    lessons = {i: lesson(w.profile, d.roast) for i, d in enumerate(w.earlier)}
    used: list[list[Lesson]] = []

    def misled(profile: Profile, lessons: Sequence[Lesson]) -> Knowledge:
        knowledge = from_lessons(profile, lessons)
        if not lessons:
            return knowledge
        used.append(list(lessons))
        crack = knowledge.thresholds["first crack"]
        return replace(knowledge, thresholds={"first crack": replace(crack, centre=crack.centre + 6.0)})

    assert judged(lessons)
    monkeypatch.setattr("coach.logbook.learning.lessons.from_lessons", misled)
    assert not judged(lessons)
    assert [[id(x) for x in xs] for xs in used] == [
        [id(x) for j, x in lessons.items() if j != i] for i in range(len(w.earlier))
    ]
    assert len(lessons) == len(w.earlier), "none failed"


def test_the_command_tells_counts_and_writes_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    w = place()
    (tmp_path / "p.toml").write_text(dump_document(w.profile.document))
    log = tmp_path / "log"
    log.mkdir()
    for i, d in enumerate(w.earlier):
        header = d.header.model_copy(update={"id": f"r{i}", "run": "live", "profile": w.profile.name})
        text = line_of(header) + "".join(line_of(n.entry) for n in d.entries if isinstance(n, Numbered))
        (log / f"r{i}.jsonl").write_text(text)
    assert main(["accuracy", str(tmp_path / "p.toml"), "--of", "forecasts", "--logbook", str(log)]) == 0
    said = capsys.readouterr().out
    assert f"of your last {len(w.earlier)} first cracks" in said
    assert "Too few roasts" in said
    assert main(["accuracy", str(tmp_path / "p.toml"), "--of", "forecasts", "--logbook", str(log), "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)
    assert {r["what"] for r in rows} == {"first crack", "drop time", "drop temperature"}


def test_the_command_says_when_there_is_nothing_to_judge(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["accuracy", "larch-hill", "--of", "forecasts", "--logbook", str(tmp_path)]) == 2
    assert "no finished roast" in capsys.readouterr().err
