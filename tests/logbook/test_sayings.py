"""What was said during a roast is kept beside its journal, and is what trust goes by later."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from coach.app.live import LiveRoast
from coach.forecast.distribution import Distribution
from coach.forecast.forecast_values import EventForecast, Forecast
from coach.forecast.predictor import Outlook
from coach.logbook.learning import replays as asmade
from coach.logbook.learning.cache import ResultCache
from coach.logbook.learning.replays import PastForecasts, Replays
from coach.logbook.learning.replays import past_forecasts as made_of
from coach.roast.entries import Correction, Reading, Result
from coach.roast.profile import Profile
from coach.session.issued_forecasts import LEVELS, IssuedForecasts
from coach.session.journal import Journal, read_journal
from coach.verification.aggregate import crps
from coach.verification.hindcast import cases
from coach.verification.provenance import program
from coach.verification.roast_record import RoastRecord, issued, load_record, record_path
from tests.cues.test_ledger import PROFILE, shifted


def roasted(folder: Path, shift: float = -20.0, hour: int = 8, run: str = "live") -> LiveRoast:
    """A whole roast that runs some seconds ahead or behind, typed in and closed."""
    live = LiveRoast.open(
        PROFILE, folder, lambda: 0.0, started=datetime(2026, 11, 2, hour, tzinfo=UTC),
        run=run,  # type: ignore[arg-type]
    )  # fmt: skip
    at = 0.0
    for n in shifted(shift).entries:
        while at + 1 <= n.entry.came:
            at += 1.0
            live.coach.advance(at)
        live.enter(n.entry)
    live.close()
    return live


def past_forecasts(
    store: ResultCache, profile: Profile, roasts: list[Journal], said: dict[int, RoastRecord] | None = None,
) -> PastForecasts:  # fmt: skip
    found = Replays(store, profile, roasts)
    found.records = said or {}
    return made_of(found, range(len(roasts)))


@pytest.fixture(scope="module")
def live(tmp_path_factory: pytest.TempPathFactory) -> LiveRoast:
    return roasted(tmp_path_factory.mktemp("roasts"))


def test_a_closed_roast_has_what_was_said_beside_it(live: LiveRoast) -> None:
    kept, e = load_record(live.path), read_journal(live.path)
    assert kept is not None
    assert kept.basis == e.digest, "read back, it is the same roast"
    assert (kept.program, kept.profile_version, kept.learnt) == (program(), 1, 0)
    asked = cases(PROFILE, live.coach.knowledge, e.header, e.entries)
    assert [(r.what, r.lead) for r in kept.rows] == [(r.what, r.lead) for r in asked]
    said = 0
    for a, b in zip(kept.rows, asked, strict=True):
        assert a.happened == pytest.approx(b.happened, abs=1e-3)
        assert {**a.others} == {k: pytest.approx(v, abs=1e-3) for k, v in b.others.items() if k != "past roasts"}
        assert (a.said is None) == (b.said is None)
        if a.said is not None and b.said is not None:
            said += 1
            wide = b.said.q90 - b.said.q10
            assert a.said.median == pytest.approx(b.said.median, abs=0.02 * wide + 0.01), (
                "the same forecast, by its quantiles"
            )
    assert said >= 10


def test_what_stood_is_what_is_kept(live: LiveRoast) -> None:
    """Second by second the coach's own situation, looked at from outside, is what the sayings give."""
    from coach.session.coach import Coach

    coach, at = Coach(PROFILE, live.coach.header), 0.0
    seen: dict[float, float] = {}

    def look(at: float) -> None:
        crack = coach.situation.forecast.first_crack
        seen.pop(at, None)
        if crack is not None and coach.roast.charge_at is not None:
            seen[at] = coach.roast.charge_at + crack.time.median

    for n in live.coach.entries:
        while at + 1 <= n.entry.came:
            at += 1.0
            coach.advance(at)
            look(at)
        coach.receive(n.entry, n.line)
        look(n.entry.came)
    assert len(seen) > 300
    for at, median in seen.items():
        said = coach.issued.at(at)
        assert said is not None
        assert said.crack is not None
        assert said.crack.median == pytest.approx(median, abs=1e-6)


