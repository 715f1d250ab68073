"""A small sample of the hostile user's random keys (``tests/bench/bench_hostile.py`` tries thousands)."""

from __future__ import annotations

import os

import pytest
from bench_hostile import try_out

from coach.app.screens import entryline
from coach.app.screens.entryline import EntryLine, Outcome, newest
from coach.session.coach import Coach

pytestmark = pytest.mark.sample


def test_random_keys_lose_nothing_and_agree() -> None:
    """COACH_HOSTILE in the environment: how many sequences (4)."""
    found = try_out(int(os.environ.get("COACH_HOSTILE", "4")), seed=3)
    assert found.keys > 20
    assert found.examples == {}


@pytest.mark.long
def test_the_oracle_sees_an_entry_that_vanishes_unnamed(monkeypatch: pytest.MonkeyPatch) -> None:
    def at_once(self: EntryLine, coach: Coach, now: float, at: float) -> Outcome:
        last = newest(coach)
        self._named = None if last is None else last.line
        return entryline.NOTHING if last is None else self._attempt(lambda: self._withdraw(coach, now))

    monkeypatch.setattr(EntryLine, "_backspace", at_once)
    assert "an entry vanished that was not named" in try_out(3, seed=5).found
