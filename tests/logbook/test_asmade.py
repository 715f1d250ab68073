"""Forecasts as made then: what they rest on, what is kept of them, and the page that tells them."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers import example
from workshops import DEVELOPMENT, from_roasts, workshop

from coach.app.cli import main
from coach.cues.episodes import Episode
from coach.forecast.knowledge import Knowledge
from coach.forecast.learning import HISTORY, lesson
from coach.logbook.learning import cache as worked
from coach.logbook.learning import replays as asmade
from coach.logbook.learning.accuracy_text import text
from coach.logbook.learning.cache import ROWS, ResultCache, dump_lesson, load_lesson
from coach.logbook.learning.lessons import taught
from coach.logbook.learning.replays import REPLAY, PastForecasts, Replays, judgeable
from coach.logbook.learning.replays import past_forecasts as made_of
from coach.roast.entries import Header, Reading, Result
from coach.roast.profile import Profile
from coach.roast.roast import Numbered
from coach.roast.units import TemperatureUnit
from coach.session.journal import Journal, line_of
from coach.session.profile_files import dump_document
from coach.verification.advice_outcomes import AdviceOutcome, GivenAdvice
from coach.verification.aggregate import IssuedQuantiles, ScoredForecast
from coach.verification.hindcast import cases


@pytest.fixture(scope="module")
def place() -> tuple[Profile, list[Journal]]:
    found = workshop(DEVELOPMENT, 3, 7, 1)
    assert found is not None
    return found.profile, [Journal(d.header, d.entries) for d in found.earlier]


def past_forecasts(store: ResultCache, profile: Profile, roasts: list[Journal], most: int = 0) -> PastForecasts:
    return made_of(Replays(store, profile, roasts), range(len(roasts))[-most:])


@pytest.fixture(scope="module")
def made(place: tuple[Profile, list[Journal]]) -> PastForecasts:
    with ResultCache(None) as store:
        return past_forecasts(store, *place)


def test_each_roast_rests_on_those_before_it_alone(place: tuple[Profile, list[Journal]], made: PastForecasts) -> None:
    profile, roasts = place
    for i in (0, 3, len(roasts) - 1):
        e, before = roasts[i], [x.roast for x in roasts[:i]]
        knowledge = from_roasts(profile, before)
        alone = tuple(cases(profile, knowledge, e.header, e.entries, before))
        for a, b in zip(made.rows[i], alone, strict=True):
            assert (a.what, a.lead, a.happened) == (b.what, b.lead, b.happened)
            assert a.said is not None
            assert b.said is not None
            assert a.said.median == pytest.approx(b.said.median, abs=1e-6)


def test_what_is_kept_is_given_back(
    place: tuple[Profile, list[Journal]], made: PastForecasts, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    profile, roasts = place
    with ResultCache(tmp_path / "w.sqlite3") as store:
        assert past_forecasts(store, profile, roasts[:-1]).rows == made.rows[:-1]
    worked_out: list[Header] = []
    real = asmade.cases

    def counted(profile: Profile, knowledge: object, header: Header, *rest: Any, **more: Any) -> object:
        worked_out.append(header)
        return real(profile, knowledge, header, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(asmade, "cases", counted)
    with ResultCache(tmp_path / "w.sqlite3") as store:
        assert past_forecasts(store, profile, roasts) == made
    assert worked_out == [roasts[-1].header], "only the new roast"
    worked_out.clear()
    weighed = Numbered(900, Result(at=9000.0, cup_score=84.0))
    later = [Journal(e.header, (*e.entries, weighed)) for e in roasts]
    with ResultCache(tmp_path / "w.sqlite3") as store:
        assert past_forecasts(store, profile, later) == made
        assert worked_out == [], "a result typed days later changes no forecast"
        mended = Numbered(900, Reading(at=300.0, typed=9000.0, temperature=160.0))
        past_forecasts(store, profile, [Journal(roasts[0].header, (*roasts[0].entries, mended)), *roasts[1:]])
    assert len(worked_out) == len(roasts), "a reading added to the first: that one, and all that rest on it"


def test_the_newest_are_forecast_from_no_more_than_the_history(
    place: tuple[Profile, list[Journal]], made: PastForecasts, monkeypatch: pytest.MonkeyPatch
) -> None:
    profile, roasts = place
    with ResultCache(None) as store:
        assert past_forecasts(store, profile, roasts, 2).rows == made.rows[-2:]
        monkeypatch.setattr(asmade, "HISTORY", 3)
        short = past_forecasts(store, profile, roasts, 1).rows[0]
    e, before = roasts[-1], [x.roast for x in roasts[-4:-1]]
    knowledge = from_roasts(profile, before)
    assert short == tuple(cases(profile, knowledge, e.header, e.entries, before))
    assert HISTORY == 20


def test_a_program_or_profile_that_changes_begins_anew(
    place: tuple[Profile, list[Journal]], monkeypatch: pytest.MonkeyPatch
) -> None:
    profile, roasts = place
    sign = roasts[0].digest
    with ResultCache(None) as store:
        first = store.key("rows", profile, sign)
        assert store.key("rows", profile, sign) == first
        assert store.key("lesson", profile, sign) != first
        other = Profile(profile.document.model_copy(update={"safety": None, "name": "Another"}))
        assert store.key("rows", other, sign) != first
        advised = store.key("replay", profile, sign)
    monkeypatch.setattr(worked, "program", lambda: "another")
    with ResultCache(None) as store:
        assert store.key("replay", profile, sign) != advised
        assert store.key("rows", profile, sign) != first
    other_unit = roasts[0].header.model_copy(update={"unit": "F"})
    assert replace(roasts[0], header=other_unit).digest != sign


def test_bytes_hold_lessons_and_rows(place: tuple[Profile, list[Journal]], made: PastForecasts) -> None:
    profile, roasts = place
    x = lesson(profile, roasts[0].roast)
    y = load_lesson(dump_lesson(x))
    assert y is not None
    assert np.array_equal(x.log_w, y.log_w)
    assert dict(x.marks) == dict(y.marks)
    assert np.array_equal(x.rest.off, y.rest.off)
    assert load_lesson(dump_lesson(None)) is None
    silent = ScoredForecast("first crack", 180, None, 480.0, {"plan": 487.0})
    rows = (*made.rows[2], silent)
    assert ROWS.validate_json(ROWS.dump_json(rows)) == rows


def test_bytes_hold_cues_and_advice_even_with_no_end() -> None:
    given = GivenAdvice(300.0, "gas", 1.2, 1.2, 1.6, 310.0, 320.0, None, "crack", (1, 2, 3), (1, 2, math.inf), "", 0.1)
    judged = AdviceOutcome(given, "followed", share=1.0, delay=9.0, held_to=(1, 2, 3), as_said=True, came=2.5)
    cue = Episode("crack early", "alarm", "low", "crack early", 300.0, 330.0, (300.0,))
    replayed = ((cue,), (judged, AdviceOutcome(given, "replaced")))
    assert REPLAY.validate_json(REPLAY.dump_json(replayed)) == replayed


def test_an_answer_is_there_at_once_for_whoever_asks(tmp_path: Path) -> None:
    """A long computing in one window never keeps the other from what is known, nor from keeping its own."""
    with ResultCache(tmp_path / "w.sqlite3") as one, ResultCache(tmp_path / "w.sqlite3") as other:
        one.put("a", b"1")
        assert other.get("a") == b"1"
        other.put("b", b"2")
        assert one.get("b") == b"2"


def test_a_damaged_or_unwritable_store_costs_time_only(
    place: tuple[Profile, list[Journal]], made: PastForecasts, tmp_path: Path
) -> None:
    file = tmp_path / "w.sqlite3"
    file.write_bytes(b"this is no database, " * 400)
    with ResultCache(file) as store:
        store.put("a", b"1")
        assert store.get("a") == b"1"
    with ResultCache(file) as store:
        assert store.get("a") == b"1"
    (tmp_path / "file").write_text("")
    with ResultCache(tmp_path / "file" / "below" / "w.sqlite3") as store:
        assert past_forecasts(store, place[0], place[1][:2]).rows == made.rows[:2]


@pytest.mark.parametrize(("factor", "used"), [(1.1, False), (1.0, True)])
def test_learning_that_does_not_pay_is_put_aside_and_that_is_kept(
    place: tuple[Profile, list[Journal]], monkeypatch: pytest.MonkeyPatch, factor: float, used: bool
) -> None:
    profile, roasts = place
    asked: list[int] = []

    def forecast(_: Profile, known: Knowledge, *__: object, **___: object) -> list[ScoredForecast]:
        asked.append(known.count)
        said = IssuedQuantiles(480, 484, 487, 490, 494, crps=factor if known.count else 1.0)
        return [ScoredForecast("first crack", 90, said, 490.0, {})]

    monkeypatch.setattr("coach.logbook.learning.lessons.cases", forecast)
    with ResultCache(None) as store:
        for _ in range(2):
            assert taught(store, profile, roasts).count == (len(roasts) if used else 0)
            assert sorted(asked) == [*[0] * len(roasts), *[len(roasts) - 1] * len(roasts)]


@pytest.mark.parametrize("width", [60, 77, 110])
def test_the_page_fits_and_counts(made: PastForecasts, width: int) -> None:
    lines = text(made, width)
    assert max(map(len, lines)) <= width or width < 77
    head = " ".join(lines)
    n = len(made.rows)
    inside = sum(
        r.said.q10 <= r.happened <= r.said.q90
        for rows in made.rows for r in rows if r.what == "first crack" and r.lead == 90 and r.said is not None
    )  # fmt: skip
    assert f"{inside} of your last {n} first cracks" in head
    plot = [x for x in lines if "│" in x]
    assert sum(x.count("o") for x in plot) == inside
    assert sum(x.count("X") for x in plot) == n - inside
    assert all(x.isascii() for x in text(made, width, plain=True) if "|" in x)


def test_temperatures_are_missed_by_degrees_of_the_profile(made: PastForecasts) -> None:
    def deviations(unit: TemperatureUnit) -> list[float]:
        lines = text(made, 80, unit=unit)
        at = next(i for i, x in enumerate(lines) if x.startswith(f"drop temperature: mean error in °{unit}"))
        return [float(x.split()[3]) for x in lines[at + 2 : at + 5]]

    assert deviations("F") == pytest.approx([1.8 * x for x in deviations("C")], abs=0.15)


def test_a_miss_is_drawn_outside_its_range() -> None:
    def one(happened: float) -> tuple[ScoredForecast, ...]:
        return (
            ScoredForecast(
                "first crack",
                90,
                IssuedQuantiles(480, 484, 487, 490, 494, 3.0),
                happened,
                {"plan": 487.0, "straight line": 500.0},
            ),
        )

    rows = (one(487.0), one(530.0), one(482.0))
    plot = [x for x in text(PastForecasts(rows), 80) if "│" in x]
    assert "X" in plot[0], "far above"
    assert sum(x.count("o") for x in plot) == 2


def test_the_command_looks_at_the_own_logbook(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
    place: tuple[Profile, list[Journal]],
) -> None:  # fmt: skip
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))
    profile, roasts = place
    (tmp_path / "p.toml").write_text(dump_document(profile.document))
    assert main(["accuracy", str(tmp_path / "p.toml"), "--of", "forecasts"]) == 2
    folder = tmp_path / "home" / "roasts"
    folder.mkdir(parents=True)
    for i, e in enumerate(roasts[:3]):
        header = e.header.model_copy(
            update={
                "id": f"r{i}",
                "run": "live",
                "profile": profile.name,
                "started": f"2026-11-0{i + 1}T08:00:00+00:00",
            }
        )
        (folder / f"r{i}.jsonl").write_text(line_of(header) + "".join(line_of(n.entry) for n in e.entries))
    other = example().header.model_copy(update={"id": "o", "profile": "Another"})
    (folder / "o.jsonl").write_text(line_of(other) + "".join(line_of(n.entry) for n in example().entries))
    capsys.readouterr()
    assert main(["accuracy", str(tmp_path / "p.toml"), "--of", "forecasts", "--last", "20"]) == 0
    first = capsys.readouterr().out
    assert "of your last 3 first cracks" in first
    assert main(["accuracy", str(tmp_path / "p.toml"), "--of", "forecasts", "--last", "2"]) == 0
    assert "of your last 2 first cracks" in capsys.readouterr().out
    assert main(["accuracy", str(tmp_path / "p.toml"), "--of", "forecasts", "--last", "0"]) == 2


def test_a_roast_that_is_still_running_is_not_judged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, place: tuple[Profile, list[Journal]]
) -> None:
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))
    profile, found = place
    for i, e in enumerate(found[:2]):
        header = e.header.model_copy(
            update={"id": f"r{i}", "profile": profile.name, "started": f"2026-11-0{i + 1}T08:00:00+00:00"}
        )
        entries = [n.entry for n in e.entries if i == 0 or n.entry.came < 300.0]
        (tmp_path / f"r{i}.jsonl").write_text(line_of(header) + "".join(line_of(x) for x in entries))
    with ResultCache(None) as store:
        found, places = Replays.of(store, profile, tmp_path, wanted=judgeable)
        assert [found.roasts[i].path.name for i in places] == ["r0.jsonl"]