def test_quantiles_score_as_the_whole_distribution_does(live: LiveRoast) -> None:
    roast = live.coach.roast
    outlook = Outlook(PROFILE, live.coach.knowledge, roast.rounding)
    for t in (200.0, 300.0, 400.0):
        forecast = outlook.at(t, roast.until(t), asking=False)[1]
        assert forecast.first_crack is not None
        whole = forecast.first_crack.time
        thin = Distribution(np.interp(LEVELS, whole.p, whole.x), LEVELS)
        for happened in (roast.marks["first crack"], whole.q10, whole.q90 + 10):
            score = crps(whole, happened)
            assert crps(thin, happened) == pytest.approx(score, rel=0.02, abs=0.02)


def test_a_correction_does_not_change_what_was_said(live: LiveRoast) -> None:
    coach = deepcopy(live.coach)
    before = coach.issued.at((coach.roast.charge_at or 0) + 300.0)
    reading = next(n for n in coach.entries if isinstance(n.entry, Reading) and n.entry.at > 200)
    wrong = Correction(at=coach.at, of=reading.line, replace={"temperature": 150.0})
    coach.receive(wrong)
    assert coach.issued.at((coach.roast.charge_at or 0) + 300.0) is before


def test_nothing_stood_where_nothing_was_looked_at() -> None:
    line = Distribution(np.array([400.0, 500.0]), np.array([0.0, 1.0]))
    one = Forecast(first_crack=EventForecast(line, 200.0, None, None))
    sayings = IssuedForecasts()
    assert sayings.at(10.0) is None
    sayings.note(5.0, None, None, one)
    assert sayings.at(5.0) is None, "there is no roast time before charge"
    for at in (100.0, 101.0, 102.0):
        sayings.note(at, 20.0, None, one)
    sayings.note(300.0, 20.0, None, replace(one, reasons=("no reading",), first_crack=None))
    assert sayings.at(99.0) is None
    standing = sayings.at(103.9)
    assert standing is not None
    since_charge = standing.later(-20.0)
    assert since_charge.crack is not None
    assert since_charge.crack.median == pytest.approx(450.0)
    assert since_charge.drop is None
    assert since_charge.temperature is None
    assert (late := sayings.at(300.0)) is not None
    assert late.why == "no reading"
    assert sayings.at(110.0) is None, "the program stood still"
    late = sayings.at(300.0)
    assert late is not None
    assert late.crack is None


@pytest.mark.long
def test_of_a_roast_that_was_read_back_only_a_part_is_known(tmp_path: Path) -> None:
    path = roasted(tmp_path).path
    record_path(path).unlink()
    again = LiveRoast.resume(path, PROFILE)
    while again.coach.behind:
        again.coach.catch_up(60)
    again.close()
    assert not again.coach.issued.whole
    assert issued(again.coach) == []
    kept = load_record(path)
    assert kept is not None
    assert kept.rows == ()
    assert kept.heard, "which cues stood is known all the same"


@pytest.mark.long
def test_a_rehearsal_keeps_none(tmp_path: Path) -> None:
    assert not record_path(roasted(tmp_path, run="rehearsal").path).exists()


def test_a_file_that_is_none_is_passed_over(tmp_path: Path, live: LiveRoast) -> None:
    path = tmp_path / "r.jsonl"
    assert load_record(path) is None
    tea = '{"kind": "record", "program": "x", "basis": "y", "rows": [{"what": "tea"}]}'
    for text in ("", "{}", "[]", tea, '{"kind": "record", "version": 2}', "x" * 5_000_000):
        record_path(path).write_text(text)
        assert load_record(path) is None
    record_path(path).write_text(record_path(live.path).read_text().replace('"q10":', '"q10":1e999,"x":', 1))
    assert load_record(path) is None


