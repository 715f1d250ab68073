"""The record of advice over a logbook: kept once worked out, a few anew before a roast, and what it comes to."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from helpers import EXAMPLE, ROOT, example

from coach.logbook.learning import replays
from coach.logbook.learning.replays import advice_of_roasts, advice_state
from coach.roast.profile import Profile
from coach.session.coach import Coach
from coach.session.journal import line_of
from coach.session.profile_files import load_profile
from coach.verification.advice_outcomes import AdviceOutcome, AdviceSeen, GivenAdvice
from coach.verification.advice_reliability import Trust

GIVEN = GivenAdvice(
    300.0, "gas", 0.8, 0.8, 1.2, 310.0, 340.0, 330.0, "crack", (470, 480, 490), (490, 500, 510), "", 0.1
)


@pytest.fixture
def profile() -> Profile:
    return load_profile(str(ROOT / "profiles" / "larch-hill.toml"))


def logbook(folder: Path, count: int) -> Path:
    """So many copies of the bundled roast, a day apart."""
    lines = EXAMPLE.read_text().splitlines()
    for day in range(count):
        header = example().header.model_copy(
            update={"id": f"r{day}", "started": f"2026-11-{day + 2:02d}T08:00:00+00:00"}
        )
        (folder / f"r{day}.jsonl").write_text("\n".join([line_of(header).rstrip(), *lines[1:]]) + "\n")
    return folder


def test_a_few_are_worked_out_at_once_and_kept(
    tmp_path: Path, profile: Profile, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))
    (tmp_path / "book").mkdir()
    folder = logbook(tmp_path / "book", 3)
    calls: list[str] = []
    found = (AdviceOutcome(GIVEN, "followed", 1.0, 9.0, (490, 500, 510), True, 505.0),)

    class Seen(AdviceSeen):
        def outcomes(self, coach: Coach) -> tuple[AdviceOutcome, ...]:
            calls.append(coach.header.id)
            return found

    monkeypatch.setattr("coach.logbook.learning.replays.AdviceSeen", Seen)
    assert [e.header.id for e, _ in advice_of_roasts(folder, profile, most=30, at_most=1)] == ["r2"]
    assert [e.header.id for e, _ in advice_of_roasts(folder, profile, most=30, at_most=0)] == ["r2"]
    assert [(e.header.id, told) for e, told in advice_of_roasts(folder, profile, most=30)] == [
        (f"r{i}", found) for i in range(3)
    ]
    assert sorted(calls) == ["r0", "r1", "r2"], "each once"
    assert advice_state(folder, profile) == Trust(3, 3, False)


def test_what_did_not_hold_is_withheld_and_an_empty_logbook_withholds_nothing(
    tmp_path: Path, profile: Profile, monkeypatch: pytest.MonkeyPatch
) -> None:
    inside = AdviceOutcome(GIVEN, "followed", 1.0, 9.0, (490, 500, 510), True, 505.0)
    outside = replace(inside, came=600.0)
    rows = [(None, (inside if i < 3 else outside,)) for i in range(10)]
    monkeypatch.setattr(replays, "advice_of_roasts", lambda *_, **__: rows)
    assert advice_state(tmp_path, profile).text == "advice withheld: 3 of your last 10 moves fell in the range given"
    monkeypatch.undo()
    assert advice_state(tmp_path / "nowhere", profile).text == ""
