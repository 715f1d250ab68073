"""A small sample of the hostile user's random keys (``tests/bench/bench_hostile.py`` tries thousands)."""

from __future__ import annotations

import os

import pytest
from bench_hostile import try_out

from coach.app.screens.entryline import EntryLine, Outcome, newest
from coach.roast.entries import Correction

pytestmark = pytest.mark.sample


def test_random_keys_lose_nothing_and_agree() -> None:
    """COACH_HOSTILE in the environment: how many sequences (4)."""
    found = try_out(int(os.environ.get("COACH_HOSTILE", "4")), seed=3)
    assert found.keys > 20
    assert found.examples == {}


@pytest.mark.long
def test_the_oracle_sees_an_entry_that_vanishes_unnamed(monkeypatch: pytest.MonkeyPatch) -> None:
    press = EntryLine.press

    def at_once(self: EntryLine, key: str, sign: str, now: float, at: float) -> Outcome:
        last = newest(self.coach)
        if key != "backspace" or last is None:
            return press(self, key, sign, now, at)
        return Outcome((Correction(at=now, of=last.line, replace=None),), "withdrawn")

    monkeypatch.setattr(EntryLine, "press", at_once)
    assert "an entry vanished that was not named" in try_out(3, seed=5).found