# -- trust goes by it --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def three(live: LiveRoast, tmp_path_factory: pytest.TempPathFactory) -> list[LiveRoast]:
    folder = tmp_path_factory.mktemp("two")
    return [live, roasted(folder, 5.0, 9), roasted(folder, 15.0, 10)]


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, ...]]:
    asked: list[tuple[int, ...]] = []
    real = cases

    def counting(*given: object, **more: object) -> object:
        asked.append(tuple(more.get("crack_leads", ())))  # type: ignore[arg-type]
        return real(*given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(asmade, "cases", counting)
    monkeypatch.setattr("coach.verification.hindcast.cases", counting)
    return asked


def test_what_was_said_is_taken_and_nothing_worked_out_but_what_nobody_said(
    three: list[LiveRoast], counted: list[tuple[int, ...]]
) -> None:
    roasts, said = [read_journal(x.path) for x in three], {i: load_record(x.path) for i, x in enumerate(three)}
    given = {i: x for i, x in said.items() if x is not None}
    with ResultCache(None) as store:
        made = past_forecasts(store, PROFILE, roasts, given)
    assert (made.issued, made.older) == (3, 0)
    assert counted == []
    first = three[0].coach
    own = issued(first)
    assert [r.happened for r in made.rows[0]] == pytest.approx([r.happened for r in own], abs=1e-3)
    pairs = [(a.said, b.said) for a, b in zip(made.rows[0], own, strict=True)]
    assert all((a is None) == (b is None) for a, b in pairs)
    assert [a.q10 for a, _ in pairs if a] == pytest.approx([b.q10 for _, b in pairs if b], abs=1e-3)
    crack = next(r for r in made.rows[2] if (r.what, r.lead) == ("first crack", 90))
    cracks = [x.coach.roast.marks["first crack"] for x in three[:2]]
    assert crack.others["past roasts"] == pytest.approx(np.mean([*cracks, crack.others["plan"]]))


def test_the_mean_of_past_roasts_is_that_of_roasts_gone_through(three: list[LiveRoast]) -> None:
    roasts = [read_journal(x.path) for x in three]
    given = {i: x for i, live in enumerate(three) if (x := load_record(live.path)) is not None}
    with ResultCache(None) as store:
        said, anew = past_forecasts(store, PROFILE, roasts, given), past_forecasts(store, PROFILE, roasts)
    assert (said.issued, anew.issued) == (3, 0)
    for one, other in zip(said.rows, anew.rows, strict=True):
        for a, b in zip(one, other, strict=True):
            assert a.others["past roasts"] == pytest.approx(b.others["past roasts"], abs=2e-3), (a.what, a.lead)


def test_another_program_or_profile_says_what_was_said_all_the_same(
    three: list[LiveRoast], counted: list[tuple[int, ...]]
) -> None:
    roasts = [read_journal(x.path) for x in three]
    given = {i: x for i, live in enumerate(three) if (x := load_record(live.path)) is not None}
    other = Profile(PROFILE.document.model_copy(update={"note": "a new version", "version": 2}))
    with ResultCache(None) as store:
        before = past_forecasts(store, PROFILE, roasts, given)
        counted.clear()
        old = {i: x.model_copy(update={"program": "of last year"}) for i, x in given.items()}
        made = past_forecasts(store, other, roasts, old)
    assert counted == []
    assert (made.issued, made.older) == (3, 3)
    assert made.rows == before.rows


def test_a_journal_corrected_since_is_gone_through_once_more(
    three: list[LiveRoast], counted: list[tuple[int, ...]]
) -> None:
    roasts = [read_journal(x.path) for x in three]
    given = {i: x for i, live in enumerate(three) if (x := load_record(live.path)) is not None}
    last = roasts[2]
    line = last.entries[-1].line + 1
    weighed = replace(last.entries[-1], line=line, entry=Result(at=9000.0, cup_score=84.0))
    mended = replace(last.entries[-1], line=line, entry=Reading(at=290.0, typed=9000.0, temperature=160.0))
    with ResultCache(None) as store:
        roasts[2] = replace(last, entries=(*last.entries, weighed))
        assert past_forecasts(store, PROFILE, roasts, given).issued == 3, "a result changes nothing that was said"
        roasts[2] = replace(last, entries=(*last.entries, mended))
        counted.clear()
        made = past_forecasts(store, PROFILE, roasts, given)
    assert made.issued == 2
    assert len(made.rows) == 3
    assert () in counted
