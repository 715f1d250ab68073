"""Forecasts as made against what happened, on a person's own roasts."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from workshops import DEVELOPMENT, Workshop, workshop

from coach.app.cli import main
from coach.forecast.distribution import Distribution
from coach.forecast.knowledge import Knowledge
from coach.forecast.learning import Lesson, from_lessons, from_roasts, lesson
from coach.roast.entries import Reading
from coach.roast.profile import Profile
from coach.roast.roast import Numbered
from coach.session.journal import line_of
from coach.session.profile_files import dump_document
from coach.verification.aggregate import ScoredForecast, sentences, tally
from coach.verification.hindcast import LEARNING_LEADS, cases, from_the_others, learning_pays, plain


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


def test_a_roast_is_not_forecast_with_its_own_lesson() -> None:
    w = place()
    lessons = {i: lesson(w.profile, d.roast) for i, d in enumerate(w.earlier)}
    one = w.earlier[0]
    found = from_the_others(w.profile, one.header, one.entries, 0, lessons)
    others = from_roasts(w.profile, [d.roast for d in w.earlier[1:]])
    first = cases(w.profile, others, one.header, one.entries, crack_leads=LEARNING_LEADS, drop_leads=())
    for a, b in zip(first, found, strict=True):
        assert (a.what, a.lead, a.happened) == (b.what, b.lead, b.happened)
        assert a.said is not None
        assert b.said is not None
        assert a.said.median == pytest.approx(b.said.median, abs=1e-6)


def test_learning_is_put_aside_when_it_makes_forecasts_worse(monkeypatch: pytest.MonkeyPatch) -> None:
    w = place()
    lessons = {i: lesson(w.profile, d.roast) for i, d in enumerate(w.earlier)}
    failed: list[int] = []

    def pays() -> bool:
        return learning_pays(
            w.profile, [(d.header, d.entries) for d in w.earlier], lessons,
            lambda i: plain(w.profile, w.earlier[i].header, w.earlier[i].entries), lambda i, error: failed.append(i),
        )  # fmt: skip

    assert pays()

    def misled(profile: Profile, lessons: Sequence[Lesson]) -> Knowledge:
        knowledge = from_lessons(profile, lessons)
        crack = knowledge.thresholds["first crack"]
        return replace(knowledge, thresholds={"first crack": replace(crack, centre=crack.centre + 6.0)})

    monkeypatch.setattr("coach.verification.hindcast.from_lessons", misled)
    assert not pays()
    assert failed == []


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
